//! Playing a frame source as a board would.

use lampwright_model::{Cue, FrameSource, Layout, Millis, State};
use std::fmt::{self, Debug};
use std::panic::{catch_unwind, AssertUnwindSafe};

/// Cues to play, and the times at which frames are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Run<'c> {
    /// What the source's millisecond counter says at the start.
    pub start: Millis,
    /// Cues with their times in ms from the start, in order.
    pub cues: &'c [(u32, Cue)],
    /// Time from frame to frame, ms; 0 counts as 1.
    pub period_ms: u32,
    /// For how long frames are asked for after the last cue, ms.
    pub after_ms: u32,
}

impl<'c> Run<'c> {
    /// Frames every 17 ms (as near to 60 a second as whole milliseconds come) until 2 s after the last cue.
    #[must_use]
    pub const fn of(cues: &'c [(u32, Cue)]) -> Self {
        Self {
            start: Millis(0),
            cues,
            period_ms: 17,
            after_ms: 2000,
        }
    }

    /// The times of the frames, ms from the start.
    pub fn times(&self) -> impl Iterator<Item = u32> {
        let last = self.cues.last().map_or(0, |c| c.0);
        let period = self.period_ms.max(1) as usize;
        (0..=last.saturating_add(self.after_ms)).step_by(period)
    }
}

/// A frame as a source gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// When, ms from the start.
    pub at_ms: u32,
    /// The state the source said it was in.
    pub state: State,
    /// Its drive levels.
    pub levels: Vec<u8>,
}

/// Why a property does not hold: what was seen, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// When, ms from the start of the run, where it was at one time.
    pub at_ms: Option<u32>,
    /// What was seen.
    pub what: String,
}

impl Broken {
    pub(super) fn new(what: impl Into<String>) -> Self {
        Self {
            at_ms: None,
            what: what.into(),
        }
    }

    pub(super) fn at(at_ms: u32, what: impl Into<String>) -> Self {
        Self {
            at_ms: Some(at_ms),
            what: what.into(),
        }
    }
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.at_ms {
            Some(ms) => write!(f, "at {ms} ms: {}", self.what),
            None => f.write_str(&self.what),
        }
    }
}

impl std::error::Error for Broken {}

/// Where pixel and channel of a byte are, in words.
pub(super) fn byte_name(layout: Layout, at: usize) -> String {
    let channels = layout.channels.count();
    let names = ["red", "green", "blue", "white"];
    let channel = names.get(at % channels).copied().unwrap_or("?");
    format!("{channel} of pixel {}", at / channels)
}

/// Plays a run: a cue at the time of a frame comes before it. Every frame is asked for in a buffer
/// filled with `fill`.
pub(super) fn play<S>(source: &mut S, run: &Run<'_>, fill: u8) -> Result<Vec<Seen>, Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let layout = source.layout();
    let mut cues = run.cues.iter().peekable();
    let mut seen = Vec::new();
    for at_ms in run.times() {
        while let Some((when, cue)) = cues.next_if(|(when, _)| *when <= at_ms) {
            let (when, cue) = (run.start.plus(*when), *cue);
            caught(at_ms, || source.cue(when, cue))?;
        }
        let mut levels = vec![fill; layout.frame_len()];
        let given = caught(at_ms, || source.frame(run.start.plus(at_ms), &mut levels))?;
        let state = given.map_err(|e| Broken::at(at_ms, format!("no frame: {e:?}")))?;
        if source.layout() != layout {
            return Err(Broken::at(at_ms, "the shape of the frames changed"));
        }
        seen.push(Seen {
            at_ms,
            state,
            levels,
        });
    }
    Ok(seen)
}

/// Runs foreign code; a panic in it breaks the property, with its message.
fn caught<T>(at_ms: u32, run: impl FnOnce() -> T) -> Result<T, Broken> {
    catch_unwind(AssertUnwindSafe(run)).map_err(|payload| {
        let text = payload
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| payload.downcast_ref::<&str>().copied());
        Broken::at(at_ms, format!("panic: {}", text.unwrap_or("without words")))
    })
}
