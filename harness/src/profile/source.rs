//! A frame source played with a cue trace.

use super::{cap_levels, Chunk, CueAt, FrameMeta, FrameStream};
use crate::build::cues::{CueTrace, TraceCue};
use crate::build::diag::{InputError, InputErrors};
use lampwright_model::{FrameSource, Layout, Millis};
use std::fmt::Display;

/// Plays any [`FrameSource`] with a cue trace at a steady frame rate.
///
/// Frame `k` is shown at `k / rate` seconds and asked for at that time in whole milliseconds, to the
/// nearest (halves up). There is a frame at each multiple of the period before the end of the trace.
/// A cue is handed over with its own time, before the first frame whose time in milliseconds is
/// not before it. The millisecond counter of the source wraps as it does on the board.
#[derive(Debug)]
pub struct Played<'t, S> {
    source: S,
    trace: &'t CueTrace,
    rate_hz: f64,
    /// What the source's counter says at the start.
    origin: Millis,
    /// The cap to apply here, because the source cannot.
    cap: u8,
    next_frame: u64,
    frames: u64,
    next_cue: usize,
    last_cue: Option<CueAt>,
}

impl<'t, S: FrameSource> Played<'t, S> {
    /// Plays `source` at `rate_hz` frames a second, which must be above 0; what is not counts as 1.
    pub fn new(source: S, trace: &'t CueTrace, rate_hz: f64) -> Self {
        let rate_hz = if rate_hz.is_finite() && rate_hz > 0.0 {
            rate_hz
        } else {
            1.0
        };
        // A hair less, so that a product that is whole but for its rounding gives no extra frame.
        let frames = (trace.end_ms as f64 / 1e3 * rate_hz - 1e-6).ceil().max(1.0);
        Self {
            source,
            trace,
            rate_hz,
            origin: Millis(0),
            cap: u8::MAX,
            next_frame: 0,
            frames: frames as u64,
            next_cue: 0,
            last_cue: None,
        }
    }

    /// Starts the source's millisecond counter at `origin` in place of 0.
    #[must_use]
    pub fn starting_at(mut self, origin: Millis) -> Self {
        self.origin = origin;
        self
    }

    /// Sets the cap: by the source itself if it can, else by scaling its levels to the nearest.
    #[must_use]
    pub fn with_cap(mut self, cap: u8) -> Self {
        self.cap = if self.source.set_cap(cap) {
            u8::MAX
        } else {
            cap
        };
        self
    }

    /// Number of frames from the start to the end of the trace.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// The source, for what only it can tell.
    pub fn source(&self) -> &S {
        &self.source
    }

    /// The time of a frame, in whole ms from the start.
    fn frame_ms(&self, frame: u64) -> u64 {
        (frame as f64 * 1e3 / self.rate_hz).round() as u64
    }

    /// The source's counter at a time.
    fn counter(&self, ms: u64) -> Millis {
        // The counter has 32 bits: what is above them is lost, as on the board.
        self.origin.plus(ms as u32)
    }

    /// Hands over every cue that is due by `now_ms`.
    fn cues_until(&mut self, now_ms: u64, chunk: &mut Chunk) {
        while let Some(TraceCue { at_ms, cue }) = self.trace.cues.get(self.next_cue).copied() {
            if at_ms > now_ms {
                return;
            }
            self.next_cue += 1;
            self.source.cue(self.counter(at_ms), cue);
            let cue = CueAt {
                time_s: at_ms as f64 / 1e3,
                cue,
            };
            self.last_cue = Some(cue);
            chunk.cues.push(cue);
        }
    }
}

impl<S: FrameSource> FrameStream for Played<'_, S>
where
    S::Error: Display,
{
    fn layout(&self) -> Layout {
        self.source.layout()
    }

    fn period_s(&self) -> f64 {
        1.0 / self.rate_hz
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.clear(self.source.layout().frame_len());
        while chunk.len() < frames && self.next_frame < self.frames {
            let index = self.next_frame;
            let now_ms = self.frame_ms(index);
            let first_cue = chunk.cues.len();
            self.cues_until(now_ms, chunk);
            let new_cues = chunk.cues.len() - first_cue;
            let time_s = index as f64 / self.rate_hz;
            let at = self.counter(now_ms);
            let levels = chunk.push_levels();
            let state = match self.source.frame(at, levels) {
                Ok(state) => state,
                Err(error) => {
                    chunk.pop_levels();
                    let message = format!("no frame {index} at {time_s:.3} s: {error}");
                    return Err(InputError::whole(message)
                        .help("this comes from the frame source, not from the cue trace")
                        .into());
                }
            };
            cap_levels(levels, self.cap);
            chunk.meta.push(FrameMeta {
                index,
                time_s,
                state: Some(state),
                layers: self.source.active_layers(),
                cue: self.last_cue,
                new_cues: u32::try_from(new_cues).unwrap_or(u32::MAX),
                first_cue: u32::try_from(first_cue).unwrap_or(u32::MAX),
            });
            self.next_frame += 1;
        }
        Ok(chunk.len())
    }
}
