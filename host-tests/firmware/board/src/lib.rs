//! What the images share: reading scenarios and setting them up, the counter, the end.
#![no_std]

use cortex_m as _;
use defmt_semihosting as _;

pub mod counter;
pub mod scenario;
pub mod stack;
pub mod stage;

use semihosting::process;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    process::exit(101)
}

/// Ends the emulation: 0 for `Ok`, otherwise the number of what failed.
pub fn end(result: Result<(), Failed>) -> ! {
    match result {
        Ok(()) => process::exit(0),
        Err(failed) => {
            defmt::error!("failed: {}", failed);
            process::exit(failed as i32 + 1)
        }
    }
}

/// What can fail in an image.
#[derive(Debug, Clone, Copy, PartialEq, Eq, defmt::Format)]
pub enum Failed {
    /// A file cannot be opened, read or written.
    File,
    /// The scenario is cut short or too large for the board.
    Scenario,
    /// The packed prop is not sound.
    Pack,
    /// The preset is not sound.
    Preset,
    /// The frame does not fit.
    Frame,
}
