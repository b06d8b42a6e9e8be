//! Presets as readable text: `presets/*.toml` to the model's [`Preset`] and back without loss.
//!
//! The keys, their units, ranges and defaults are listed in `harness/FORMATS.md`.

mod colour;
mod faults;
mod fields;
mod layer;
mod names;
mod places;
mod read;
mod strips;
mod value;
mod write;

pub use places::{Places, Section};
pub use read::read_preset;
pub use strips::{StripMap, StripRun};
pub use write::write_preset;

use super::diag::Place;
use lampwright_model::Preset;

/// A preset as read from a file.
#[derive(Debug, Clone)]
pub struct PresetFile {
    /// The preset; the model finds no fault with it.
    pub preset: Preset,
    /// File names of the cue traces meant for it, in the prop's folder of cues.
    pub cues: Vec<String>,
    /// Where each of them is named.
    pub cue_places: Vec<Place>,
    /// Where its parts stand.
    pub places: Places,
}
