//! The trait every engine shares, so that anyone's own can be put under the harness.

use crate::color::Channels;
use crate::cue::{Cue, TimedCue};
use crate::state::State;
use crate::time::Millis;

/// The shape of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Layout {
    /// Pixels in a frame, over all strips in the order of the data line.
    pub pixels: u16,
    /// Channels of each pixel.
    pub channels: Channels,
}

impl Layout {
    /// Bytes in a frame: pixels times channels.
    #[must_use]
    pub const fn frame_len(self) -> usize {
        self.pixels as usize * self.channels.count()
    }
}

/// The output buffer has not the length of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrameLength {
    /// Bytes in a frame.
    pub expected: usize,
    /// Bytes in the buffer.
    pub found: usize,
}

impl core::fmt::Display for FrameLength {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "a frame is {} bytes, the buffer {}",
            self.expected, self.found
        )
    }
}

impl core::error::Error for FrameLength {}

/// A set of layers by their index, 0..=7.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LayerSet(
    /// Bit `n` is layer `n`.
    pub u8,
);

impl LayerSet {
    /// Whether `layer` (0..=7) is in the set.
    #[must_use]
    pub const fn contains(self, layer: u8) -> bool {
        layer < 8 && self.0 >> layer & 1 == 1
    }

    /// Adds `layer`; an index above 7 changes nothing.
    pub fn insert(&mut self, layer: u8) {
        if layer < 8 {
            self.0 |= 1 << layer;
        }
    }

    /// The layers in the set, ascending.
    pub fn iter(self) -> impl Iterator<Item = u8> {
        (0..8).filter(move |layer| self.contains(*layer))
    }
}

/// Something that takes cues and gives frames: the engine of this crate, an engine of your own, a
/// recording.
///
/// Calls come in order of time. A cue at the time of a frame comes before the frame.
pub trait FrameSource {
    /// What can go wrong while a frame is made.
    type Error;

    /// The shape of the frames; it does not change.
    fn layout(&self) -> Layout;

    /// Takes a cue that came `at` that time.
    fn cue(&mut self, at: Millis, cue: Cue);

    /// Writes the frame for the time `at`: for each pixel its drive levels 0..=255 in the order
    /// R, G, B (, W), [`Layout::frame_len`] bytes in all.
    ///
    /// # Errors
    ///
    /// Whatever the source reports; for the engine of this crate a buffer of the wrong length.
    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, Self::Error>;

    /// Sets the cap, the upper bound on brightness, 0..=255. Returns whether the source can do
    /// that; one that cannot leaves it to its user to scale the frames.
    fn set_cap(&mut self, _cap: u8) -> bool {
        false
    }

    /// The layers that were active in the last frame; empty for a source without layers.
    fn active_layers(&self) -> LayerSet {
        LayerSet::default()
    }

    /// The last cue taken, if the source keeps it.
    fn last_cue(&self) -> Option<TimedCue> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layer_set_holds_what_was_put_in() {
        let mut set = LayerSet::default();
        set.insert(0);
        set.insert(7);
        set.insert(8);
        assert!(set.contains(0) && set.contains(7) && !set.contains(3) && !set.contains(8));
        assert!(set.iter().eq([0, 7]));
    }

    #[test]
    fn frame_length_counts_channels() {
        let layout = |channels| Layout {
            pixels: 96,
            channels,
        };
        assert_eq!(layout(Channels::Rgb).frame_len(), 288);
        assert_eq!(layout(Channels::Rgbw).frame_len(), 384);
    }
}
