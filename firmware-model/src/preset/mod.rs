//! A preset: an effect as data.
//!
//! Places along a zone are [`Share`]s of its length, sizes are
//! [`Length`]s in pixel pitches, durations are milliseconds up to
//! [`MAX_DURATION_MS`]. A pixel stands at the middle of its own length: pixel `i` of `n` at
//! `(i + ½) / n` of the zone.

mod error;
mod layer;
mod look;
mod validate;
mod zone;

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

pub use error::{Fault, Place, PresetError};
pub use layer::{Blend, Edge, Envelope, Layer};
pub use look::{Direction, Mask, Origin, Paint, Placement, Shape, Side, Stop, Stops};
pub use zone::{Run, Zone};

use crate::color::Channels;
use crate::cue::CueKind;
use crate::curve::Transfer;
use crate::fixed::{Length, Share};

/// Most layers a preset can have.
pub const MAX_LAYERS: usize = 8;
/// Most zones a preset can have.
pub const MAX_ZONES: usize = 8;
/// Most runs a zone can have.
pub const MAX_RUNS: usize = 4;
/// Most colour stops of a paint.
pub const MAX_STOPS: usize = 8;
/// Longest name of a preset or zone, in bytes of UTF-8.
pub const MAX_NAME: usize = 32;
/// Most pixels in a frame.
pub const MAX_PIXELS: u16 = 4095;
/// Longest duration or period, in ms: one hour.
pub const MAX_DURATION_MS: u32 = 3_600_000;
/// Slowest and fastest frame rate, in Hz.
pub const FRAME_RATE_HZ: core::ops::RangeInclusive<u8> = 1..=250;
/// The frame rate of [`Preset::new`], in Hz.
pub const DEFAULT_FRAME_RATE_HZ: u8 = 60;

/// An effect as data. [`Preset::validate`] says whether it is sound.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Preset {
    /// Its name, up to [`MAX_NAME`] bytes, not empty.
    pub name: String<MAX_NAME>,
    /// Seed of everything that looks random.
    pub seed: u32,
    /// Pixels in a frame over all strips, 1..=[`MAX_PIXELS`].
    pub pixels: u16,
    /// Channels of each pixel.
    pub channels: Channels,
    /// Share of the common part of red, green and blue that is moved to the white channel of an
    /// RGBW pixel (see [`extract_white`](crate::color::extract_white)); of no effect on RGB pixels.
    pub white_extraction: Share,
    /// Frames a second, 1..=250. Frames may be asked for at any time; the rate sets the step of
    /// the dithering and what the frame scheduler aims at.
    pub frame_rate_hz: u8,
    /// What the values of colours, levels and envelopes mean.
    pub transfer: Transfer,
    /// Whether the rounding to 8 bits is spread over frames and pixels, so that levels between two
    /// drive levels appear on average.
    pub dither: bool,
    /// The way from dark to lit.
    pub rise: Transition,
    /// The way from lit to dark.
    pub fall: Transition,
    /// The cue that starts the rise while the prop is dark or falling.
    pub rise_on: CueKind,
    /// The cue that starts the fall while the prop is lit or rising; may be the same as `rise_on`.
    pub fall_on: CueKind,
    /// Where light can be put, 1 to [`MAX_ZONES`].
    pub zones: Vec<Zone, MAX_ZONES>,
    /// What is put there, up to [`MAX_LAYERS`], the lowest first.
    pub layers: Vec<Layer, MAX_LAYERS>,
}

/// The way between dark and lit, as a gain on the finished picture.
///
/// If the opposite cue comes on the way, the gain runs back the way it came, at the pace of the
/// transition that cue starts, so that the light never jumps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Transition {
    /// How long the whole way takes, in ms, 0..=[`MAX_DURATION_MS`].
    pub duration_ms: u32,
    /// How it looks.
    pub style: TransitionStyle,
    /// Its course in time.
    pub easing: Easing,
}

/// How a rise or a fall looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum TransitionStyle {
    /// All pixels together.
    Fade,
    /// Along every zone at once; a pixel in several zones follows the first of them.
    Sweep {
        /// Where the light comes from, and where it goes back to.
        from: Origin,
        /// Width of the soft edge.
        soft: Length,
    },
}

/// The course of a transition in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Easing {
    /// At a steady pace.
    #[default]
    Linear,
    /// Starting and ending gently.
    Smooth,
}

impl Preset {
    /// Nothing: no name, no pixels, no zones. Not sound, but a place to read a preset into (see
    /// [`codec::decode_into`](crate::codec::decode_into)).
    #[must_use]
    pub const fn empty() -> Self {
        let at_once = Transition {
            duration_ms: 0,
            style: TransitionStyle::Fade,
            easing: Easing::Linear,
        };
        Self {
            name: String::new(),
            seed: 0,
            pixels: 0,
            channels: Channels::Rgb,
            white_extraction: Share::NONE,
            frame_rate_hz: 0,
            transfer: Transfer::Linear,
            dither: false,
            rise: at_once,
            fall: at_once,
            rise_on: CueKind::ShortPress,
            fall_on: CueKind::ShortPress,
            zones: Vec::new(),
            layers: Vec::new(),
        }
    }

    /// A preset without layers: one zone over all `pixels`, a short press switches, rise and fall
    /// fade over 300 ms. A name too long is cut at [`MAX_NAME`] bytes.
    #[must_use]
    pub fn new(name: &str, pixels: u16, channels: Channels) -> Self {
        let fade = Transition {
            duration_ms: 300,
            style: TransitionStyle::Fade,
            easing: Easing::Linear,
        };
        let mut zones = Vec::new();
        // A fresh list has room for one.
        let _ = zones.push(Zone::whole("all", pixels));
        Self {
            name: zone::short_name(name),
            seed: 0,
            pixels,
            channels,
            white_extraction: Share::FULL,
            frame_rate_hz: DEFAULT_FRAME_RATE_HZ,
            transfer: Transfer::default(),
            dither: false,
            rise: fade,
            fall: fade,
            rise_on: CueKind::ShortPress,
            fall_on: CueKind::ShortPress,
            zones,
            layers: Vec::new(),
        }
    }

    /// Bytes in a frame: pixels times channels.
    #[must_use]
    pub const fn frame_len(&self) -> usize {
        self.pixels as usize * self.channels.count()
    }

    /// Checks every field.
    ///
    /// # Errors
    ///
    /// The first fault found, with the place and the field it is in.
    pub fn validate(&self) -> Result<(), PresetError> {
        validate::preset(self)
    }
}
