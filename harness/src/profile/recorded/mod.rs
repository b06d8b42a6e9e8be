//! Recorded frames: the way in for anyone's own firmware.
//!
//! Two forms are read, from a file or from a pipe:
//!
//! - **CSV**: a header `r0,g0,b0,r1,...` (with `w0` after `b0` for pixels with a white channel),
//!   which `time_s` may lead; then a row a frame, levels as whole numbers 0..=255.
//! - **raw**: the frames back to back, for each pixel a byte R, G, B (, W), nothing else.

mod csv;
mod open;
mod raw;
mod write;

pub use open::{open_recorded, RecordedFormat, RecordedOptions};
pub use write::FrameWriter;

use super::stream::{cap_levels, Chunk, FrameMeta, FrameStream};
use crate::build::diag::InputErrors;
use lampwright_model::{LayerSet, Layout};
use std::io::BufRead;

/// Recorded frames being read.
pub struct Recorded {
    layout: Layout,
    period_s: f64,
    cap: u8,
    index: u64,
    reader: Reader,
}

enum Reader {
    Csv(csv::CsvReader),
    Raw(raw::RawReader),
}

/// Where the bytes come from.
type Input = Box<dyn BufRead>;

impl std::fmt::Debug for Recorded {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Recorded")
            .field("layout", &self.layout)
            .field("period_s", &self.period_s)
            .field("cap", &self.cap)
            .field("index", &self.index)
            .finish_non_exhaustive()
    }
}

impl FrameStream for Recorded {
    fn layout(&self) -> Layout {
        self.layout
    }

    fn period_s(&self) -> f64 {
        self.period_s
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.clear(self.layout.frame_len());
        while chunk.len() < frames {
            let levels = chunk.push_levels();
            let read = match &mut self.reader {
                Reader::Csv(csv) => csv.frame(levels),
                Reader::Raw(raw) => raw.frame(levels).map(|more| more.then_some(None)),
            };
            let Ok(Some(time_s)) = read else {
                chunk.pop_levels();
                read?;
                break;
            };
            cap_levels(levels, self.cap);
            chunk.meta.push(FrameMeta {
                index: self.index,
                time_s: time_s.unwrap_or(self.index as f64 * self.period_s),
                state: None,
                layers: LayerSet::default(),
                cue: None,
                new_cues: 0,
                first_cue: 0,
            });
            self.index += 1;
        }
        Ok(chunk.len())
    }
}
