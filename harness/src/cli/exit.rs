//! Exit codes, the same for every verb.

use std::process::ExitCode;

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// All checks hold.
    Holds = 0,
    /// At least one check fails.
    Fails = 1,
    /// The input is wrong.
    BadInput = 2,
    /// The tool itself failed.
    Failed = 3,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
