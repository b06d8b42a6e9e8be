//! The kinds of quantity that files speak of, with the unit spellings that are read.

use super::Quantity;
use std::marker::PhantomData;
use uom::si::f64 as si;

/// Length, metres.
pub type Length = si::Length;
/// Area, square metres.
pub type Area = si::Area;
/// Electrical resistance, ohms.
pub type Resistance = si::ElectricalResistance;
/// Electric current, amperes.
pub type Current = si::ElectricCurrent;
/// Electric potential, volts.
pub type Voltage = si::ElectricPotential;
/// Electric charge, coulombs.
pub type Charge = si::ElectricCharge;
/// Capacitance, farads.
pub type Capacitance = si::Capacitance;
/// Time, seconds.
pub type Time = si::Time;
/// Temperature, kelvin inside, degrees Celsius in files.
pub type Temperature = si::ThermodynamicTemperature;
/// Power, watts.
pub type Power = si::Power;
/// A plain share; `"20 %"` is 0.2.
pub type Ratio = si::Ratio;
/// Frequency, hertz.
pub type Frequency = si::Frequency;
/// Luminous intensity, candela.
pub type Intensity = si::LuminousIntensity;
/// Heat capacity, joules a kelvin.
pub type HeatCapacity = si::HeatCapacity;
/// Thermal conductance, watts a kelvin.
pub type ThermalConductance = si::ThermalConductance;

/// Resistance per length, ohms a metre. `uom` has no such quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResistancePerLength(f64);

impl Quantity for ResistancePerLength {
    const WHAT: &'static str = "resistance per length";
    const EXAMPLE: &'static str = "53 mΩ/m";
    const UNITS: &'static [(&'static str, f64)] = &[
        ("mΩ/m", 1e-3),
        ("mohm/m", 1e-3),
        ("Ω/km", 1e-3),
        ("ohm/km", 1e-3),
        ("Ω/m", 1.0),
        ("ohm/m", 1.0),
    ];
    fn from_si(value: f64) -> Self {
        Self(value)
    }
    fn si(self) -> f64 {
        self.0
    }
}

macro_rules! quantity {
    ($name:ident, $what:literal, $example:literal, [$($unit:literal = $factor:expr),* $(,)?] $(, $offset:expr)?) => {
        impl Quantity for $name {
            const WHAT: &'static str = $what;
            const EXAMPLE: &'static str = $example;
            const UNITS: &'static [(&'static str, f64)] = &[$(($unit, $factor)),*];
            $(const OFFSET: f64 = $offset;)?
            fn from_si(value: f64) -> Self {
                Self { dimension: PhantomData, units: PhantomData, value }
            }
            fn si(self) -> f64 {
                self.value
            }
        }
    };
}

quantity!(
    Length,
    "length",
    "180 mm",
    [
        "mm" = 1e-3,
        "cm" = 1e-2,
        "m" = 1.0,
        "µm" = 1e-6,
        "um" = 1e-6,
        "nm" = 1e-9,
        "in" = 0.0254,
        "ft" = 0.3048,
    ]
);
quantity!(
    Area,
    "cross-section",
    "0.5 mm²",
    [
        "mm²" = 1e-6,
        "mm2" = 1e-6,
        "mm^2" = 1e-6,
        "cm²" = 1e-4,
        "cm2" = 1e-4
    ]
);
quantity!(
    Resistance,
    "resistance",
    "35 mΩ",
    [
        "mΩ" = 1e-3,
        "mohm" = 1e-3,
        "milliohm" = 1e-3,
        "µΩ" = 1e-6,
        "uohm" = 1e-6,
        "Ω" = 1.0,
        "ohm" = 1.0,
        "kΩ" = 1e3,
        "kohm" = 1e3,
        "MΩ" = 1e6,
        "Mohm" = 1e6,
    ]
);
quantity!(
    Current,
    "current",
    "1.2 A",
    [
        "A" = 1.0,
        "mA" = 1e-3,
        "µA" = 1e-6,
        "uA" = 1e-6,
        "nA" = 1e-9
    ]
);
quantity!(
    Voltage,
    "voltage",
    "3.3 V",
    ["V" = 1.0, "mV" = 1e-3, "µV" = 1e-6, "uV" = 1e-6]
);
quantity!(
    Charge,
    "capacity",
    "5 Ah",
    ["Ah" = 3600.0, "mAh" = 3.6, "C" = 1.0]
);
quantity!(
    Capacitance,
    "capacitance",
    "1000 µF",
    [
        "F" = 1.0,
        "mF" = 1e-3,
        "µF" = 1e-6,
        "uF" = 1e-6,
        "nF" = 1e-9,
        "pF" = 1e-12,
    ]
);
quantity!(
    Time,
    "time",
    "250 ms",
    [
        "s" = 1.0,
        "ms" = 1e-3,
        "µs" = 1e-6,
        "us" = 1e-6,
        "ns" = 1e-9,
        "min" = 60.0,
        "h" = 3600.0,
        "d" = 86400.0,
    ]
);
quantity!(
    Temperature,
    "temperature",
    "-10 °C",
    ["°C" = 1.0, "℃" = 1.0, "degC" = 1.0, "C" = 1.0],
    273.15
);
quantity!(
    Power,
    "power",
    "1.5 W",
    ["W" = 1.0, "mW" = 1e-3, "µW" = 1e-6, "uW" = 1e-6]
);
quantity!(
    Ratio,
    "share",
    "20 %",
    ["%" = 1e-2, "percent" = 1e-2, "‰" = 1e-3, "" = 1.0]
);
quantity!(
    Frequency,
    "frequency",
    "2 kHz",
    ["Hz" = 1.0, "kHz" = 1e3, "MHz" = 1e6, "/s" = 1.0]
);
quantity!(
    Intensity,
    "luminous intensity",
    "420 mcd",
    ["cd" = 1.0, "mcd" = 1e-3]
);
quantity!(HeatCapacity, "heat capacity", "63 J/K", ["J/K" = 1.0]);
quantity!(
    ThermalConductance,
    "thermal conductance",
    "0.1 W/K",
    ["W/K" = 1.0, "mW/K" = 1e-3]
);

/// The kinds that a unit spelling belongs to: `"mV"` gives `["voltage"]`. Used to say what was typed
/// where something else was expected.
pub(super) fn kinds_of_unit(unit: &str) -> Vec<&'static str> {
    fn add<Q: Quantity>(unit: &str, out: &mut Vec<&'static str>) {
        if !unit.is_empty() && Q::UNITS.iter().any(|(u, _)| *u == unit) {
            out.push(Q::WHAT);
        }
    }
    let mut out = Vec::new();
    add::<Length>(unit, &mut out);
    add::<Area>(unit, &mut out);
    add::<Resistance>(unit, &mut out);
    add::<Current>(unit, &mut out);
    add::<Voltage>(unit, &mut out);
    add::<Charge>(unit, &mut out);
    add::<Capacitance>(unit, &mut out);
    add::<Time>(unit, &mut out);
    add::<Temperature>(unit, &mut out);
    add::<Power>(unit, &mut out);
    add::<Ratio>(unit, &mut out);
    add::<Frequency>(unit, &mut out);
    add::<Intensity>(unit, &mut out);
    add::<HeatCapacity>(unit, &mut out);
    add::<ThermalConductance>(unit, &mut out);
    add::<ResistancePerLength>(unit, &mut out);
    if unit.eq_ignore_ascii_case("awg") {
        out.push("wire gauge");
    }
    out
}
