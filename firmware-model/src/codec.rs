//! The binary form of a preset: what is flashed.
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `LWPR` |
//! | 1 | version, [`VERSION`] |
//! | n | the preset in postcard's wire format |
//! | 4 | CRC-32 (ISO-HDLC, as in Ethernet and zip) over all bytes before it, little-endian |

use core::fmt;

use heapless::Vec;
use serde::Deserialize;

use crate::preset::{Preset, PresetError};

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
    let left = fill(preset, body).ok_or(DecodeError::Body)?;
    if !left.is_empty() {
        return Err(DecodeError::Body);
    }
    preset.validate().map_err(DecodeError::Invalid)
}

/// Reads a preset field by field, each list item by item, and returns the bytes behind it: that way
/// no more than one layer is ever on the stack. A struct in postcard's wire format is its fields in
/// their order, a list its length and its items.
fn fill<'b>(preset: &mut Preset, body: &'b [u8]) -> Option<&'b [u8]> {
    let mut rest = body;
    take(&mut preset.name, &mut rest)?;
    take(&mut preset.seed, &mut rest)?;
    take(&mut preset.pixels, &mut rest)?;
    take(&mut preset.channels, &mut rest)?;
    take(&mut preset.white_extraction, &mut rest)?;
    take(&mut preset.frame_rate_hz, &mut rest)?;
    take(&mut preset.transfer, &mut rest)?;
    take(&mut preset.dither, &mut rest)?;
    take(&mut preset.rise, &mut rest)?;
    take(&mut preset.fall, &mut rest)?;
    take(&mut preset.rise_on, &mut rest)?;
    take(&mut preset.fall_on, &mut rest)?;
    take_list(&mut preset.zones, &mut rest)?;
    take_list(&mut preset.layers, &mut rest)?;
    Some(rest)
}

#[inline(never)]
fn take<'b, T: Deserialize<'b>>(place: &mut T, rest: &mut &'b [u8]) -> Option<()> {
    (*place, *rest) = postcard::take_from_bytes(rest).ok()?;
    Some(())
}

#[inline(never)]
fn take_list<'b, T: Deserialize<'b>, const N: usize>(
    list: &mut Vec<T, N>,
    rest: &mut &'b [u8],
) -> Option<()> {
    let mut count = 0u32;
    take(&mut count, rest)?;
    list.clear();
    for _ in 0..count {
        let (item, behind) = postcard::take_from_bytes(rest).ok()?;
        list.push(item).ok()?;
        *rest = behind;
    }
    Some(())
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
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;
    use crate::color::{Channels, Color};
    use crate::cue::CueKind;
    use crate::fixed::{Length, Share};
    use crate::preset::{
        Blend, Direction, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Run, Stop,
    };
    use std::vec::Vec;

    fn bytes() -> Vec<u8> {
        let mut buffer = [0; MAX_LEN];
        encode(&Preset::new("lantern", 96, Channels::Rgb), &mut buffer)
            .unwrap()
            .to_vec()
    }

    /// Gives the bytes the checksum they need.
    fn sealed(mut bytes: Vec<u8>) -> Vec<u8> {
        let body = bytes.len() - CRC_LEN;
        let crc = CRC.checksum(&bytes[..body]).to_le_bytes();
        bytes[body..].copy_from_slice(&crc);
        bytes
    }

    #[test]
    fn the_checksum_is_the_standard_one() {
        // The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms
        // (G. Cook); from memory.
        assert_eq!(CRC.checksum(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn the_form_starts_and_ends_as_documented() {
        let bytes = bytes();
        assert_eq!(bytes[..5], *b"LWPR\x01");
        // Postcard: the name's length as a varint, then its bytes.
        assert_eq!(bytes[5..13], *b"\x07lantern");
        let (body, crc) = bytes.split_at(bytes.len() - 4);
        assert_eq!(CRC.checksum(body).to_le_bytes(), crc);
    }

    #[test]
    fn every_damage_has_its_own_reason() {
        let good = bytes();
        assert_eq!(decode(&[]), Err(DecodeError::TooShort { found: 0 }));
        assert_eq!(decode(&good[..8]), Err(DecodeError::TooShort { found: 8 }));
        assert_eq!(decode(b"PNG\0....."), Err(DecodeError::NotAPreset));

        let mut newer = good.clone();
        newer[4] = 2;
        let error = DecodeError::Version {
            found: 2,
            supported: VERSION,
        };
        assert_eq!(decode(&newer), Err(error));

        let mut damaged = good.clone();
        damaged[7] ^= 0x20;
        assert!(matches!(decode(&damaged), Err(DecodeError::Crc { .. })));

        let mut longer = good.clone();
        longer.push(0);
        assert_eq!(decode(&sealed(longer)), Err(DecodeError::Body));

        let mut unsound = good.clone();
        // The pixels, after the name and the one byte of seed 0.
        assert_eq!(unsound[14], 96);
        unsound[14] = 0;
        let decoded = decode(&sealed(unsound));
        assert!(matches!(decoded, Err(DecodeError::Invalid(e)) if e.field == "pixels"));
    }

    #[test]
    fn an_unsound_preset_is_not_written() {
        let preset = Preset::new("", 96, Channels::Rgb);
        let mut buffer = [0; MAX_LEN];
        let result = encode(&preset, &mut buffer);
        assert!(matches!(result, Err(EncodeError::Invalid(e)) if e.field == "name"));
    }

    #[test]
    fn too_small_a_buffer_is_an_error_at_every_size() {
        let whole = bytes().len();
        let preset = Preset::new("lantern", 96, Channels::Rgb);
        let mut buffer = [0; MAX_LEN];
        for len in 0..whole {
            let result = encode(&preset, &mut buffer[..len]);
            assert_eq!(result, Err(EncodeError::NoRoom), "{len}");
        }
        assert!(encode(&preset, &mut buffer[..whole]).is_ok());
    }

    /// The longest preset there is fits: every list full, every number at its longest.
    #[test]
    fn the_longest_preset_fits() {
        let color = Color::rgbw(65535, 65535, 65535, 65535);
        let stop = Stop {
            at: Share::FULL,
            color,
        };
        let hour = crate::preset::MAX_DURATION_MS;
        let layer = Layer {
            zone: 7,
            paint: Paint::Embers {
                stops: [stop; 8].into_iter().collect(),
                patch: Length(65535),
                kick_every_ms: hour,
                cooling: Share::FULL,
                base: Share::FULL,
                drift: i16::MIN,
            },
            mask: Mask::Spot {
                centre: Share::FULL,
                radius: Length(65535),
                soft: Length(65535),
                placement: Placement::ByCue,
            },
            envelope: Envelope::Adsr {
                attack_ms: hour,
                decay_ms: hour,
                sustain: Share::FULL,
                release_ms: hour,
            },
            blend: Blend::Multiply,
            opacity: Share::FULL,
            start: Edge::Cue(CueKind::Level),
            end: Some(Edge::Cue(CueKind::Level)),
            by_strength: true,
        };
        let mut preset = Preset::new("a name of no less than 32 bytes!", 4095, Channels::Rgbw);
        assert_eq!(preset.name.len(), crate::preset::MAX_NAME);
        preset.seed = u32::MAX;
        preset.frame_rate_hz = 250;
        for transition in [&mut preset.rise, &mut preset.fall] {
            transition.duration_ms = hour;
            transition.style = crate::preset::TransitionStyle::Sweep {
                from: Origin::Centre,
                soft: Length(65535),
            };
        }
        let mut zone = preset.zones[0].clone();
        let run = |start| Run {
            start,
            len: 400,
            reversed: true,
        };
        zone.runs = [2000, 2500, 3000, 3500].map(run).into_iter().collect();
        preset.zones.clear();
        for letter in b'a'..=b'h' {
            let mut zone = zone.clone();
            zone.name.clear();
            for _ in 0..32 {
                zone.name.push(char::from(letter)).unwrap();
            }
            preset.zones.push(zone).unwrap();
        }
        preset.layers = core::iter::repeat_n(layer.clone(), 8).collect();
        let mut buffer = [0; MAX_LEN];
        let longest = encode(&preset, &mut buffer).unwrap().len();
        // A layer with the longest mask, a front, and the longest paint after embers.
        for layer in &mut preset.layers {
            layer.mask = Mask::Front {
                from: Origin::Centre,
                duration_ms: hour,
                soft: Length(65535),
                returning: true,
            };
        }
        let mut buffer = [0; MAX_LEN];
        let with_fronts = encode(&preset, &mut buffer).unwrap().len();
        assert!(with_fronts <= longest && longest <= MAX_LEN);
        std::println!("longest preset: {longest} bytes");
        // Gradients and noise are shorter than embers with the same stops.
        let stops = core::iter::repeat_n(stop, 8).collect();
        preset.layers[0].paint = Paint::Gradient {
            stops,
            scroll_ms: hour,
            direction: Direction::TowardsStart,
        };
        assert!(encode(&preset, &mut buffer).unwrap().len() <= with_fronts);
    }
}
