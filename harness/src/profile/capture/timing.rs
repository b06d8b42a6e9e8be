//! What a data sheet allows on a data line, in the time steps of a capture.

use super::vcd::Timescale;
use crate::build::diag::{InputError, InputErrors};
use crate::build::parts::{DataTiming, PixelType};
use crate::build::rated::Rated;
use crate::units::Time;

/// A span of times, ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Shortest, in steps.
    pub low: u64,
    /// As chosen, in steps.
    pub nominal: u64,
    /// Longest, in steps.
    pub high: u64,
}

impl Window {
    /// Whether a time lies within.
    #[inline]
    pub fn holds(self, time: u64) -> bool {
        self.low <= time && time <= self.high
    }

    /// How far a time lies outside; 0 within.
    pub fn beyond(self, time: u64) -> u64 {
        self.low.saturating_sub(time) + time.saturating_sub(self.high)
    }
}

/// The four times of a bit and the reset of a one-wire line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OneWireTiming {
    /// High and low time of a 0 and of a 1: `high[0]`, `high[1]`, `low[0]`, `low[1]`.
    pub high: [Window; 2],
    /// Low times, likewise.
    pub low: [Window; 2],
    /// A low of at least so many steps ends a frame.
    pub reset: u64,
}

/// How a line's pulses are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineTiming {
    /// One wire.
    OneWire(OneWireTiming),
    /// Data and clock.
    Clocked {
        /// Shortest clock period, in steps.
        period: u64,
        /// Brightness that the pixel type's currents are stated for, 1 to 31.
        brightness: u8,
    },
}

/// Seconds in femtoseconds, to the nearest.
pub(super) fn femtoseconds(seconds: f64) -> u128 {
    // Times of a data sheet lie far below what a u128 or the mantissa holds.
    (seconds * 1e15).round().max(0.0) as u128
}

fn window(
    pixel: &PixelType,
    name: &str,
    time: &Rated<Time>,
    scale: Timescale,
) -> Result<Window, InputErrors> {
    if !time.has_spread() {
        let message = format!("pixel type \"{}\" states no limits for {name}", pixel.id);
        let help = format!(
            "write {name} = {{ value = \"{:.0} ns\", low = \"...\", high = \"...\" }} from the data sheet in its [timing]; without limits no pulse can be told",
            time.si() * 1e9
        );
        return Err(InputError::whole(message).help(help).into());
    }
    let window = Window {
        low: scale.steps_up(femtoseconds(time.low_si())),
        nominal: scale.steps_up(femtoseconds(time.si())),
        high: scale.steps_down(femtoseconds(time.high_si())),
    };
    if window.low > window.high {
        let message = format!(
            "a time step of {} is too coarse: {name} of \"{}\" may be {:.0} to {:.0} ns, and no whole number of steps lies between",
            scale.words(),
            pixel.id,
            time.low_si() * 1e9,
            time.high_si() * 1e9
        );
        let help = "capture at 20 MHz or more, and export with a time scale of 1 ns or finer";
        return Err(InputError::whole(message).help(help).into());
    }
    Ok(window)
}

impl LineTiming {
    /// The limits of a pixel type in steps; `reset` is the longest reset of all pixels on the line, in seconds.
    ///
    /// # Errors
    /// The type states no timing or no limits, or the capture's steps are too coarse for them.
    pub fn of(pixel: &PixelType, reset_s: f64, scale: Timescale) -> Result<Self, InputErrors> {
        match &pixel.timing {
            None => {
                let message = format!("pixel type \"{}\" states no timing", pixel.id);
                let help = "add a [timing] table from its data sheet; see the formats' section on pixel types";
                Err(InputError::whole(message).help(help).into())
            }
            Some(DataTiming::Clocked {
                clock_max,
                brightness,
            }) => Ok(Self::Clocked {
                period: scale.steps_down(femtoseconds(1.0 / clock_max.si())),
                brightness: *brightness,
            }),
            Some(DataTiming::OneWire {
                zero_high,
                zero_low,
                one_high,
                one_low,
                ..
            }) => {
                let of = |name: &str, time: &Rated<Time>| window(pixel, name, time, scale);
                Ok(Self::OneWire(OneWireTiming {
                    high: [of("zero-high", zero_high)?, of("one-high", one_high)?],
                    low: [of("zero-low", zero_low)?, of("one-low", one_low)?],
                    reset: scale.steps_up(femtoseconds(reset_s)),
                }))
            }
        }
    }
}
