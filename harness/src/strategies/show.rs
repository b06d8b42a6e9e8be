//! A preset with a cue trace for it, printed as the files one would paste it into.

use super::cues::{bare_cue, cue_file, steps, trace_of, Cues};
use super::presets::preset;
use super::Ranges;
use crate::build::cues::write_cues;
use crate::build::preset::{write_preset, StripMap};
use lampwright_model::{Layout, Preset};
use proptest::prelude::*;
use std::fmt;

/// A preset with a cue trace for it. Its debug form is the text of both files, so that what a failed
/// property shrank to can be pasted and played.
#[derive(Clone, PartialEq)]
pub struct Show {
    /// The preset.
    pub preset: Preset,
    /// The cues, the first of them the one that makes the preset rise, at time 0.
    pub cues: Cues,
}

impl fmt::Debug for Show {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let trace = cue_file("show", &self.cues, 1000);
        write!(
            f,
            "\n# presets/show.toml, for {} pixels\n{}\n# cues/show.csv\n{}",
            self.preset.pixels,
            preset_toml(&self.preset),
            write_cues(&trace)
        )
    }
}

/// A preset with a cue trace for it.
pub fn show(ranges: &Ranges) -> impl Strategy<Value = Show> {
    (preset(ranges), steps(ranges)).prop_map(|(preset, steps)| Show {
        cues: trace_of(&steps, bare_cue(preset.rise_on), bare_cue(preset.fall_on)),
        preset,
    })
}

/// The text of a preset's file, its zones as runs of the frame.
#[must_use]
pub fn preset_toml(preset: &Preset) -> String {
    let layout = Layout {
        pixels: preset.pixels,
        channels: preset.channels,
    };
    write_preset(preset, &StripMap::unnamed(layout), &[])
}
