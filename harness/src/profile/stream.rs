//! Frames over time: where they come from, whatever made them.
//!
//! Frames are handed on in [`Chunk`]s of a few hundred that are filled again and again, so that an
//! hour takes no more memory than a second.

use crate::build::diag::InputErrors;
use lampwright_model::{Cue, LayerSet, Layout, State};

/// A cue and when it came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CueAt {
    /// Seconds from the start of the trace.
    pub time_s: f64,
    /// What came.
    pub cue: Cue,
}

/// What is known of a frame besides its levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameMeta {
    /// Counted from 0 over the whole stream.
    pub index: u64,
    /// When it is shown, in seconds from the start.
    pub time_s: f64,
    /// The state of the prop; `None` where the source does not know.
    pub state: Option<State>,
    /// The layers active in it; none where the source has no layers.
    pub layers: LayerSet,
    /// The last cue at or before it.
    pub cue: Option<CueAt>,
    /// How many cues came since the frame before; [`Chunk::new_cues`] lists them.
    pub new_cues: u32,
    /// Where they start in [`Chunk::cues`].
    pub first_cue: u32,
}

/// Some frames one after the other.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Chunk {
    /// The drive levels of all its frames, [`Chunk::frame_len`] bytes each: for each pixel
    /// R, G, B (, W), 0..=255.
    pub levels: Vec<u8>,
    /// One entry a frame.
    pub meta: Vec<FrameMeta>,
    /// Bytes in a frame.
    pub frame_len: usize,
    /// The cues that came with these frames, in order.
    pub cues: Vec<CueAt>,
}

impl Chunk {
    /// An empty chunk; memory is taken when it is first filled.
    pub fn new() -> Self {
        Self::default()
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.meta.len()
    }

    /// Whether it has no frame.
    pub fn is_empty(&self) -> bool {
        self.meta.is_empty()
    }

    /// Its frames with what is known of them.
    pub fn frames(&self) -> impl Iterator<Item = (&FrameMeta, &[u8])> {
        // A frame of no bytes has no levels to go through.
        self.meta
            .iter()
            .zip(self.levels.chunks_exact(self.frame_len.max(1)))
    }

    /// The cues that came since the frame before.
    pub fn new_cues(&self, frame: &FrameMeta) -> &[CueAt] {
        let first = frame.first_cue as usize;
        let last = first + frame.new_cues as usize;
        self.cues.get(first..last).unwrap_or_default()
    }

    /// Takes everything out and keeps the memory.
    pub(super) fn clear(&mut self, frame_len: usize) {
        self.levels.clear();
        self.meta.clear();
        self.cues.clear();
        self.frame_len = frame_len;
    }

    /// Room for one more frame.
    pub(super) fn push_levels(&mut self) -> &mut [u8] {
        let start = self.levels.len();
        self.levels.resize(start + self.frame_len, 0);
        self.levels.get_mut(start..).unwrap_or_default()
    }

    /// Takes out the levels of a frame that could not be had.
    pub(super) fn pop_levels(&mut self) {
        let whole = self.meta.len() * self.frame_len;
        self.levels.truncate(whole);
    }
}

/// A sequence of frames that is read once, from its start to its end.
pub trait FrameStream {
    /// The shape of its frames.
    fn layout(&self) -> Layout;

    /// The time from frame to frame, in seconds.
    fn period_s(&self) -> f64;

    /// Puts the next frames, up to `frames` of them, into `chunk` in place of what was there.
    /// Returns how many; 0 is the end (or `frames` was 0).
    ///
    /// # Errors
    /// What is wrong with the input. The chunk then holds the sound frames before the fault.
    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors>;
}

/// Reads a stream to its end. While `play` works on one chunk, on as many cores as it likes, the next one is filled on
/// this, and then `progress` is told how many frames have been played since it was called last, a last time at the end.
/// For what works on one core only, [`play_ahead`](super::play_ahead) waits less.
///
/// # Errors
/// What is wrong with the input; the sound frames before it have been played.
pub fn each_chunk(
    stream: &mut dyn FrameStream,
    frames: usize,
    mut play: impl FnMut(&Chunk) + Send,
    mut progress: impl FnMut(usize),
) -> Result<(), InputErrors> {
    let (mut chunk, mut next) = (Chunk::default(), Chunk::default());
    let mut filled = stream.fill(&mut chunk, frames);
    let mut played = 0;
    let ended = loop {
        if chunk.is_empty() {
            break filled.map(|_| ());
        }
        let more = rayon::in_place_scope(|scope| {
            scope.spawn(|_| play(&chunk));
            let more = match &filled {
                Ok(_) => stream.fill(&mut next, frames),
                // The frames before a fault are played, those after it are not read.
                Err(_) => Ok(0),
            };
            progress(played);
            more
        });
        played = chunk.len();
        if let Err(fault) = filled {
            break Err(fault);
        }
        filled = more;
        std::mem::swap(&mut chunk, &mut next);
    };
    progress(played);
    ended
}

pub use lampwright_model::limiter::cap_levels;
