//! Scenarios for emulated boards: `in.bin` of the images in `host-tests/firmware`.
//!
//! The format is described in `host-tests/firmware/board/src/scenario.rs`.
#![allow(clippy::expect_used)]

use lampwright::build::cues::TraceCue;
use lampwright::build::pack::PackedProp;
use lampwright_model::{Millis, Preset};

/// A packed prop, which of its presets to play, for how many frames, with which cues.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// What it is called.
    pub name: String,
    /// The packed prop.
    pub packed: PackedProp,
    /// Which of its presets to play.
    pub index: u16,
    /// How many frames.
    pub frames: u32,
    /// The counter at the start.
    pub origin: Millis,
    /// Cell voltage at the start; it falls by 1 mV a frame down to 2800 mV.
    pub cell_mv: Option<u16>,
    /// Every how many frames the work is slow, and how long it takes, ms.
    pub slow: Option<(u32, u32)>,
    /// The cues.
    pub cues: Vec<TraceCue>,
}

impl Scenario {
    /// The preset it plays.
    pub fn preset(&self) -> &Preset {
        &self.packed.presets[usize::from(self.index)].preset
    }

    /// Its bytes in `in.bin`.
    pub fn bytes(&self) -> Vec<u8> {
        let pack = self
            .packed
            .to_bytes()
            .expect("scenarios are made of sound presets");
        let (every, ms) = self.slow.unwrap_or((0, 0));
        let words = [
            pack.len() as u32,
            u32::from(self.index),
            self.frames,
            self.origin.0,
            u32::from(self.cell_mv.unwrap_or(0)),
            every,
            ms,
            self.cues.len() as u32,
        ];
        let mut bytes = words.map(u32::to_le_bytes).concat();
        bytes.extend(pack);
        for TraceCue { at_ms, cue } in &self.cues {
            bytes.extend((*at_ms as u32).to_le_bytes());
            let kinds = lampwright_model::CueKind::ALL;
            let kind = kinds
                .iter()
                .position(|k| *k == cue.kind())
                .expect("every kind is in the list");
            bytes.extend([kind as u8, 0]);
            bytes.extend(cue.bits().to_le_bytes());
        }
        bytes
    }
}
