//! When frames are due and which cues come before each.

use super::stream::{Chunk, CueAt, FrameMeta};
use crate::build::cues::{CueTrace, TraceCue};
use lampwright_model::{Cue, LayerSet, State};
use std::borrow::Cow;

/// A steady frame rate over a cue trace.
///
/// Frame `k` is shown at `k / rate` seconds and asked for at that time in whole milliseconds, to the nearest (halves up).
/// There is a frame at each multiple of the period before the end of the trace. A cue is handed over with its own time,
/// before the first frame whose time in milliseconds is not before it.
#[derive(Debug, Clone)]
pub(super) struct Schedule<'t> {
    trace: Cow<'t, CueTrace>,
    rate_hz: f64,
    frames: u64,
    next_frame: u64,
    next_cue: usize,
    last_cue: Option<CueAt>,
}

/// A frame that is due.
#[derive(Debug, Clone, Copy)]
pub(super) struct Due {
    pub(super) index: u64,
    pub(super) time_s: f64,
    pub(super) now_ms: u64,
    first_cue: usize,
}

impl<'t> Schedule<'t> {
    /// At `rate_hz` frames a second, which must be above 0; what is not counts as 1.
    pub(super) fn new(trace: &'t CueTrace, rate_hz: f64) -> Self {
        let rate_hz = if rate_hz.is_finite() && rate_hz > 0.0 {
            rate_hz
        } else {
            1.0
        };
        // A hair less, so that a product that is whole but for its rounding gives no extra frame.
        let frames = (trace.end_ms as f64 / 1e3 * rate_hz - 1e-6).ceil().max(1.0);
        Self {
            trace: Cow::Borrowed(trace),
            rate_hz,
            frames: frames as u64,
            next_frame: 0,
            next_cue: 0,
            last_cue: None,
        }
    }

    /// The same, with the trace its own.
    pub(super) fn owned(self) -> Schedule<'static> {
        Schedule {
            trace: Cow::Owned(self.trace.into_owned()),
            rate_hz: self.rate_hz,
            frames: self.frames,
            next_frame: self.next_frame,
            next_cue: self.next_cue,
            last_cue: self.last_cue,
        }
    }

    pub(super) fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Number of frames from the start to the end of the trace.
    pub(super) fn frames(&self) -> u64 {
        self.frames
    }

    /// The next frame; its cues go into the chunk and to `cue`, each with its time in ms. `None` at the end.
    pub(super) fn next(&mut self, chunk: &mut Chunk, mut cue: impl FnMut(u64, Cue)) -> Option<Due> {
        if self.next_frame >= self.frames {
            return None;
        }
        let index = self.next_frame;
        self.next_frame += 1;
        let now_ms = (index as f64 * 1e3 / self.rate_hz).round() as u64;
        let first_cue = chunk.cues.len();
        while let Some(due) = self.trace.cues.get(self.next_cue).copied() {
            let TraceCue { at_ms, cue: what } = due;
            if at_ms > now_ms {
                break;
            }
            self.next_cue += 1;
            cue(at_ms, what);
            let seen = CueAt {
                time_s: at_ms as f64 / 1e3,
                cue: what,
            };
            self.last_cue = Some(seen);
            chunk.cues.push(seen);
        }
        Some(Due {
            index,
            time_s: index as f64 / self.rate_hz,
            now_ms,
            first_cue,
        })
    }

    /// What is known of a frame that was due, before the next one is asked for.
    pub(super) fn meta(
        &self,
        due: Due,
        state: Option<State>,
        layers: LayerSet,
        chunk: &Chunk,
    ) -> FrameMeta {
        let new_cues = chunk.cues.len() - due.first_cue;
        FrameMeta {
            index: due.index,
            time_s: due.time_s,
            state,
            layers,
            cue: self.last_cue,
            new_cues: u32::try_from(new_cues).unwrap_or(u32::MAX),
            first_cue: u32::try_from(due.first_cue).unwrap_or(u32::MAX),
        }
    }
}
