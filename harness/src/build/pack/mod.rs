//! Packed props: presets, cap, budget and figures of the parts as one file for the board, and back.
//!
//! The form is [`lampwright_model::pack`]'s. A preset comes back from it without loss, except for what
//! only a reader of its text has a use for: comments, `note`, and how a value was spelled.

mod constants;

pub use constants::rust_constants;

use super::diag::{InputError, InputErrors};
use super::preset::{write_preset, StripMap};
use lampwright_model::codec;
use lampwright_model::pack::{self, Head, Link, NewEntry, Pack, ReadError, StripData, WriteError};
use lampwright_model::{Channels, Preset};

/// Figures of the parts as whole numbers, for limiter and drivers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoardData {
    /// Supply at the board's terminals, in mV, below which it may fail; `None` where nothing is stated.
    pub brown_out_mv: Option<u16>,
    /// The strips in frame order.
    pub strips: Vec<PackedStrip>,
}

/// A strip of a packed prop. The fields are those of [`StripData`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedStrip {
    /// The name of its part in the build file.
    pub name: String,
    /// Number of pixels.
    pub pixels: u16,
    /// The order in which channels are sent.
    pub order: String,
    /// Stated current of each channel at full drive, in µA: red, green, blue, white.
    pub channel_ua: [u32; 4],
    /// Stated current of a pixel with every channel at zero, in µA.
    pub dark_ua: u32,
    /// How data reaches the pixels.
    pub link: Link,
}

/// A preset of a packed prop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedPreset {
    /// Name of its file, without the ending.
    pub name: String,
    /// The preset.
    pub preset: Preset,
    /// File names of the cue traces meant for it.
    pub cues: Vec<String>,
}

/// Everything that is packed for a board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedProp {
    /// Name of the prop.
    pub prop: String,
    /// The cap, 0..=255.
    pub cap: u8,
    /// The budget of a frame's estimated strip current, in µA; `None`: no budget.
    pub budget_ua: Option<u32>,
    /// Channels of each pixel of a frame.
    pub channels: Channels,
    /// Figures of the parts.
    pub board: BoardData,
    /// The presets.
    pub presets: Vec<PackedPreset>,
}

impl PackedProp {
    /// The file for the board.
    ///
    /// # Errors
    /// Something that the board could not read: a preset that is not sound or made for another frame, a
    /// strip without pixels or with more than 1 A a channel, more than 4095 pixels.
    pub fn to_bytes(&self) -> Result<Vec<u8>, WriteError> {
        let mut presets = Vec::new();
        for (index, preset) in (0..).zip(&self.presets) {
            let mut buffer = [0; codec::MAX_LEN];
            let bytes = codec::encode(&preset.preset, &mut buffer).map_err(|e| match e {
                codec::EncodeError::NoRoom => WriteError::NoRoom,
                codec::EncodeError::Invalid(error) => WriteError::Invalid(ReadError::Preset {
                    index,
                    error: codec::DecodeError::Invalid(error),
                }),
            })?;
            presets.push(bytes.to_vec());
        }
        let cues: Vec<Vec<&str>> = self.presets.iter().map(|p| texts(&p.cues)).collect();
        let entries: Vec<NewEntry<'_>> = (self.presets.iter().zip(&cues).zip(&presets))
            .map(|((preset, cues), bytes)| NewEntry {
                name: &preset.name,
                cues,
                preset: bytes,
            })
            .collect();
        let strips: Vec<StripData<'_>> = self.board.strips.iter().map(PackedStrip::data).collect();
        let mut out = vec![0; self.room()];
        let written = pack::write(&self.head(), &strips, &entries, &mut out)?.len();
        out.truncate(written);
        Ok(out)
    }

    /// Reads what [`to_bytes`](Self::to_bytes) wrote.
    ///
    /// # Errors
    /// The bytes are damaged, of another version, or no packed prop.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ReadError> {
        let packed = Pack::read(bytes)?;
        let head = packed.head();
        let mut presets = Vec::new();
        for (index, entry) in (0..).zip(packed.presets()) {
            presets.push(PackedPreset {
                name: entry.name.to_owned(),
                preset: packed.preset(index)?,
                cues: entry.cues().map(str::to_owned).collect(),
            });
        }
        Ok(Self {
            prop: head.prop.to_owned(),
            cap: head.cap,
            budget_ua: head.budget_ua,
            channels: head.channels,
            board: BoardData {
                brown_out_mv: head.brown_out_mv,
                strips: packed.strips().map(PackedStrip::of).collect(),
            },
            presets,
        })
    }

    /// The text of one of the presets, with its zones in the words of the strips.
    pub fn preset_text(&self, preset: &PackedPreset) -> String {
        write_preset(&preset.preset, &self.strip_map(), &preset.cues)
    }

    /// The strips the presets are written for.
    pub fn strip_map(&self) -> StripMap {
        let strips = self.board.strips.iter();
        let strips = strips.map(|s| (s.name.as_str(), u32::from(s.pixels)));
        StripMap::new(strips, self.channels)
    }

    /// Pixels in a frame.
    pub fn pixels(&self) -> u32 {
        self.strip_map().pixels
    }

    fn head(&self) -> Head<'_> {
        Head {
            prop: &self.prop,
            cap: self.cap,
            budget_ua: self.budget_ua,
            brown_out_mv: self.board.brown_out_mv,
            // One too large to count is refused against the strips.
            pixels: u16::try_from(self.pixels()).unwrap_or(0),
            channels: self.channels,
            strips: 0,
            presets: 0,
        }
    }

    /// More bytes than the file can take: every number at its longest.
    fn room(&self) -> usize {
        let strips = self.board.strips.iter();
        let strips = strips.map(|s| 80 + s.name.len() + s.order.len());
        let presets = self.presets.iter().map(|p| {
            let cues = p.cues.iter().map(|c| c.len() + 10);
            codec::MAX_LEN + p.name.len() + 30 + cues.sum::<usize>()
        });
        64 + self.prop.len() + strips.sum::<usize>() + presets.sum::<usize>()
    }
}

impl PackedStrip {
    /// As the board reads it.
    pub fn data(&self) -> StripData<'_> {
        StripData {
            name: &self.name,
            pixels: self.pixels,
            order: &self.order,
            channel_ua: self.channel_ua,
            dark_ua: self.dark_ua,
            link: self.link,
        }
    }

    fn of(data: StripData<'_>) -> Self {
        Self {
            name: data.name.to_owned(),
            pixels: data.pixels,
            order: data.order.to_owned(),
            channel_ua: data.channel_ua,
            dark_ua: data.dark_ua,
            link: data.link,
        }
    }
}

fn texts(list: &[String]) -> Vec<&str> {
    list.iter().map(String::as_str).collect()
}

/// Reads a packed prop from a file's bytes, with the faults in the words of a user.
///
/// # Errors
/// The bytes are damaged, of another version, or no packed prop; or a name in it is not one of a file.
pub fn read_packed(name: &str, bytes: &[u8]) -> Result<PackedProp, InputErrors> {
    let fail = |why: String, help: &str| {
        InputErrors::from(InputError::whole(format!("{name}: {why}")).help(help))
    };
    let packed = PackedProp::from_bytes(bytes).map_err(|e| fail(e.to_string(), mend(&e)))?;
    for (i, strip) in packed.board.strips.iter().enumerate() {
        // The zones of a preset's text speak of strips by name.
        let mut before = packed.board.strips.iter().take(i);
        if before.any(|s| s.name == strip.name) {
            let why = format!("there are two strips {:?}", strip.name);
            return Err(fail(why, "pack it again from the prop's folder"));
        }
    }
    check_names(&packed.presets)
        .map_err(|why| fail(why, "pack it again from the prop's folder"))?;
    Ok(packed)
}

/// Whether every preset's name can be the name of a file of its own.
///
/// # Errors
/// The first that cannot, in words.
pub fn check_names(presets: &[PackedPreset]) -> Result<(), String> {
    for (i, preset) in presets.iter().enumerate() {
        let name = &preset.name;
        if !is_file_name(name) {
            return Err(format!("preset {name:?} is not named as a file can be"));
        }
        if presets.iter().take(i).any(|p| p.name == *name) {
            return Err(format!("there are two presets {name:?}"));
        }
    }
    Ok(())
}

/// Whether a name is one of a file within a folder and nothing else.
fn is_file_name(name: &str) -> bool {
    let odd = |c: char| c.is_control() || c == '/' || c == '\\';
    !name.is_empty() && !name.starts_with('.') && !name.contains(odd)
}

fn mend(error: &ReadError) -> &'static str {
    match error {
        ReadError::TooShort { .. } | ReadError::NotAPack => {
            "name a file that `lampwright pack` wrote"
        }
        ReadError::SinglePreset => "name a file that `lampwright pack` wrote; a preset alone lacks the figures of the parts",
        ReadError::Version { found, supported } if found < supported => {
            "unpack it with the release that packed it, then pack it again"
        }
        ReadError::Version { .. } => "it was packed by a newer release: use that one",
        ReadError::Crc { .. } => "copy it again from where it came from, or pack it again",
        _ => "pack it again from the prop's folder",
    }
}
