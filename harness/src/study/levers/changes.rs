//! The changes that are tried: leads, feeds, splices, parts, capacitors.

use super::capacitors;
use super::Change;
use crate::build::diag::Sink;
use crate::build::netlist::{Pin, Terminal};
use crate::build::parts::{CellType, Contact, Wire, WireSize};
use crate::build::prop::{Part, PartKind, Prop};
use crate::build::supply::{spot, Supply};
use crate::units::{Gauge, Length, Quantity};

/// A shorter lead, as a share of the drawn length.
const SHORTER: f64 = 0.7;
/// Distance between pixels where a strip states none, metres.
const PITCH_M: f64 = 0.01;

/// Every change that makes sense for this drawing.
pub(super) fn changes(prop: &Prop) -> Vec<Change> {
    let mut out = Vec::new();
    let mut add = |words: String, change: &dyn Fn(&mut Prop)| {
        let mut changed = prop.clone();
        change(&mut changed);
        out.push(Change {
            words,
            prop: changed,
        });
    };
    wires(prop, &mut add);
    feeds(prop, &mut add);
    moved(prop, &mut add);
    parts(prop, &mut add);
    capacitors::changes(prop, &mut add);
    out
}

pub(super) type Add<'a> = dyn FnMut(String, &dyn Fn(&mut Prop)) + 'a;

/// Thicker and shorter leads: all of a gauge together, and each alone.
fn wires(prop: &Prop, add: &mut Add<'_>) {
    let carries = |w: &Wire| !w.from.pin.is_signal() && !w.to.pin.is_signal();
    let thicker = |wire: &mut Wire| {
        if let WireSize::Gauge {
            gauge: Gauge::Awg(n),
            per_length,
            ..
        } = &mut wire.size
        {
            *n -= 2;
            // The stated resistance was that of the thinner construction.
            *per_length = None;
        }
    };
    add("every supply lead two AWG sizes up".to_owned(), &|p| {
        p.wires.iter_mut().filter(|w| carries(w)).for_each(thicker);
    });
    for (i, wire) in prop.wires.iter().enumerate().filter(|(_, w)| carries(w)) {
        let WireSize::Gauge { gauge, length, .. } = &wire.size else {
            continue;
        };
        if let Gauge::Awg(n) = gauge {
            add(
                format!("{} in {} AWG instead of {n} AWG", wire.name, n - 2),
                &|p| {
                    p.wires.get_mut(i).into_iter().for_each(thicker);
                },
            );
        }
        let shorter = length.si() * SHORTER;
        add(
            format!("{} shortened to {:.0} mm", wire.name, shorter * 1e3),
            &|p| {
                if let Some(WireSize::Gauge { length, .. }) =
                    p.wires.get_mut(i).map(|w| &mut w.size)
                {
                    *length = Length::from_si(shorter);
                }
            },
        );
    }
}

/// A second feed for each strip that is fed at one end only.
fn feeds(prop: &Prop, add: &mut Add<'_>) {
    for (part, strip) in prop.strips().filter(|(_, s)| s.pixels > 1) {
        let of = |pin: Pin| {
            prop.wires.iter().find(|w| {
                [&w.from, &w.to]
                    .iter()
                    .any(|t| t.part == part && t.pin == pin)
            })
        };
        let (plus, minus, last) = (
            of(Pin::RailPlus(0)),
            of(Pin::RailMinus(0)),
            strip.pixels - 1,
        );
        let fed_there = of(Pin::RailPlus(last)).is_some() || of(Pin::RailMinus(last)).is_some();
        let (Some(plus), Some(minus), false) = (plus, minus, fed_there) else {
            continue;
        };
        let name = prop.parts.get(part).map_or("strip", |p| p.name.as_str());
        let run_m = strip.pitch.map_or(PITCH_M, |p| p.si()) * f64::from(strip.pixels);
        let second = |wire: &Wire, pin: Pin| {
            let mut copy = wire.clone();
            copy.name = format!("{} second feed", wire.name);
            let end = if copy.from.part == part {
                &mut copy.from
            } else {
                &mut copy.to
            };
            *end = Terminal {
                part,
                pin,
                text: format!("{name}.end"),
            };
            if let WireSize::Gauge { length, .. } = &mut copy.size {
                *length = Length::from_si(length.si() + run_m);
            }
            copy
        };
        add(
            format!("second feed at the end of {name}, {:.0} mm on", run_m * 1e3),
            &|p| {
                p.wires.push(second(plus, Pin::RailPlus(last)));
                p.wires.push(second(minus, Pin::RailMinus(last)));
                let place = p.wire_places.first().cloned();
                p.wire_places
                    .extend(place.iter().cloned().chain(place.clone()));
            },
        );
    }
}

/// The board's leads taken from another splice on the same conductor: what carries the strips' current
/// then no longer lowers the board's supply. The lead grows by what lies between the splices.
fn moved(prop: &Prop, add: &mut Add<'_>) {
    let Some((board, _)) = prop.board() else {
        return;
    };
    let supply = Supply::trace(prop);
    for (i, wire) in prop.wires.iter().enumerate() {
        let (own, other) = if wire.from.part == board {
            (&wire.from, &wire.to)
        } else {
            (&wire.to, &wire.from)
        };
        if own.part != board || !matches!(own.pin, Pin::Supply | Pin::Ground) {
            continue;
        }
        let Some(conductor) = supply.conductor(spot(other)) else {
            continue;
        };
        for (part, pin) in supply.together(conductor) {
            // Straight to the cell is the other place where a lead can be soldered.
            let is_splice = pin == Pin::Joint && part != other.part;
            let name = prop.parts.get(part).map_or("?", |p| p.name.as_str());
            if !is_splice {
                continue;
            }
            add(
                format!("{} moved from {} to {name}", wire.name, other.text),
                &|p| {
                    if let Some(w) = p.wires.get_mut(i) {
                        let to = Terminal {
                            part,
                            pin,
                            text: name.to_owned(),
                        };
                        if w.from.part == board {
                            w.to = to
                        } else {
                            w.from = to
                        }
                    }
                },
            );
        }
    }
}

/// Another cell of the catalogue; a switch or contact of it in place of each that has more resistance.
fn parts(prop: &Prop, add: &mut Add<'_>) {
    let sink = Sink::new();
    let catalogue = prop.catalogue.parse(&sink);
    let entries = catalogue.entries(&sink);
    let used = |id: &str| prop.parts.iter().any(|p| p.from.as_deref() == Some(id));
    for (id, kind, table) in entries.iter().filter(|(id, ..)| !used(id)) {
        match kind.as_str() {
            "cell" => {
                // Another set of figures of the very cell that is built in is no change.
                let built_in = |p: &Part| {
                    matches!(p.kind, PartKind::Cell(_))
                        && p.from.as_deref().is_some_and(|from| same_cell(from, id))
                };
                if prop.parts.iter().any(built_in) {
                    continue;
                }
                let Some(cell) = CellType::read(id, table) else {
                    continue;
                };
                add(format!("cell {id}"), &|p| {
                    for part in &mut p.parts {
                        if let PartKind::Cell(c) = &mut part.kind {
                            **c = cell.clone();
                        }
                    }
                });
            }
            "switch" | "contact" => {
                if let Some(better) = Contact::read(table) {
                    contact(prop, kind, id, &better, add);
                }
            }
            _ => {}
        }
    }
}

fn contact(prop: &Prop, kind: &str, id: &str, better: &Contact, add: &mut Add<'_>) {
    for (i, part) in prop.parts.iter().enumerate() {
        let (PartKind::Switch(now) | PartKind::Contact(now)) = &part.kind else {
            continue;
        };
        // A better part that burns out is none.
        let bears = match (&better.rating, &now.rating) {
            (Some(b), Some(n)) => b.low_si() >= n.low_si(),
            (b, n) => b.is_some() || n.is_none(),
        };
        if part.kind.word() != kind
            || better.resistance.high_si() >= now.resistance.high_si()
            || !bears
        {
            continue;
        }
        add(format!("{} as {id}", part.name), &|p| {
            if let Some(PartKind::Switch(c) | PartKind::Contact(c)) =
                p.parts.get_mut(i).map(|p| &mut p.kind)
            {
                *c = better.clone();
            }
        });
    }
}

/// Whether one id is the other with something added, as the catalogue names sets of one cell.
fn same_cell(a: &str, b: &str) -> bool {
    let stands_on = |long: &str, short: &str| {
        long.strip_prefix(short)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
    };
    stands_on(a, b) || stands_on(b, a)
}
