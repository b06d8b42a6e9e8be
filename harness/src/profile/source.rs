//! A frame source played with a cue trace.

use super::schedule::Schedule;
use super::stream::{cap_levels, Chunk, FrameStream};
use crate::build::cues::CueTrace;
use crate::build::diag::{InputError, InputErrors};
use lampwright_model::{FrameSource, Layout, Millis, State};
use std::fmt::Display;
use std::iter::Peekable;
use std::vec::IntoIter;

/// Plays any [`FrameSource`] with a cue trace at a steady frame rate.
///
/// Frame `k` is shown at `k / rate` seconds and asked for at that time in whole milliseconds, to the
/// nearest (halves up). There is a frame at each multiple of the period before the end of the trace.
/// A cue is handed over with its own time, before the first frame whose time in milliseconds is
/// not before it. The millisecond counter of the source wraps as it does on the board.
#[derive(Debug)]
pub struct Played<'t, S> {
    source: S,
    schedule: Schedule<'t>,
    /// What the source's counter says at the start.
    origin: Millis,
    /// The cap to apply here, because the source cannot.
    cap: u8,
    /// Indices of the frames that are drawn, rising; `None` for all.
    only: Option<Peekable<IntoIter<u64>>>,
}

impl<'t, S: FrameSource> Played<'t, S> {
    /// Plays `source` at `rate_hz` frames a second, which must be above 0; what is not counts as 1.
    pub fn new(source: S, trace: &'t CueTrace, rate_hz: f64) -> Self {
        Self {
            source,
            schedule: Schedule::new(trace, rate_hz),
            origin: Millis(0),
            cap: u8::MAX,
            only: None,
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

    /// Draws only the frames of these indices, which must rise; the stream then has no others. Only for a source whose
    /// frames follow from cues and time alone, whichever were drawn before, as those of the own engine do.
    #[must_use]
    pub fn only(mut self, frames: Vec<u64>) -> Self {
        self.only = Some(frames.into_iter().peekable());
        self
    }

    /// Number of frames from the start to the end of the trace.
    pub fn frames(&self) -> u64 {
        self.schedule.frames()
    }

    /// Has `draw` draw the next frames, up to `frames` of them, each at its time on the source's counter, and puts what
    /// is known of them into `chunk` in place of what was there. Returns how many.
    ///
    /// # Errors
    /// What `draw` reports, with the frame it was at.
    pub(super) fn each<E: Display>(
        &mut self,
        chunk: &mut Chunk,
        frames: usize,
        mut draw: impl FnMut(&mut S, Millis, &mut Chunk) -> Result<State, E>,
    ) -> Result<usize, InputErrors> {
        chunk.clear(self.source.layout().frame_len());
        let (source, origin) = (&mut self.source, self.origin);
        while chunk.len() < frames {
            let cue = |at_ms, cue| source.cue(counter(origin, at_ms), cue);
            let Some(due) = self.schedule.next(chunk, cue) else {
                break;
            };
            if let Some(only) = &mut self.only {
                if only.next_if_eq(&due.index).is_none() {
                    continue;
                }
            }
            let state = draw(source, counter(origin, due.now_ms), chunk).map_err(|error| {
                let message = format!("no frame {} at {:.3} s: {error}", due.index, due.time_s);
                InputError::whole(message)
                    .help("this comes from the frame source, not from the cue trace")
            })?;
            let layers = source.active_layers();
            let meta = self.schedule.meta(due, Some(state), layers, chunk);
            chunk.meta.push(meta);
        }
        Ok(chunk.len())
    }

    /// The source, for what only it can tell.
    pub fn source(&self) -> &S {
        &self.source
    }
}

/// The source's counter at a time in ms.
fn counter(origin: Millis, ms: u64) -> Millis {
    // The counter has 32 bits: what is above them is lost, as on the board.
    origin.plus(ms as u32)
}

impl<S: FrameSource> FrameStream for Played<'_, S>
where
    S::Error: Display,
{
    fn layout(&self) -> Layout {
        self.source.layout()
    }

    fn period_s(&self) -> f64 {
        1.0 / self.schedule.rate_hz()
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        let cap = self.cap;
        self.each(chunk, frames, |source, now, chunk| {
            let levels = chunk.push_levels();
            match source.frame(now, levels) {
                Ok(state) => {
                    cap_levels(levels, cap);
                    Ok(state)
                }
                Err(error) => {
                    chunk.pop_levels();
                    Err(error)
                }
            }
        })
    }
}
