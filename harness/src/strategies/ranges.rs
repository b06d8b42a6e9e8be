//! How large what is drawn may be.

use lampwright_model::preset::{
    MAX_DURATION_MS, MAX_LAYERS, MAX_PIXELS, MAX_RUNS, MAX_STOPS, MAX_ZONES,
};
use lampwright_model::Length;

/// How large and how odd the presets are that the strategies draw. Every value is an upper bound;
/// small ones are always drawn too.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ranges {
    /// Most pixels in a frame, 1..=4095.
    pub pixels: u16,
    /// Whether RGBW frames are drawn beside RGB ones.
    pub white: bool,
    /// Longest duration or period, ms.
    pub longest_ms: u32,
    /// Largest size in pixel pitches, from one pixel.
    pub size: Length,
    /// Most layers.
    pub layers: usize,
    /// Most zones.
    pub zones: usize,
    /// Most runs of a zone.
    pub runs: usize,
    /// Most colour stops of a paint.
    pub stops: usize,
    /// Whether names hold whatever a text can hold, or are plain words.
    pub odd_names: bool,
    /// Most cues after the first.
    pub cues: usize,
    /// Longest wait between two cues, ms.
    pub wait_ms: u32,
}

impl Ranges {
    /// Small enough that all that a preset does can be seen within a few seconds of its time.
    #[must_use]
    pub const fn brief() -> Self {
        Self {
            pixels: 70,
            white: true,
            longest_ms: 1500,
            size: Length(1600),
            layers: 5,
            zones: 4,
            runs: MAX_RUNS,
            stops: MAX_STOPS,
            odd_names: false,
            cues: 12,
            wait_ms: 800,
        }
    }

    /// Everything that the form of a preset allows.
    #[must_use]
    pub const fn whole() -> Self {
        Self {
            pixels: MAX_PIXELS,
            white: true,
            longest_ms: MAX_DURATION_MS,
            size: Length(u16::MAX),
            layers: MAX_LAYERS,
            zones: MAX_ZONES,
            runs: MAX_RUNS,
            stops: MAX_STOPS,
            odd_names: true,
            cues: 12,
            wait_ms: MAX_DURATION_MS,
        }
    }
}

impl Default for Ranges {
    fn default() -> Self {
        Self::brief()
    }
}
