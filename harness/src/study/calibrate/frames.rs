//! The frames of a play, kept so that the same ones can be solved again and again with other parameters.

use crate::build::diag::{InputError, InputErrors};
use crate::profile::figures::Moment;
use crate::profile::{Chunk, FrameStream};

/// Most bytes of levels that are kept: half an hour of a large prop.
const MOST_BYTES: usize = 1 << 30;

/// Every frame of a play.
#[derive(Debug, Clone, Default)]
pub struct Frames {
    /// What was played, for reports.
    pub name: String,
    /// Drive levels, `frame_len` bytes a frame.
    pub levels: Vec<u8>,
    /// Bytes of a frame.
    pub frame_len: usize,
    /// Pixels of a frame.
    pub pixels: usize,
    /// When each frame is shown and what the prop is in then.
    pub moments: Vec<Moment>,
    /// Length of a frame, seconds.
    pub period_s: f64,
}

impl Frames {
    /// Reads a stream to its end.
    ///
    /// # Errors
    /// Faulty frames, or more of them than can be kept.
    pub fn read(name: &str, stream: &mut dyn FrameStream) -> Result<Self, InputErrors> {
        let mut out = Self {
            name: name.to_owned(),
            period_s: stream.period_s(),
            pixels: usize::from(stream.layout().pixels),
            ..Self::default()
        };
        let mut chunk = Chunk::new();
        while stream.fill(&mut chunk, 512)? > 0 {
            out.frame_len = chunk.frame_len;
            out.levels.extend_from_slice(&chunk.levels);
            out.moments.extend(chunk.meta.iter().map(Moment::from));
            if out.levels.len() > MOST_BYTES {
                let error = InputError::whole(format!(
                    "{name} is too long to calibrate with: more than {} MB of frames",
                    MOST_BYTES >> 20
                ));
                return Err(error
                    .help("play a shorter piece: a minute or two is plenty")
                    .into());
            }
        }
        Ok(out)
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.moments.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.moments.is_empty()
    }

    /// The levels of a frame.
    pub fn levels_of(&self, frame: usize) -> &[u8] {
        let start = frame * self.frame_len;
        self.levels
            .get(start..start + self.frame_len)
            .unwrap_or_default()
    }

    /// Length of the play, seconds.
    pub fn length_s(&self) -> f64 {
        self.len() as f64 * self.period_s
    }

    /// The frame shown at a time, if any.
    pub fn at(&self, time_s: f64) -> Option<usize> {
        let k = (time_s / self.period_s).floor();
        (k >= 0.0 && k < self.len() as f64).then_some(k as usize)
    }
}
