//! What a calibration writes over in a build file.

use super::judge::{Estimate, Standing};
use super::parameter::{raise_ocv, scale_r0, What};
use crate::build::overrides::{Figure, Override};
use crate::build::parts::{Contact, CHANNEL_NAMES};
use crate::build::prop::{PartKind, Prop};

/// The overrides of everything that was fitted. `logs` says what it was fitted to; with `supply` what stands
/// for the cell was a bench supply, whose figures are none of the prop's.
pub fn overrides(prop: &Prop, estimates: &[Estimate], logs: &str, supply: bool) -> Vec<Override> {
    let mut out = Vec::new();
    for e in estimates {
        let Some(half) = e.half_width else { continue };
        let source = |stated: &str| {
            let shared = if e.standing == Standing::Shared {
                ", by a factor shared with others"
            } else {
                ""
            };
            format!("fitted to {logs}{shared}; stated before: {stated}")
        };
        let milli = |v: f64, unit: &str| format!("{:.4} m{unit}", v * 1e3);
        match &e.parameter.what {
            What::Channel { pixel, channel } => {
                if let Some(name) = CHANNEL_NAMES.get(*channel) {
                    out.push(Override::Channel {
                        pixel: pixel.clone(),
                        channel: name,
                        current: figure(e, half, "A", source(&milli(e.stated, "A"))),
                    });
                }
            }
            What::Dark { pixel } => out.push(Override::Dark {
                pixel: pixel.clone(),
                current: figure(e, half, "A", source(&milli(e.stated, "A"))),
            }),
            What::Contacts => {
                let factor = e.value / e.parameter.scale;
                let half = half / e.parameter.scale;
                for (part, contact) in contacts(prop) {
                    let ohm = contact.resistance.si();
                    out.push(Override::Contact {
                        part: part.to_owned(),
                        resistance: Figure {
                            value: ohm * factor,
                            low: (ohm * (factor - half)).max(0.0),
                            // It wears as before, whatever it measures today.
                            high: (ohm * (factor + half)).max(contact.resistance.high_si()),
                            unit: "Ω",
                            source: source(&milli(ohm, "Ω")),
                        },
                    });
                }
            }
            What::Source if !supply => out.extend(cell_override(prop, |part, cell| {
                let mut new = cell.clone();
                scale_r0(&mut new, e.value / e.parameter.scale);
                Override::SeriesResistance {
                    part,
                    temperature_k: new.r0.temperature_k,
                    soc: new.r0.soc,
                    ohm: new.r0.value,
                    source: format!(
                        "{}, by {:.4} ± {:.4} times",
                        source(
                            cell.r0
                                .source
                                .as_deref()
                                .unwrap_or("given in the build file")
                        ),
                        e.value / e.parameter.scale,
                        half / e.parameter.scale
                    ),
                }
            })),
            What::OpenCircuit if !supply => out.extend(cell_override(prop, |part, cell| {
                let mut new = cell.clone();
                raise_ocv(&mut new, e.value);
                Override::OpenCircuit {
                    part,
                    soc: new.ocv_soc,
                    volts: new.ocv_v,
                    linear: new.ocv_linear,
                    source: format!(
                        "{}, raised by {:.1} ± {:.1} mV",
                        source(
                            cell.ocv_source
                                .as_deref()
                                .unwrap_or("given in the build file")
                        ),
                        e.value * 1e3,
                        half * 1e3
                    ),
                }
            })),
            _ => {}
        }
    }
    out
}

fn figure(e: &Estimate, half: f64, unit: &'static str, source: String) -> Figure {
    Figure {
        value: e.value,
        low: (e.value - half).max(0.0),
        high: e.value + half,
        unit,
        source,
    }
}

fn contacts(prop: &Prop) -> impl Iterator<Item = (&str, &Contact)> {
    prop.parts.iter().filter_map(|p| match &p.kind {
        PartKind::Switch(c) | PartKind::Contact(c) => Some((p.name.as_str(), c)),
        PartKind::Connector { contact, .. } => Some((p.name.as_str(), contact)),
        _ => None,
    })
}

fn cell_override(
    prop: &Prop,
    make: impl Fn(String, &crate::build::parts::CellType) -> Override,
) -> Vec<Override> {
    let cells = prop.parts.iter().filter_map(|p| match &p.kind {
        PartKind::Cell(cell) => Some(make(p.name.clone(), cell)),
        _ => None,
    });
    cells.collect()
}

/// The first override that a build read from the calibrated text does not show, in words.
pub fn not_taken(prop: &Prop, list: &[Override]) -> Option<String> {
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-4 * b.abs() + 1e-9;
    let strip = |pixel: &str| {
        let mut strips = prop.strips().map(|(_, s)| &s.pixel);
        strips.find(|p| p.id == pixel)
    };
    let part = |name: &str| prop.parts.iter().find(|p| p.name == name).map(|p| &p.kind);
    list.iter().find_map(|one| match one {
        Override::Channel {
            pixel,
            channel,
            current,
        } => {
            let own = strip(pixel)?.channels.iter().find(|c| c.name == *channel)?;
            (!near(own.current.si(), current.value))
                .then(|| format!("{channel} current of {pixel}"))
        }
        Override::Dark { pixel, current } => (!near(strip(pixel)?.dark.si(), current.value))
            .then(|| format!("dark current of {pixel}")),
        Override::Contact {
            part: name,
            resistance,
        } => {
            let contact = contacts(prop).find(|(p, _)| p == name)?.1;
            (!near(contact.resistance.si(), resistance.value))
                .then(|| format!("resistance of {name}"))
        }
        Override::SeriesResistance {
            part: name, ohm, ..
        } => match part(name)? {
            PartKind::Cell(c) => {
                let both = c.r0.value.iter().flatten().zip(ohm.iter().flatten());
                let taken = both.into_iter().all(|(a, b)| near(*a, *b));
                (!taken).then(|| format!("resistance of {name}"))
            }
            _ => None,
        },
        Override::OpenCircuit {
            part: name, volts, ..
        } => match part(name)? {
            PartKind::Cell(c) => {
                let taken = c.ocv_v.iter().zip(volts).all(|(a, b)| near(*a, *b));
                (!taken).then(|| format!("open-circuit voltage of {name}"))
            }
            _ => None,
        },
    })
}
