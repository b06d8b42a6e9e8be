//! A named series over time, and a limit line.

use super::envelope::{Envelope, Sample};

/// How values between two samples are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Draw {
    /// A value holds until the next (frames).
    Held,
    /// A straight line joins them (measurements, curves).
    Joined,
}

/// Which end of a series is its worst value, to be marked and named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Worst {
    /// The highest (currents, temperatures).
    Highest,
    /// The lowest (voltages).
    Lowest,
    /// Neither; nothing is marked.
    Unmarked,
}

/// A named series over time in a base unit (A, V, s).
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What it is, in field terms.
    pub name: String,
    /// Its values, already gathered.
    pub values: Envelope,
    /// How it is drawn between samples.
    pub draw: Draw,
    /// Which value is marked.
    pub worst: Worst,
}

impl Series {
    /// An empty series over `0..=duration_s`; fill it with [`Series::push`].
    pub fn new(name: &str, duration_s: f64, draw: Draw, worst: Worst) -> Self {
        Self {
            name: name.to_owned(),
            values: Envelope::new(duration_s),
            draw,
            worst,
        }
    }

    /// Adds a value in the base unit; call in the order of time. `NaN` is a missing value and leaves a gap.
    pub fn push(&mut self, t_s: f64, value: f64) {
        self.values.push(t_s, value);
    }

    /// The value to be marked, if any.
    pub(crate) fn worst_sample(&self) -> Option<Sample> {
        match self.worst {
            Worst::Highest => self.values.highest(),
            Worst::Lowest => self.values.lowest(),
            Worst::Unmarked => None,
        }
    }
}

/// A horizontal line that a value should not cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What happens there (brown-out, cut-off, pixel full colour).
    pub name: String,
    /// Value in the base unit of the plot.
    pub value: f64,
}

impl Limit {
    /// A named limit.
    pub fn new(name: &str, value: f64) -> Self {
        Self {
            name: name.to_owned(),
            value,
        }
    }
}
