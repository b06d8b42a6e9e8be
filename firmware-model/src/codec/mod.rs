//! The binary form of a preset: what is flashed.
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `LWPR` |
//! | 1 | version, [`VERSION`] |
//! | n | the preset in postcard's wire format |
//! | 4 | CRC-32 (ISO-HDLC, as in Ethernet and zip) over all bytes before it, little-endian |

mod read;

use core::fmt;

pub(crate) use read::channels;

use crate::preset::{Preset, PresetError};
use crate::wire::Reader;

/// The first bytes of a preset.
pub const MAGIC: [u8; 4] = *b"LWPR";
/// The version this crate writes and reads.
///
/// 1: first version.
pub const VERSION: u8 = 1;
/// No preset is longer than this, in bytes.
pub const MAX_LEN: usize = 2048;

/// Bytes before the body.
const HEAD_LEN: usize = 5;
/// Bytes after the body.
const CRC_LEN: usize = 4;

const CRC: crc::Crc<u32, crc::NoTable> = crc::Crc::<u32, crc::NoTable>::new(&crc::CRC_32_ISO_HDLC);

/// The checksum at the end of presets and packed props: CRC-32/ISO-HDLC.
#[must_use]
pub fn checksum(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// Why bytes are not a preset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum DecodeError {
    /// Fewer bytes than the frame of a preset takes.
    TooShort {
        /// Bytes found.
        found: usize,
    },
    /// The first bytes are not [`MAGIC`].
    NotAPreset,
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
    /// The checksum holds but the body is not the data of a preset, or is followed by more.
    Body,
    /// A preset, but not a sound one.
    Invalid(PresetError),
}

/// Why a preset could not be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EncodeError {
    /// The buffer is too small; [`MAX_LEN`] is always enough.
    NoRoom,
    /// The preset is not sound.
    Invalid(PresetError),
}

/// Writes the binary form of a preset into `out` and returns the part written.
///
/// # Errors
///
/// The preset is not sound, or the buffer too small.
pub fn encode<'b>(preset: &Preset, out: &'b mut [u8]) -> Result<&'b [u8], EncodeError> {
    preset.validate().map_err(EncodeError::Invalid)?;
    let (head, rest) = out
        .split_at_mut_checked(HEAD_LEN)
        .ok_or(EncodeError::NoRoom)?;
    let (magic, version) = head.split_at_mut(MAGIC.len());
    magic.copy_from_slice(&MAGIC);
    version.fill(VERSION);
    let body = postcard::to_slice(preset, rest).map_err(|_| EncodeError::NoRoom)?;
    let end = HEAD_LEN + body.len();
    let crc = CRC.checksum(out.get(..end).ok_or(EncodeError::NoRoom)?);
    let tail = out.get_mut(end..end + CRC_LEN).ok_or(EncodeError::NoRoom)?;
    tail.copy_from_slice(&crc.to_le_bytes());
    out.get(..end + CRC_LEN).ok_or(EncodeError::NoRoom)
}

/// Reads a preset from its binary form.
///
/// # Errors
///
/// Anything that is not exactly one sound preset of this version; never a panic, whatever the
/// bytes.
pub fn decode(bytes: &[u8]) -> Result<Preset, DecodeError> {
    let mut preset = Preset::empty();
    decode_into(bytes, &mut preset)?;
    Ok(preset)
}

/// Reads a preset from its binary form into a place of its own. A preset takes 1.8 kB: on a small
/// board that place is static, and this never holds a second one on the stack.
///
/// # Errors
///
/// As [`decode`]; what stands in `preset` is then of no meaning.
pub fn decode_into(bytes: &[u8], preset: &mut Preset) -> Result<(), DecodeError> {
    let too_short = DecodeError::TooShort { found: bytes.len() };
    let (magic, rest) = bytes.split_first_chunk::<4>().ok_or(too_short)?;
    if *magic != MAGIC {
        return Err(DecodeError::NotAPreset);
    }
    let (version, rest) = rest.split_first().ok_or(too_short)?;
    if *version != VERSION {
        return Err(DecodeError::Version {
            found: *version,
            supported: VERSION,
        });
    }
    let (body, crc) = rest.split_last_chunk::<CRC_LEN>().ok_or(too_short)?;
    let stored = u32::from_le_bytes(*crc);
    let covered = bytes.get(..HEAD_LEN + body.len()).ok_or(too_short)?;
    let computed = CRC.checksum(covered);
    if stored != computed {
        return Err(DecodeError::Crc { stored, computed });
    }
    let mut reader = Reader::new(body);
    read::preset(&mut reader, preset);
    if !reader.finish().is_some_and(<[u8]>::is_empty) {
        return Err(DecodeError::Body);
    }
    preset.validate().map_err(DecodeError::Invalid)
}

impl fmt::Display for DecodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DecodeError::TooShort { found } => {
                write!(f, "{found} bytes are too few for a preset")
            }
            DecodeError::NotAPreset => f.write_str("not a preset: it does not start with LWPR"),
            DecodeError::Version { found, supported } => write!(
                f,
                "a preset of version {found}, but only version {supported} is supported"
            ),
            DecodeError::Crc { stored, computed } => write!(
                f,
                "damaged: the checksum is {stored:08x}, the bytes give {computed:08x}"
            ),
            DecodeError::Body => f.write_str("the body is not the data of a preset"),
            DecodeError::Invalid(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for DecodeError {}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EncodeError::NoRoom => {
                write!(f, "the buffer is too small; {MAX_LEN} bytes are enough")
            }
            EncodeError::Invalid(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for EncodeError {}

#[cfg(test)]
mod tests;
