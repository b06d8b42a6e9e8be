//! Counts instructions with the system timer: under `-icount shift=10` one instruction takes longer than a tick.

use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::peripheral::SYST;

/// Starts the counter over its whole 24 bits.
pub fn start(syst: &mut SYST) {
    syst.set_clock_source(SystClkSource::Core);
    syst.set_reload(0xff_ffff);
    syst.clear_current();
    syst.enable_counter();
}

/// Ticks that some work takes; it must take fewer than 2²⁴.
pub fn ticks<T>(work: impl FnOnce() -> T) -> (u32, T) {
    let before = read_timer();
    let result = work();
    // It counts down.
    (before.wrapping_sub(read_timer()) & 0xff_ffff, result)
}

/// Reads the timer; a function of its own with a name, so that a plugin of the emulator can follow.
#[no_mangle]
#[inline(never)]
extern "C" fn read_timer() -> u32 {
    SYST::get_current()
}
