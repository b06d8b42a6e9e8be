//! What can be wrong with a preset.

use core::fmt;

/// A fault in a preset, and where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PresetError {
    /// The part of the preset.
    pub place: Place,
    /// The field in that part, as it is spelled in the data types.
    pub field: &'static str,
    /// What is wrong with it.
    pub fault: Fault,
}

/// A part of a preset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Place {
    /// The preset itself.
    Preset,
    /// Its rise.
    Rise,
    /// Its fall.
    Fall,
    /// A zone by its index.
    Zone(u8),
    /// A layer by its index.
    Layer(u8),
}

/// What is wrong with a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// A number outside its range.
    OutOfRange {
        /// The number found.
        found: u32,
        /// The least allowed.
        min: u32,
        /// The most allowed.
        max: u32,
    },
    /// A name or a list without anything in it.
    Empty,
    /// A name that an earlier zone has too.
    NameTaken,
    /// A zone index beyond the last zone.
    NoSuchZone {
        /// The index found.
        found: u8,
        /// How many zones there are.
        zones: u8,
    },
    /// A run that goes past the last pixel.
    PastLastPixel {
        /// Index of the run in its zone.
        run: u8,
        /// The pixel after the run's last.
        end: u32,
        /// Pixels in the frame.
        pixels: u16,
    },
    /// A run that shares pixels with an earlier run of its zone.
    Overlap {
        /// Index of the run in its zone.
        run: u8,
    },
    /// A colour stop that lies before the one before it.
    OutOfOrder {
        /// Index of the stop.
        stop: u8,
    },
    /// A white value in a preset for RGB pixels, where it would be lost.
    NoWhiteChannel,
    /// A layer that starts in the dark, where nothing shows.
    NeverShows,
    /// Shares that together are more than everything.
    MoreThanFull {
        /// Their sum; full is 65535.
        sum: u32,
    },
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Preset => f.write_str("preset"),
            Place::Rise => f.write_str("rise"),
            Place::Fall => f.write_str("fall"),
            Place::Zone(index) => write!(f, "zone {index}"),
            Place::Layer(index) => write!(f, "layer {index}"),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::OutOfRange { found, min, max } => {
                write!(f, "{found} is outside {min} to {max}")
            }
            Fault::Empty => f.write_str("must not be empty"),
            Fault::NameTaken => f.write_str("an earlier zone has this name"),
            Fault::NoSuchZone { found, zones } => {
                write!(f, "there is no zone {found}, only {zones} (counted from 0)")
            }
            Fault::PastLastPixel { run, end, pixels } => {
                write!(
                    f,
                    "run {run} ends before pixel {end}, but there are {pixels}"
                )
            }
            Fault::Overlap { run } => {
                write!(f, "run {run} shares pixels with an earlier run of the zone")
            }
            Fault::OutOfOrder { stop } => {
                write!(f, "stop {stop} lies before the stop before it")
            }
            Fault::NoWhiteChannel => {
                f.write_str("white is set, but the pixels have no white channel")
            }
            Fault::NeverShows => f.write_str("a layer that starts on entering dark never shows"),
            Fault::MoreThanFull { sum } => {
                write!(f, "the shares add up to {sum}, more than 65535 (full)")
            }
        }
    }
}

impl fmt::Display for PresetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}: {}", self.place, self.field, self.fault)
    }
}

impl core::error::Error for PresetError {}
