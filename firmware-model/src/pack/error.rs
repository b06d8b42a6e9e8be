//! What can be wrong with a packed prop.

use core::fmt;

use super::MAX_CHANNEL_UA;
use crate::codec::DecodeError;

/// Why bytes are not a packed prop, or a preset in it cannot be had.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ReadError {
    /// Fewer bytes than the frame of a packed prop takes.
    TooShort {
        /// Bytes found.
        found: usize,
    },
    /// The first bytes are those of a single preset.
    SinglePreset,
    /// The first bytes are not [`MAGIC`](super::MAGIC).
    NotAPack,
    /// A version this crate does not read.
    Version {
        /// The version found.
        found: u8,
        /// The version supported.
        supported: u8,
    },
    /// The checksum does not match: the bytes are damaged.
    Crc {
        /// The checksum at the end of the bytes.
        stored: u32,
        /// The checksum of the bytes as they are.
        computed: u32,
    },
    /// The checksum holds but the body is not the data of a packed prop, or is followed by more.
    Body,
    /// A strip that cannot be.
    Strip {
        /// Its index.
        index: u16,
        /// What is wrong with it.
        fault: StripFault,
    },
    /// The strips have not as many pixels as the frame.
    Pixels {
        /// Pixels of the frame.
        frame: u16,
        /// Pixels of all strips.
        strips: u32,
    },
    /// There is no preset of that index.
    NoSuchPreset {
        /// The index asked for.
        index: u16,
        /// How many there are.
        presets: u16,
    },
    /// A preset's own bytes are not sound.
    Preset {
        /// Its index.
        index: u16,
        /// What is wrong with them.
        error: DecodeError,
    },
    /// A preset made for another frame.
    Misfit {
        /// Its index.
        index: u16,
    },
}

/// What is wrong with a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StripFault {
    /// It has no pixels.
    NoPixels,
    /// Its order does not name each channel once, or names a white that the frame has not.
    Order,
    /// A current above [`MAX_CHANNEL_UA`], or one of a white channel it has not.
    Current,
}

/// Why a packed prop could not be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum WriteError {
    /// The buffer is too small.
    NoRoom,
    /// More strips, presets or cue traces than a list can hold (65535).
    TooMany,
    /// What would be written could not be read again, for this reason.
    Invalid(ReadError),
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ReadError::TooShort { found } => {
                write!(f, "{found} bytes are too few for a packed prop")
            }
            ReadError::SinglePreset => {
                f.write_str("this is a single preset (LWPR), not a packed prop (LWPK)")
            }
            ReadError::NotAPack => f.write_str("not a packed prop: it does not start with LWPK"),
            ReadError::Version { found, supported } => write!(
                f,
                "a packed prop of version {found}, but only version {supported} is supported"
            ),
            ReadError::Crc { stored, computed } => write!(
                f,
                "damaged: the checksum is {stored:08x}, the bytes give {computed:08x}"
            ),
            ReadError::Body => f.write_str("the body is not the data of a packed prop"),
            ReadError::Strip { index, fault } => write!(f, "strip {index}: {fault}"),
            ReadError::Pixels { frame, strips } => write!(
                f,
                "the frame has {frame} pixels, but the strips have {strips}"
            ),
            ReadError::NoSuchPreset { index, presets } => write!(
                f,
                "there is no preset {index}, only {presets} (counted from 0)"
            ),
            ReadError::Preset { index, error } => write!(f, "preset {index}: {error}"),
            ReadError::Misfit { index } => {
                write!(f, "preset {index} is made for a frame of another shape")
            }
        }
    }
}

impl core::error::Error for ReadError {}

impl fmt::Display for StripFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StripFault::NoPixels => f.write_str("it has no pixels"),
            StripFault::Order => {
                f.write_str("its order must name each channel of its pixels and of the frame once")
            }
            StripFault::Current => write!(
                f,
                "a current is above {MAX_CHANNEL_UA} µA, or of a white channel it has not"
            ),
        }
    }
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            WriteError::NoRoom => f.write_str("the buffer is too small"),
            WriteError::TooMany => f.write_str("a list of more than 65535"),
            WriteError::Invalid(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for WriteError {}
