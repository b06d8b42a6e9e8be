//! Under which circumstances a trace is played.

use crate::build::prop::Conditions;
use crate::units::Quantity;

/// State of charge of the nominal case.
pub const NOMINAL_SOC: f64 = 0.6;
/// Temperature of the nominal case, kelvin.
pub const NOMINAL_TEMPERATURE_K: f64 = 298.15;

/// State of charge, temperature, age and tolerance corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// State of charge at the start, 0..1.
    pub soc: f64,
    /// Temperature of the surroundings and, at the start, of the cell, kelvin.
    pub temperature_k: f64,
    /// Whether the cell is at the end of its life.
    pub aged: bool,
    /// Whether every tolerance is at its unfavourable end: currents and resistances high, wires long.
    pub cautious: bool,
    /// How much longer than drawn a wire may be, as a share; used where `cautious`.
    pub wire_length_tolerance: f64,
}

impl Condition {
    /// The nominal case: 60 % charged, 25 °C, new cell, stated values.
    pub fn nominal() -> Self {
        Self {
            soc: NOMINAL_SOC,
            temperature_k: NOMINAL_TEMPERATURE_K,
            aged: false,
            cautious: false,
            wire_length_tolerance: 0.0,
        }
    }

    /// The cautious set of a prop: full and at its floor, cold and hot, aged, unfavourable.
    pub fn cautious_set(of: &Conditions) -> Vec<Self> {
        let corner = |soc, temperature_k| Self {
            soc,
            temperature_k,
            aged: of.aged,
            cautious: true,
            wire_length_tolerance: of.wire_length_tolerance.si(),
        };
        let (cold, hot) = (of.temperature_min.si(), of.temperature_max.si());
        let floor = of.soc_floor.si();
        vec![
            corner(1.0, cold),
            corner(1.0, hot),
            corner(floor, cold),
            corner(floor, hot),
        ]
    }
}

impl std::fmt::Display for Condition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let celsius = (self.temperature_k - 273.15).round();
        write!(f, "{:.0} % charged, {celsius:.0} °C", self.soc * 100.0)?;
        f.write_str(if self.aged {
            ", aged cell"
        } else {
            ", new cell"
        })?;
        f.write_str(if self.cautious {
            ", unfavourable tolerances"
        } else {
            ", stated values"
        })
    }
}
