//! Value change dumps: the text form in which logic analysers and simulators write what happened on their lines.
//!
//! Source of the form: IEEE Std 1364-2005, clause 18 (four-state VCD). Read in one go from start to end, in memory that
//! does not grow with the file; times stay whole numbers of the file's own time step.

mod body;
mod header;
mod select;
mod text;
mod value;
mod write;

pub use body::VcdReader;
pub use header::{Timescale, Variable};
pub use write::VcdWriter;

/// What is on a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// 0.
    Low,
    /// 1.
    High,
    /// `x`, not known, or `z`, driven by nobody.
    Unknown,
}

/// A line's level changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// When, in steps of the file's [`Timescale`].
    pub time: u64,
    /// Which of the selected lines, see [`VcdReader::select`].
    pub line: usize,
    /// To what.
    pub level: Level,
}
