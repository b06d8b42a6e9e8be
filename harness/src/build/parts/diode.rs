//! Parts that decide which way current may flow, and supplies from outside.

use crate::build::rated::{need_not_negative, need_positive, rated_not_negative, Rated};
use crate::build::reader::Table;
use crate::units::{Current, Quantity, Resistance, Voltage};

/// A reverse-polarity device: a diode, or a transistor that acts as one.
#[derive(Debug, Clone, PartialEq)]
pub struct Diode {
    /// Voltage it takes whatever the current; 0 V for a transistor.
    pub forward: Rated<Voltage>,
    /// Resistance on top of that.
    pub resistance: Rated<Resistance>,
    /// Highest continuous forward current.
    pub rating: Option<Rated<Current>>,
}

impl Diode {
    /// Reads a diode; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let forward = need_not_negative(table, "forward-voltage");
        let resistance = rated_not_negative(table, "resistance")
            .unwrap_or_else(|| Rated::exact(Resistance::from_si(0.0)));
        let rating = rated_not_negative(table, "rating");
        Some(Self {
            forward: forward?,
            resistance,
            rating,
        })
    }
}

/// A supply from outside that can be present together with the cell: a USB lead, a bench supply. It is
/// not part of the checks; the wiring rules say what it feeds.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondSupply {
    /// Its voltage.
    pub voltage: Rated<Voltage>,
    /// Current it gives at most.
    pub current: Option<Rated<Current>>,
}

impl SecondSupply {
    /// Reads a supply; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let voltage = need_positive(table, "voltage");
        let current = rated_not_negative(table, "current");
        Some(Self {
            voltage: voltage?,
            current,
        })
    }
}
