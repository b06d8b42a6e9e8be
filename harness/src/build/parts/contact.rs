//! Parts with two ends that carry current: contacts, fuses, protection circuits, resistors, capacitors.

use crate::build::rated::{need_not_negative, need_positive, rated_not_negative, Rated};
use crate::build::reader::Table;
use crate::units::{Capacitance, Current, Quantity, Resistance, Temperature, Time, Voltage};

/// A switch, one pole of a connector, or a spring contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// Resistance; its high end is the worn contact.
    pub resistance: Rated<Resistance>,
    /// Rated continuous current.
    pub rating: Option<Rated<Current>>,
}

impl Contact {
    /// Reads a contact; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let resistance = need_not_negative(table, "resistance");
        let rating = rated_not_negative(table, "rating");
        Some(Self {
            resistance: resistance?,
            rating,
        })
    }
}

/// A fuse, resettable or not.
#[derive(Debug, Clone, PartialEq)]
pub struct Fuse {
    /// Resistance; its high end is the fuse after it has tripped once.
    pub resistance: Rated<Resistance>,
    /// Current it carries for ever at 23 °C.
    pub hold: Rated<Current>,
    /// Current at which it opens.
    pub trip: Option<Rated<Current>>,
    /// Hold current against ambient temperature: kelvin, amperes, rising temperature.
    pub derating: Vec<(f64, f64)>,
    /// Time over which it averages heat.
    pub thermal_time: Option<Rated<Time>>,
}

impl Fuse {
    /// Reads a fuse; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let resistance = need_not_negative(table, "resistance");
        let hold = need_positive(table, "hold");
        let trip = rated_not_negative(table, "trip");
        let thermal_time = rated_not_negative(table, "thermal-time");
        let derating = derating(table);
        Some(Self {
            resistance: resistance?,
            hold: hold?,
            trip,
            derating,
            thermal_time,
        })
    }

    /// Hold current at an ambient temperature in kelvin, straight lines between the table's points;
    /// `None` outside a table that has points, the 23 °C value where there is no table.
    pub fn hold_at(&self, temperature_k: f64) -> Option<f64> {
        if self.derating.is_empty() {
            return Some(self.hold.si());
        }
        self.derating.windows(2).find_map(|w| {
            let [(t0, h0), (t1, h1)] = w else { return None };
            (*t0..=*t1)
                .contains(&temperature_k)
                .then(|| h0 + (h1 - h0) * (temperature_k - t0) / (t1 - t0))
        })
    }
}

fn derating(table: &Table<'_>) -> Vec<(f64, f64)> {
    let Some(inner) = table.whole_table("derating") else {
        return Vec::new();
    };
    let temperature: Vec<Temperature> = inner.quantities("temperature").unwrap_or_default();
    let hold: Vec<Current> = inner.quantities("hold").unwrap_or_default();
    let _ = inner.text("source");
    let _ = inner.text("condition");
    inner.finish();
    if temperature.len() != hold.len()
        || temperature.len() < 2
        || temperature.windows(2).any(|w| w[0].si() >= w[1].si())
    {
        inner.fault(
            "hold",
            format!(
                "`{}` must pair rising temperatures with hold currents",
                inner.path()
            ),
            "does not pair up",
            "write temperature = [\"0 °C\", \"40 °C\"] and hold = [\"1.26 A\", \"0.95 A\"]",
        );
        return Vec::new();
    }
    temperature
        .into_iter()
        .zip(hold)
        .map(|(t, h)| (t.si(), h.si()))
        .collect()
}

/// A cell-protection circuit: two transistors and the chip that opens them.
#[derive(Debug, Clone, PartialEq)]
pub struct Protection {
    /// Resistance of the transistors.
    pub resistance: Rated<Resistance>,
    /// Discharge current at which it opens; its low end is the cautious figure.
    pub trip: Rated<Current>,
    /// How long the current must last.
    pub delay: Option<Rated<Time>>,
    /// Cell voltage at which it opens.
    pub under_voltage: Option<Rated<Voltage>>,
}

impl Protection {
    /// Reads a protection circuit; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let resistance = need_not_negative(table, "resistance");
        let trip = need_positive(table, "trip");
        let delay = rated_not_negative(table, "delay");
        let under_voltage = rated_not_negative(table, "under-voltage");
        Some(Self {
            resistance: resistance?,
            trip: trip?,
            delay,
            under_voltage,
        })
    }
}

/// A bulk capacitor.
#[derive(Debug, Clone, PartialEq)]
pub struct Capacitor {
    /// Capacitance.
    pub capacitance: Rated<Capacitance>,
    /// Equivalent series resistance.
    pub series_resistance: Option<Rated<Resistance>>,
}

impl Capacitor {
    /// Reads a capacitor; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        let capacitance = need_positive(table, "capacitance");
        let series_resistance = rated_not_negative(table, "series-resistance");
        Some(Self {
            capacitance: capacitance?,
            series_resistance,
        })
    }
}

/// A resistor, in a supply leg or in a data line.
#[derive(Debug, Clone, PartialEq)]
pub struct Resistor {
    /// Resistance.
    pub resistance: Rated<Resistance>,
}

impl Resistor {
    /// Reads a resistor; faults go to the table's sink.
    pub fn read(table: &Table<'_>) -> Option<Self> {
        Some(Self {
            resistance: need_not_negative(table, "resistance")?,
        })
    }
}
