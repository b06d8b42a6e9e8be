//! What a board puts around the engine: button, motion sensor, limiter, scheduler, driver. Each
//! entry point takes its input from outside, so that nothing can be worked out at build time.

use core::convert::Infallible;

use embedded_hal::digital::{ErrorType, InputPin};
use embedded_hal::spi::{self, SpiBus};
use lampwright_model::button::{Button, PressTiming};
use lampwright_model::driver::{show_rgb, show_rgbw, Order, PulseCode, PulseTimes, PulseWriter};
use lampwright_model::limiter::{cap_levels, Limiter, Limits, SagGuard, StripLoad};
use lampwright_model::motion::{Motion, MotionDetector};
use lampwright_model::scheduler::FrameGrid;
use lampwright_model::{Channels, Millis};
use smart_leds_trait::{RGB8, RGBW};

/// A pin that an outer function reads.
pub struct Pin(extern "C" fn() -> bool);

impl ErrorType for Pin {
    type Error = Infallible;
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok((self.0)())
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!(self.0)())
    }
}

/// A port that an outer function writes to.
pub struct Port(extern "C" fn(u8) -> bool);

impl spi::ErrorType for Port {
    type Error = spi::ErrorKind;
}

impl SpiBus for Port {
    fn read(&mut self, _: &mut [u8]) -> Result<(), spi::ErrorKind> {
        Err(spi::ErrorKind::Other)
    }
    fn write(&mut self, words: &[u8]) -> Result<(), spi::ErrorKind> {
        words
            .iter()
            .all(|word| (self.0)(*word))
            .then_some(())
            .ok_or(spi::ErrorKind::Overrun)
    }
    fn transfer(&mut self, _: &mut [u8], _: &[u8]) -> Result<(), spi::ErrorKind> {
        Err(spi::ErrorKind::Other)
    }
    fn transfer_in_place(&mut self, _: &mut [u8]) -> Result<(), spi::ErrorKind> {
        Err(spi::ErrorKind::Other)
    }
    fn flush(&mut self) -> Result<(), spi::ErrorKind> {
        Ok(())
    }
}

/// A new button in its place.
#[no_mangle]
pub extern "C" fn button_new(out: &mut Option<Button<Pin>>, pin: extern "C" fn() -> bool) {
    *out = Some(Button::new(
        Pin(pin),
        Default::default(),
        PressTiming::default(),
    ));
}

/// Polls a button; returns the kind of the cue, counted from 1.
#[no_mangle]
pub extern "C" fn button_poll(button: &mut Button<Pin>, now: u32) -> u32 {
    match button.poll(Millis(now)) {
        Ok(Some(cue)) => cue.kind() as u32 + 1,
        _ => 0,
    }
}

/// Takes a motion sample; returns how many cues it gave.
#[no_mangle]
pub extern "C" fn motion(detector: &mut MotionDetector, now: u32, sample: &[i16; 6]) -> usize {
    let [ax, ay, az, rx, ry, rz] = *sample;
    let motion = Motion {
        accel_mg: [ax, ay, az],
        rate_16th_dps: [rx, ry, rz],
    };
    detector.sample(Millis(now), motion).len()
}

/// Limits a frame; returns the scale.
///
/// # Safety
///
/// `strips` and `levels` must be valid for their lengths.
#[no_mangle]
pub unsafe extern "C" fn limit(
    strips: *const StripLoad,
    strip_count: usize,
    levels: *mut u8,
    len: usize,
    numbers: &[u32; 6],
) -> u32 {
    let (strips, levels) = unsafe {
        (
            core::slice::from_raw_parts(strips, strip_count),
            core::slice::from_raw_parts_mut(levels, len),
        )
    };
    let [budget, channels, brown_out, cell, now, cap] = *numbers;
    let limits = Limits {
        guard: Some(SagGuard::above(brown_out as u16)),
        ..Limits::budget(budget)
    };
    let mut limiter = Limiter::new(strips, channels as usize, limits);
    cap_levels(levels, cap as u8);
    limiter.apply(Millis(now), levels);
    limiter.cell_voltage(cell as u16);
    limiter
        .apply(Millis(now.wrapping_add(16)), levels)
        .scale
        .0
        .into()
}

/// Takes a frame from a grid; returns how late it was.
#[no_mangle]
pub extern "C" fn tick(grid: &mut FrameGrid, now: u32) -> u32 {
    let wait = grid.wait_ms(Millis(now));
    grid.take(Millis(now))
        .overrun
        .map_or(wait, |overrun| overrun.late_ms)
}

/// Sends a frame; returns 0, or the step that failed.
///
/// # Safety
///
/// `levels` must be valid for its length.
#[no_mangle]
pub unsafe extern "C" fn send(
    port: extern "C" fn(u8) -> bool,
    spi_hz: u32,
    order: &[u8; 4],
    white: bool,
    levels: *const u8,
    len: usize,
) -> u32 {
    let levels = unsafe { core::slice::from_raw_parts(levels, len) };
    let Ok(letters) = core::str::from_utf8(order) else {
        return 1;
    };
    let Some(order) = Order::parse(letters) else {
        return 2;
    };
    let Ok(code) = PulseCode::fit(&PulseTimes::WS2812B, spi_hz) else {
        return 3;
    };
    let sent = if white {
        let mut writer = PulseWriter::<_, RGBW<u8>>::new(Port(port), code, order);
        show_rgbw(&mut writer, levels, Channels::Rgbw)
    } else {
        let mut writer = PulseWriter::<_, RGB8>::new(Port(port), code, order);
        show_rgb(&mut writer, levels, Channels::Rgb)
    };
    u32::from(sent.is_err()) * 4
}
