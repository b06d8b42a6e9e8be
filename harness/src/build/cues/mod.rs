//! Cue traces: what the bearer of a prop does, and when. `cues/*.csv`.
//!
//! ```text
//! # Lines that start with # are remarks.
//! time_s,cue,value
//! 1.5,short-press,
//! 4.25,knock,80 %
//! 9,twist,-45 deg
//! 30,end,
//! ```
//!
//! | cue | value |
//! |---|---|
//! | `short-press`, `long-press`, `double-press`, `low-cell` | none |
//! | `knock` | strength, a share of the strongest: `80 %` or `0.8` |
//! | `swing` | speed, a share of the fastest: `80 %` or `0.8` |
//! | `twist` | degrees from -180 to 180: `-45` or `-45 deg` |
//! | `level` | share of the full range: `80 %` or `0.8` |
//! | `end` | none; the last row, where the trace ends |
//!
//! Times are rounded to whole milliseconds. Without an `end` the trace goes on for [`TAIL_MS`] after
//! its last cue.

mod line;
mod read;
mod value;
mod write;

pub use line::cue_words;
pub use read::read_cues;
pub use write::write_cues;

use lampwright_model::Cue;

/// How long a trace without an `end` goes on after its last cue, in ms.
pub const TAIL_MS: u64 = 5000;
/// The longest trace, in ms: 40 days.
pub const MAX_MS: u64 = 40 * 24 * 3_600_000;

/// A cue of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TraceCue {
    /// When it comes, in ms from the start of the trace.
    pub at_ms: u64,
    /// What comes.
    pub cue: Cue,
}

/// A cue trace.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CueTrace {
    /// The name of its file.
    pub name: String,
    /// The cues in order of time; at least one.
    pub cues: Vec<TraceCue>,
    /// Where it ends, in ms; after its last cue.
    pub end_ms: u64,
}

/// The name of the row that ends a trace.
const END: &str = "end";
