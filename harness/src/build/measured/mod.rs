//! Logs of meters, bench supplies and current monitors: CSV in the shapes they write.
//!
//! A log is read in one pass with flat memory but for the samples themselves. What is odd but harmless is
//! counted in [`Note`]s; what cannot be used is a fault with its line and column.

mod clean;
mod column;
mod number;
mod preamble;
mod read;
mod sniff;
mod stamp;

pub use read::{open_measured, read_measured, read_measured_from};

/// What the reader cannot find in the log itself.
#[derive(Debug, Clone, Default)]
pub struct ReadOptions {
    /// Names of the columns, comma separated, in place of the header: "time s, -, current mA".
    pub columns: Option<String>,
    /// Time from sample to sample, seconds, where the log has no times.
    pub interval_s: Option<f64>,
    /// End of the meter's range, amperes: samples at it or beyond are left out.
    pub range_a: Option<f64>,
}

/// Something odd that did not keep the log from being used.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Note {
    /// What.
    pub what: String,
    /// How often.
    pub count: u64,
    /// One-based line where it came first, where it has one.
    pub line: Option<u64>,
}

impl Note {
    pub(crate) fn new(what: impl Into<String>, count: u64, line: Option<u64>) -> Self {
        Self {
            what: what.into(),
            count,
            line,
        }
    }
}

/// A log: samples over rising time. A quantity that was not logged is an empty list, a reading that is
/// missing or beyond the range is not a number.
#[derive(Debug, Clone, Default)]
pub struct Measured {
    /// The file.
    pub name: String,
    /// Seconds since the first sample, strictly rising.
    pub time_s: Vec<f64>,
    /// Current, amperes.
    pub current_a: Vec<f64>,
    /// Voltage, volts.
    pub voltage_v: Vec<f64>,
    /// Usual time between samples (the median), seconds.
    pub interval_s: f64,
    /// The two terminals, plus first, that a line before the header names as those of the voltage:
    /// `# voltage at column.plus:column.minus`.
    pub voltage_at: Option<String>,
    /// What was odd.
    pub notes: Vec<Note>,
}

impl Measured {
    /// Number of samples.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no sample.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }
}
