//! Reading a packed prop where it lies.

use super::{Head, Link, ReadError, StripData, MAGIC, VERSION};
use crate::codec;
use crate::preset::{Preset, MAX_PIXELS};
use crate::wire::Reader;

/// A packed prop, read where its bytes lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pack<'a> {
    head: Head<'a>,
    strips: Strips<'a>,
    presets: Entries<'a>,
}

/// A preset in a packed prop, not yet decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Entry<'a> {
    /// Name of its file, without the ending.
    pub name: &'a str,
    /// Its bytes, for [`codec::decode`].
    pub preset: &'a [u8],
    cues: u16,
    cue_bytes: &'a [u8],
}

impl<'a> Pack<'a> {
    /// Checks the bytes and finds its way in them. Presets are not decoded here: see
    /// [`Pack::preset`].
    ///
    /// # Errors
    ///
    /// Anything that is not exactly one sound packed prop of this version; never a panic, whatever
    /// the bytes.
    pub fn read(bytes: &'a [u8]) -> Result<Self, ReadError> {
        let body = body(bytes)?;
        let mut reader = Reader::new(body);
        let head = head(&mut reader);
        let strips = Strips {
            bytes: reader.finish().ok_or(ReadError::Body)?,
            left: head.strips,
        };
        let presets = Entries {
            bytes: check_strips(&head, strips)?,
            left: head.presets,
        };
        let mut rest = presets;
        while rest.left > 0 {
            rest.next_entry().ok_or(ReadError::Body)?;
        }
        if !rest.bytes.is_empty() {
            return Err(ReadError::Body);
        }
        Ok(Self {
            head,
            strips,
            presets,
        })
    }

    /// What holds for the whole prop.
    #[must_use]
    pub const fn head(&self) -> &Head<'a> {
        &self.head
    }

    /// The strips in frame order.
    #[must_use]
    pub const fn strips(&self) -> Strips<'a> {
        self.strips
    }

    /// The presets, not decoded.
    #[must_use]
    pub const fn presets(&self) -> Entries<'a> {
        self.presets
    }

    /// Decodes a preset.
    ///
    /// # Errors
    ///
    /// There is none of that index, its bytes are not sound, or it is made for another frame.
    pub fn preset(&self, index: u16) -> Result<Preset, ReadError> {
        let mut preset = Preset::empty();
        self.preset_into(index, &mut preset)?;
        Ok(preset)
    }

    /// Decodes a preset into a place of its own (see [`codec::decode_into`]).
    ///
    /// # Errors
    ///
    /// As [`Pack::preset`]; what stands in `preset` is then of no meaning.
    pub fn preset_into(&self, index: u16, preset: &mut Preset) -> Result<(), ReadError> {
        let missing = ReadError::NoSuchPreset {
            index,
            presets: self.head.presets,
        };
        let entry = self.presets.nth_entry(index).ok_or(missing)?;
        codec::decode_into(entry.preset, preset)
            .map_err(|error| ReadError::Preset { index, error })?;
        if preset.pixels != self.head.pixels || preset.channels != self.head.channels {
            return Err(ReadError::Misfit { index });
        }
        Ok(())
    }
}

/// What stands between version and CRC.
fn body(bytes: &[u8]) -> Result<&[u8], ReadError> {
    let too_short = ReadError::TooShort { found: bytes.len() };
    let (magic, rest) = bytes.split_first_chunk::<4>().ok_or(too_short)?;
    if *magic == codec::MAGIC {
        return Err(ReadError::SinglePreset);
    }
    if *magic != MAGIC {
        return Err(ReadError::NotAPack);
    }
    let (version, rest) = rest.split_first().ok_or(too_short)?;
    if *version != VERSION {
        return Err(ReadError::Version {
            found: *version,
            supported: VERSION,
        });
    }
    let (body, crc) = rest.split_last_chunk::<4>().ok_or(too_short)?;
    let stored = u32::from_le_bytes(*crc);
    let (covered, _) = bytes.split_last_chunk::<4>().ok_or(too_short)?;
    let computed = codec::checksum(covered);
    if stored != computed {
        return Err(ReadError::Crc { stored, computed });
    }
    Ok(body)
}

/// Checks every strip against the head; returns the bytes after the strips.
fn check_strips<'a>(head: &Head<'a>, mut strips: Strips<'a>) -> Result<&'a [u8], ReadError> {
    let mut pixels = 0u32;
    for index in 0..head.strips {
        let strip = strips.next().ok_or(ReadError::Body)?;
        if let Some(fault) = strip.fault(head.channels) {
            return Err(ReadError::Strip { index, fault });
        }
        pixels = pixels.saturating_add(u32::from(strip.pixels));
    }
    if pixels != u32::from(head.pixels) || !(1..=MAX_PIXELS).contains(&head.pixels) {
        return Err(ReadError::Pixels {
            frame: head.pixels,
            strips: pixels,
        });
    }
    Ok(strips.bytes)
}

#[inline(never)]
fn head<'a>(from: &mut Reader<'a>) -> Head<'a> {
    Head {
        prop: from.text(),
        cap: from.u8(),
        budget_ua: from.option(Reader::u32),
        brown_out_mv: from.option(Reader::u16),
        pixels: from.u16(),
        channels: codec::channels(from),
        strips: from.u16(),
        presets: from.u16(),
    }
}

#[inline(never)]
fn strip<'a>(from: &mut Reader<'a>) -> StripData<'a> {
    StripData {
        name: from.text(),
        pixels: from.u16(),
        order: from.text(),
        channel_ua: [from.u32(), from.u32(), from.u32(), from.u32()],
        dark_ua: from.u32(),
        link: link(from),
    }
}

fn link(from: &mut Reader<'_>) -> Link {
    match from.variant() {
        0 => Link::Unknown,
        1 => Link::OneWire {
            zero_high_ns: from.u32(),
            zero_low_ns: from.u32(),
            one_high_ns: from.u32(),
            one_low_ns: from.u32(),
            reset_ns: from.u32(),
        },
        2 => Link::Clocked {
            clock_max_hz: from.u32(),
        },
        _ => {
            from.fail();
            Link::Unknown
        }
    }
}

/// The strips of a packed prop in frame order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Strips<'a> {
    bytes: &'a [u8],
    left: u16,
}

impl<'a> Iterator for Strips<'a> {
    type Item = StripData<'a>;

    fn next(&mut self) -> Option<StripData<'a>> {
        self.left = self.left.checked_sub(1)?;
        let mut reader = Reader::new(self.bytes);
        let strip = strip(&mut reader);
        self.bytes = reader.finish()?;
        Some(strip)
    }
}

/// The presets of a packed prop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entries<'a> {
    bytes: &'a [u8],
    left: u16,
}

impl<'a> Entries<'a> {
    fn next_entry(&mut self) -> Option<Entry<'a>> {
        self.left = self.left.checked_sub(1)?;
        let mut reader = Reader::new(self.bytes);
        let (name, cues, preset) = (reader.text(), reader.u16(), reader.bytes());
        let cue_bytes = reader.finish()?;
        for _ in 0..cues {
            reader.text();
            if !reader.is_sound() {
                break;
            }
        }
        self.bytes = reader.finish()?;
        Some(Entry {
            name,
            preset,
            cues,
            cue_bytes,
        })
    }

    fn nth_entry(mut self, index: u16) -> Option<Entry<'a>> {
        for _ in 0..index {
            self.next_entry()?;
        }
        self.next_entry()
    }
}

impl<'a> Iterator for Entries<'a> {
    type Item = Entry<'a>;

    fn next(&mut self) -> Option<Entry<'a>> {
        self.next_entry()
    }
}

impl<'a> Entry<'a> {
    /// File names of the cue traces meant for it; only the host has a use for them.
    pub fn cues(&self) -> impl Iterator<Item = &'a str> {
        let mut reader = Reader::new(self.cue_bytes);
        (0..self.cues).map_while(move |_| {
            let name = reader.text();
            reader.is_sound().then_some(name)
        })
    }
}
