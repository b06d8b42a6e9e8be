//! Zones: the runs of pixels that layers light.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

use super::{MAX_NAME, MAX_RUNS};

/// A stretch of light made of runs of pixels. Positions go on from run to run, so a zone may go
/// over several strips, and a run laid the other way round is marked reversed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Zone {
    /// Its name, up to [`MAX_NAME`] bytes, not empty, unlike any other zone's.
    pub name: String<MAX_NAME>,
    /// Its runs in the order of their positions, 1 to [`MAX_RUNS`], none overlapping another.
    pub runs: Vec<Run, MAX_RUNS>,
}

/// Neighbouring pixels of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Run {
    /// First pixel, counted from 0 over all strips.
    pub start: u16,
    /// Number of pixels, 1 or more.
    pub len: u16,
    /// Whether the zone goes through this run from its last pixel to its first.
    pub reversed: bool,
}

impl Zone {
    /// A zone of one run from pixel 0. A name too long is cut at [`MAX_NAME`] bytes.
    #[must_use]
    pub fn whole(name: &str, pixels: u16) -> Self {
        let mut runs = Vec::new();
        // A fresh list has room for one.
        let _ = runs.push(Run {
            start: 0,
            len: pixels,
            reversed: false,
        });
        Self {
            name: short_name(name),
            runs,
        }
    }

    /// Number of pixels in all its runs.
    #[must_use]
    pub fn len(&self) -> u32 {
        self.runs.iter().map(|run| u32::from(run.len)).sum()
    }

    /// Whether it has no pixel.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl Run {
    /// The pixel after its last.
    #[must_use]
    pub const fn end(self) -> u32 {
        self.start as u32 + self.len as u32
    }
}

/// As much of a name as there is room for.
pub(super) fn short_name(name: &str) -> String<MAX_NAME> {
    let mut short = String::new();
    for character in name.chars() {
        if short.push(character).is_err() {
            break;
        }
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_is_cut_between_characters() {
        let name = short_name("éééééééééééééééééééé");
        assert_eq!(name.len(), 32);
        assert_eq!(short_name("crown"), "crown");
    }
}
