//! A frame that stands still, for what the drawing alone must bear.

use super::verdict::CheckResult;
use super::watch::{watch, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::{Chunk, FrameMeta, FrameStream};
use lampwright_model::{LayerSet, Layout};

/// Long enough for the slowest thermal time of the checks to settle.
const SECONDS: f64 = 40.0;
/// Frames a second: enough for those thermal times.
const RATE_HZ: f64 = 4.0;

/// One picture, again and again.
#[derive(Debug)]
pub struct Steady {
    layout: Layout,
    levels: Vec<u8>,
    left: u64,
    next: u64,
}

impl Steady {
    /// Every channel of every pixel at `level`.
    pub fn all_at(layout: Layout, level: u8) -> Self {
        Self {
            layout,
            levels: vec![level; layout.frame_len()],
            left: (SECONDS * RATE_HZ) as u64,
            next: 0,
        }
    }
}

impl FrameStream for Steady {
    fn layout(&self) -> Layout {
        self.layout
    }

    fn period_s(&self) -> f64 {
        1.0 / RATE_HZ
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.levels.clear();
        chunk.meta.clear();
        chunk.cues.clear();
        chunk.frame_len = self.levels.len();
        let count = self.left.min(frames as u64);
        for _ in 0..count {
            chunk.levels.extend_from_slice(&self.levels);
            chunk.meta.push(FrameMeta {
                index: self.next,
                time_s: self.next as f64 / RATE_HZ,
                state: None,
                layers: LayerSet::default(),
                cue: None,
                new_cues: 0,
                first_cue: 0,
            });
            self.next += 1;
        }
        self.left -= count;
        Ok(chunk.len())
    }
}

/// The results of every check with all pixels at the cap for as long as wires need to warm up.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn watch_steady(prop: &Prop, layout: Layout) -> Result<Vec<CheckResult>, StudyError> {
    let mut stream = Steady::all_at(layout, prop.cap);
    watch(prop, None, &mut stream, &|_| {})
}
