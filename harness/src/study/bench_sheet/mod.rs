//! The bench sheet: what the meter should read before the cell goes in and on a current-limited supply, and
//! what readings that differ point to.

pub mod faults;
pub mod judge;
mod meter;
mod points;
mod powered;
pub mod states;

pub use judge::{judge, Cause, Judged, RowVerdict};
pub use points::bench_sheet;
pub use states::BenchState;

use crate::build::supply::Spot;
use serde::Serialize;

/// What a row measures.
#[derive(Debug, Clone, PartialEq)]
pub enum Probe {
    /// Resistance between two points, cell out.
    Ohm {
        /// Where the black lead stays.
        from: Spot,
        /// Where the red lead goes.
        to: Spot,
        /// Whether the switches are on.
        on: bool,
    },
    /// Voltage from one point to another in a state, on the supply.
    Volt {
        /// Black lead.
        from: Spot,
        /// Red lead.
        to: Spot,
        /// Index of the state.
        state: usize,
    },
    /// Current of the supply in a state.
    Ampere {
        /// Index of the state.
        state: usize,
    },
    /// How many pixels of a strip are lit in a state.
    Pixels {
        /// Part index of the strip.
        part: usize,
        /// Index of the state.
        state: usize,
    },
}

impl Probe {
    /// Unit of expected value and reading.
    pub fn unit(&self) -> &'static str {
        match self {
            Self::Ohm { .. } => "Ω",
            Self::Volt { .. } => "V",
            Self::Ampere { .. } => "A",
            Self::Pixels { .. } => "pixels",
        }
    }
}

/// One reading to take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetRow {
    /// Number on the sheet, such as `R07`.
    pub id: String,
    /// When it is taken, in words.
    pub when: String,
    /// Between which points, in words.
    pub what: String,
    /// Unit.
    pub unit: &'static str,
    /// Expected value; `None` for an open circuit.
    pub expected: Option<f64>,
    /// Lowest value that is in order; `None` where there is no bound.
    pub low: Option<f64>,
    /// Highest value that is in order; `None` for an open circuit.
    pub high: Option<f64>,
    /// How it is computed.
    #[serde(skip)]
    pub probe: Probe,
}

/// A bench sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchSheet {
    /// Voltage to set on the supply, volts.
    pub supply_v: f64,
    /// Current limit to set, amperes.
    pub limit_a: f64,
    /// What the states of the prop are.
    pub states: Vec<BenchState>,
    /// Every reading in the order of work.
    pub rows: Vec<SheetRow>,
}

/// A resistance that a meter shows as open, ohms.
pub const OPEN_OHM: f64 = 1.0e6;
/// What a hand meter and its leads add to a resistance, ohms, after zeroing the leads: common practice.
pub const METER_OHM: f64 = 0.1;
/// Lowest resistance between points that must not be joined, ohms: common practice. Regulators and
/// capacitors charge while the meter is on and read less at first.
pub const ISOLATION_OHM: f64 = 1.0e3;
