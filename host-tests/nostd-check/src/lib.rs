//! Links the model without std, and keeps what a board would call, so that the object code can be
//! searched for what must not be in it.
#![no_std]

mod board;

use lampwright_model::{codec, Cue, Engine, Millis};

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}

/// Decodes a preset, plays a cue and renders a frame; returns 0, or the step that failed.
///
/// # Safety
///
/// `preset` and `out` must be valid for their lengths.
#[no_mangle]
pub unsafe extern "C" fn play(
    preset: *const u8,
    preset_len: usize,
    now: u32,
    cap: u8,
    out: *mut u8,
    out_len: usize,
) -> u32 {
    let (bytes, out) = unsafe {
        (
            core::slice::from_raw_parts(preset, preset_len),
            core::slice::from_raw_parts_mut(out, out_len),
        )
    };
    let Ok(preset) = codec::decode(bytes) else {
        return 1;
    };
    let Ok(mut engine) = Engine::new(&preset) else {
        return 2;
    };
    engine.set_cap(cap);
    engine.cue(Millis(now), Cue::ShortPress);
    match engine.render(Millis(now.wrapping_add(500)), out) {
        Ok(_) => 0,
        Err(_) => 3,
    }
}
