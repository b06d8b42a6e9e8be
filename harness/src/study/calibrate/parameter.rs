//! What is fitted, where it starts, how far it may go, and how it enters the prop.
//!
//! Inside, every parameter is a plain number in its natural scale: a share of the stated value for what has
//! one (1 is the value itself), else a multiple of a typical size (0 is nothing). So one step of any of them
//! is of a like size, which fitting and the judgement of what is determined both need.

use crate::build::parts::{CellType, Map, CHANNEL_NAMES};
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Rated;
use crate::electrical::CellState;
use crate::profile::cell::cell_model;
use crate::profile::condition::Condition;
use crate::units::{Current, Quantity, Resistance};
use serde::Serialize;

/// Pixel types with a smaller share of the prop's current than this are left at their stated values.
const LEAST_SHARE: f64 = 0.02;
/// Resistance of a bench supply's leads, ohms. Common practice for clip leads.
const LEADS_OHM: f64 = 0.05;

/// What a parameter is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Full current of a channel of a pixel type.
    Channel {
        /// Id of the pixel type.
        pixel: String,
        /// Index of the channel.
        channel: usize,
    },
    /// Dark current of a pixel type.
    Dark {
        /// Id of the pixel type.
        pixel: String,
    },
    /// Series resistance of the cell, or of the supply and its leads.
    Source,
    /// Resistance of every switch, contact and connector pole, by one factor.
    Contacts,
    /// What the open-circuit voltage is above the stated one.
    OpenCircuit,
    /// What the ammeter of a log shows without current.
    MeterZero(usize),
    /// When the play began on the clock of a log.
    Lag(usize),
}

/// A parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Parameter {
    /// What it is.
    pub what: What,
    /// For people.
    pub name: String,
    /// Unit of its value, SI.
    pub unit: &'static str,
    /// What 1 in natural scale is, SI.
    pub scale: f64,
    /// Where it starts, in natural scale.
    pub start: f64,
    /// Lowest value, in natural scale.
    pub low: f64,
    /// Highest value, in natural scale.
    pub high: f64,
}

impl Parameter {
    /// The value in SI units.
    pub fn value(&self, x: f64) -> f64 {
        self.scale * x
    }

    /// Whether it is the lag of a log.
    pub fn is_lag(&self) -> bool {
        matches!(self.what, What::Lag(_))
    }
}

/// Which kinds of parameters to fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// Channel currents.
    pub channels: bool,
    /// Dark currents.
    pub dark: bool,
    /// Series resistance of the source.
    pub source: bool,
    /// Contacts.
    pub contacts: bool,
    /// Offset of the open-circuit voltage.
    pub open_circuit: bool,
    /// Zero of the ammeter.
    pub meter_zero: bool,
}

impl Wanted {
    /// Words for a list of kinds, in the order in which they are told.
    pub const WORDS: [&'static str; 6] = [
        "channels",
        "dark",
        "source",
        "contacts",
        "ocv",
        "meter-zero",
    ];

    /// What is fitted where nothing is said: voltages are needed for all but the currents.
    pub fn usual(voltage: bool) -> Self {
        Self {
            channels: true,
            dark: true,
            source: voltage,
            contacts: voltage,
            open_circuit: voltage,
            meter_zero: false,
        }
    }

    /// From words; the one that is not known comes back.
    ///
    /// # Errors
    /// The first word that names no kind.
    pub fn of_words<'a>(words: impl IntoIterator<Item = &'a str>) -> Result<Self, String> {
        let mut out = Self {
            channels: false,
            dark: false,
            source: false,
            contacts: false,
            open_circuit: false,
            meter_zero: false,
        };
        for word in words {
            let slot = match word.trim() {
                "channels" => &mut out.channels,
                "dark" => &mut out.dark,
                "source" => &mut out.source,
                "contacts" => &mut out.contacts,
                "ocv" => &mut out.open_circuit,
                "meter-zero" => &mut out.meter_zero,
                other => return Err(other.to_owned()),
            };
            *slot = true;
        }
        Ok(out)
    }
}

/// The parameters of a prop for a number of logs with a current; lags come later.
pub fn parameters(
    prop: &Prop,
    condition: &Condition,
    wanted: Wanted,
    ammeters: &[usize],
) -> Vec<Parameter> {
    let mut out = Vec::new();
    let types = pixel_types(prop);
    for (id, _) in types.iter().filter(|t| t.1 >= LEAST_SHARE) {
        let Some(pixel) = prop.strips().map(|(_, s)| &s.pixel).find(|p| p.id == *id) else {
            continue;
        };
        for (k, channel) in pixel
            .channels
            .iter()
            .enumerate()
            .filter(|_| wanted.channels)
        {
            out.push(Parameter {
                what: What::Channel {
                    pixel: id.clone(),
                    channel: k,
                },
                name: format!("{id} {} current", CHANNEL_NAMES.get(k).unwrap_or(&"?")),
                unit: "A",
                scale: positive(channel.current.si(), 0.012),
                start: 1.0,
                low: 0.2,
                high: 3.0,
            });
        }
        if wanted.dark {
            out.push(Parameter {
                what: What::Dark { pixel: id.clone() },
                name: format!("{id} dark current"),
                unit: "A",
                scale: positive(pixel.dark.si(), 0.0006),
                start: if pixel.dark.si() > 0.0 { 1.0 } else { 0.0 },
                low: 0.0,
                high: 10.0,
            });
        }
    }
    if wanted.source {
        if let Some(ohm) = source_ohm(prop, condition).filter(|r| *r > 0.0) {
            out.push(factor(What::Source, "source resistance", ohm, 0.02, 20.0));
        }
    }
    if wanted.contacts {
        let ohm = contacts_ohm(prop);
        if ohm > 0.0 {
            out.push(factor(What::Contacts, "contacts together", ohm, 0.02, 50.0));
        }
    }
    if wanted.open_circuit && prop.cell().is_some() {
        out.push(Parameter {
            what: What::OpenCircuit,
            name: "open-circuit voltage offset".to_owned(),
            unit: "V",
            scale: 0.1,
            start: 0.0,
            low: -5.0,
            high: 5.0,
        });
    }
    if wanted.meter_zero {
        out.extend(ammeters.iter().map(|log| Parameter {
            what: What::MeterZero(*log),
            name: format!("zero of the ammeter, log {}", log + 1),
            unit: "A",
            scale: 0.01,
            start: 0.0,
            low: -20.0,
            high: 20.0,
        }));
    }
    out
}

/// The lag of a log that correlation put at `lag_s`, good to a few pieces of `width_s`.
pub(super) fn lag(log: usize, lag_s: f64, width_s: f64) -> Parameter {
    let start = lag_s / width_s;
    Parameter {
        what: What::Lag(log),
        name: format!("lag of log {}", log + 1),
        unit: "s",
        scale: width_s,
        start,
        low: start - 2.0,
        high: start + 2.0,
    }
}

fn factor(what: What, name: &str, value: f64, low: f64, high: f64) -> Parameter {
    Parameter {
        what,
        name: name.to_owned(),
        unit: "Ω",
        scale: value,
        start: 1.0,
        low,
        high,
    }
}

fn positive(value: f64, fallback: f64) -> f64 {
    if value > 0.0 {
        value
    } else {
        fallback
    }
}

/// Ids of the pixel types with their share of the current of everything lit.
pub fn pixel_types(prop: &Prop) -> Vec<(String, f64)> {
    let mut out: Vec<(String, f64)> = Vec::new();
    for (_, strip) in prop.strips() {
        let each: f64 = strip.pixel.channels.iter().map(|c| c.current.si()).sum();
        let all = each * f64::from(strip.pixels);
        match out.iter_mut().find(|(id, _)| *id == strip.pixel.id) {
            Some((_, sum)) => *sum += all,
            None => out.push((strip.pixel.id.clone(), all)),
        }
    }
    let total: f64 = out.iter().map(|t| t.1).sum();
    for (_, share) in &mut out {
        *share /= total.max(f64::MIN_POSITIVE);
    }
    out
}

/// Series resistance of the cell in a condition, ohms.
pub fn source_ohm(prop: &Prop, condition: &Condition) -> Option<f64> {
    let (_, cell) = prop.cell()?;
    let model = cell_model(cell, condition).ok()?;
    let rest = CellState::at_rest(condition.soc, condition.temperature_k - 273.15);
    Some(model.r0_ohm(&rest))
}

/// Resistance of every switch, contact and connector pole together, ohms.
pub fn contacts_ohm(prop: &Prop) -> f64 {
    prop.parts
        .iter()
        .map(|p| match &p.kind {
            PartKind::Switch(c) | PartKind::Contact(c) => c.resistance.si(),
            PartKind::Connector { contact, poles } => contact.resistance.si() * poles.len() as f64,
            _ => 0.0,
        })
        .sum()
}

/// The prop with a bench supply of a steady voltage in place of its cell.
pub fn on_supply(prop: &Prop, volts: f64) -> Prop {
    let mut out = prop.clone();
    for part in &mut out.parts {
        if let PartKind::Cell(cell) = &mut part.kind {
            cell.ocv_v.iter_mut().for_each(|v| *v = volts);
            cell.r0 = Map::constant(LEADS_OHM, None);
            cell.rc.clear();
        }
    }
    out
}

/// The prop with parameters at given values, in natural scale.
pub(super) fn apply(prop: &Prop, parameters: &[Parameter], x: &[f64]) -> Prop {
    let mut out = prop.clone();
    for (p, x) in parameters.iter().zip(x) {
        let value = p.value(*x);
        for part in &mut out.parts {
            match (&p.what, &mut part.kind) {
                (What::Channel { pixel, channel }, PartKind::Strip(s)) if s.pixel.id == *pixel => {
                    if let Some(c) = s.pixel.channels.get_mut(*channel) {
                        c.current = Rated::exact(Current::from_si(value));
                    }
                }
                (What::Dark { pixel }, PartKind::Strip(s)) if s.pixel.id == *pixel => {
                    s.pixel.dark = Rated::exact(Current::from_si(value));
                }
                (What::Source, PartKind::Cell(cell)) => scale_r0(cell, *x),
                (What::OpenCircuit, PartKind::Cell(cell)) => raise_ocv(cell, value),
                (What::Contacts, PartKind::Switch(c) | PartKind::Contact(c)) => {
                    scale_contact(&mut c.resistance, *x);
                }
                (What::Contacts, PartKind::Connector { contact, .. }) => {
                    scale_contact(&mut contact.resistance, *x);
                }
                _ => {}
            }
        }
    }
    out
}

fn scale_contact(resistance: &mut Rated<Resistance>, by: f64) {
    *resistance = Rated::exact(Resistance::from_si(resistance.si() * by));
}

/// Multiplies the series resistance of a cell.
pub(super) fn scale_r0(cell: &mut CellType, by: f64) {
    for value in cell.r0.value.iter_mut().flatten() {
        *value *= by;
    }
}

/// Raises the open-circuit voltage of a cell.
pub(super) fn raise_ocv(cell: &mut CellType, by_v: f64) {
    for value in &mut cell.ocv_v {
        *value = (*value + by_v).max(0.01);
    }
}
