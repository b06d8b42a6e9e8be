//! Links the model without std, and keeps what a board would call, so that the object code can be
//! searched for what must not be in it.
#![no_std]

mod board;

use lampwright_model::pack::Pack;
use lampwright_model::{Cue, Engine, Millis};

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}

/// Reads a packed prop and its strips, decodes a preset, plays a cue and renders a frame; returns 0, or
/// the step that failed.
///
/// # Safety
///
/// `packed` and `out` must be valid for their lengths.
#[no_mangle]
pub unsafe extern "C" fn play(
    packed: *const u8,
    packed_len: usize,
    index: u16,
    now: u32,
    out: *mut u8,
    out_len: usize,
) -> u32 {
    let (bytes, out) = unsafe {
        (
            core::slice::from_raw_parts(packed, packed_len),
            core::slice::from_raw_parts_mut(out, out_len),
        )
    };
    let Ok(packed) = Pack::read(bytes) else {
        return 1;
    };
    let lit = |strip: lampwright_model::pack::StripData<'_>| strip.sent().count() > 0;
    if !packed.strips().all(lit) || packed.presets().any(|e| e.name.is_empty()) {
        return 4;
    }
    let mut preset = lampwright_model::Preset::empty();
    let Ok(()) = packed.preset_into(index, &mut preset) else {
        return 5;
    };
    let Ok(mut engine) = Engine::new(&preset) else {
        return 2;
    };
    engine.set_cap(packed.head().cap);
    engine.cue(Millis(now), Cue::ShortPress);
    match engine.render(Millis(now.wrapping_add(500)), out) {
        Ok(_) => 0,
        Err(_) => 3,
    }
}
