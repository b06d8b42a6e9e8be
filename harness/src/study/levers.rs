//! What a change of the prop would give: each feasible one recomputed, the best first.
//!
//! Every change is first played by a digest; the best are then recomputed in full, by the search that
//! finds the cap of the prop as drawn. Bulk capacitors are not among them: what one lends depends on where it is soldered.

use super::cap::{find_cap, CapResult};
use super::digest::{digestible, Digest};
use super::trace::{cap_of, digest, play_digest, Progress, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::StudyError;
use crate::build::diag::Sink;
use crate::build::netlist::{Pin, Terminal};
use crate::build::parts::{CellType, Contact, Wire, WireSize};
use crate::build::prop::{Part, PartKind, Prop};
use crate::build::supply::{spot, Supply};
use crate::profile::cap_levels;
use crate::units::{Gauge, Length, Quantity};
use serde::Serialize;

/// Changes that are recomputed in full.
const RECOMPUTED: usize = 5;
/// A shorter lead, as a share of the drawn length.
const SHORTER: f64 = 0.7;
/// Opacity of a dimmed layer, as a share of what it was.
const DIMMED: f64 = 0.75;
/// Distance between pixels where a strip states none, metres.
const PITCH_M: f64 = 0.01;

/// A change of the prop.
struct Change {
    words: String,
    prop: Prop,
}

/// What a change gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lever {
    /// What is changed.
    pub change: String,
    /// The cap as drawn.
    pub cap_before: Option<u8>,
    /// The cap with the change.
    pub cap: Option<u8>,
    /// Steps of cap gained.
    pub gain: i32,
    /// Failures that no cap mended and that the change mends.
    pub mends: Vec<String>,
    /// What binds then.
    pub binding: Option<String>,
    /// Light at the new cap over light at the old one; null where unknown.
    pub light_ratio: Option<f64>,
    /// Whether it was recomputed by full plays; else by a digest.
    pub recomputed: bool,
}

/// The levers of one trace, from its cap as drawn.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn levers(
    prop: &Prop,
    trace: &dyn Trace,
    drawn: &CapResult,
    progress: &Progress<'_>,
) -> Result<Vec<Lever>, StudyError> {
    let digest = digest(prop, trace, &drawn.seen, GUESS_FRAMES)?;
    let guess = drawn.cap.unwrap_or(u8::MAX);
    let before = by_digest(prop, trace, &digest, guess)?;
    let mut found = Vec::new();
    for change in changes(prop) {
        progress(&change.words, 0.0);
        // A change that the network refuses is not feasible.
        if let Ok(after) = by_digest(&change.prop, trace, &digest, guess) {
            found.push((change, after));
        }
    }
    let gain = |a: &CapResult, b: &CapResult| {
        i32::from(a.cap.unwrap_or(0)) - i32::from(b.cap.unwrap_or(0))
            + 256 * (b.not_mended.len() as i32 - a.not_mended.len() as i32)
    };
    found.retain(|(_, after)| gain(after, &before) > 0);
    found.sort_by_key(|(_, after)| -gain(after, &before));
    let mut out = Vec::new();
    for (k, (change, after)) in found.into_iter().enumerate() {
        let full = k < RECOMPUTED;
        out.push(if full {
            let after = cap_of(&change.prop, trace, progress)?;
            lever(change.words, drawn, &after, true)
        } else {
            lever(change.words, &before, &after, false)
        });
    }
    out.extend(paint(prop, trace, drawn, &digest, progress)?);
    out.retain(|l| l.gain > 0 || !l.mends.is_empty());
    out.sort_by_key(|l| (-(l.mends.len() as i64), -l.gain));
    Ok(out)
}

/// The layer whose dimming gives the most, dimmed, recomputed in full.
fn paint(
    prop: &Prop,
    trace: &dyn Trace,
    drawn: &CapResult,
    digest: &Digest,
    progress: &Progress<'_>,
) -> Result<Option<Lever>, StudyError> {
    let (Some(preset), Some(true)) = (trace.preset(), drawn.cap.map(|c| c < u8::MAX)) else {
        return Ok(None);
    };
    let mut best: Option<(u8, usize, Box<dyn Trace>)> = None;
    for layer in 0..preset.layers.len() {
        let mut changed = preset.clone();
        let Some(l) = changed.layers.get_mut(layer) else {
            continue;
        };
        l.opacity.0 = (f64::from(l.opacity.0) * DIMMED) as u16;
        let Some(dimmed) = trace.with_preset(changed) else {
            return Ok(None);
        };
        // The frames that were the worst are kept again: they are those of the same moments.
        let short = digest.retaken(dimmed.open(prop, u8::MAX)?.as_mut())?;
        let cap = by_digest(prop, dimmed.as_ref(), &short, drawn.cap.unwrap_or(u8::MAX))?
            .cap
            .unwrap_or(0);
        if best.as_ref().is_none_or(|(b, ..)| cap > *b) {
            best = Some((cap, layer, dimmed));
        }
    }
    let Some((_, layer, dimmed)) = best else {
        return Ok(None);
    };
    let after = cap_of(prop, dimmed.as_ref(), progress)?;
    let words = format!(
        "layer {} at {:.0} % of its opacity",
        layer + 1,
        DIMMED * 100.0
    );
    Ok(Some(lever(words, drawn, &after, true)))
}

fn lever(change: String, before: &CapResult, after: &CapResult, recomputed: bool) -> Lever {
    let name = |r: &CheckResult| format!("{} ({})", r.id, r.part.as_deref().unwrap_or("the prop"));
    let still: Vec<String> = after.not_mended.iter().map(name).collect();
    let light = |c: &CapResult| c.light.map(|l| l.capped_cd);
    Lever {
        change,
        cap_before: before.cap,
        cap: after.cap,
        gain: i32::from(after.cap.unwrap_or(0)) - i32::from(before.cap.unwrap_or(0)),
        mends: before
            .not_mended
            .iter()
            .map(name)
            .filter(|n| !still.contains(n))
            .collect(),
        binding: after.one_above.as_ref().map(name),
        light_ratio: light(before).zip(light(after)).map(|(b, a)| a / b),
        recomputed,
    }
}

fn by_digest(
    prop: &Prop,
    trace: &dyn Trace,
    digest: &Digest,
    guess: u8,
) -> Result<CapResult, StudyError> {
    let at = |cap: u8| {
        let capped = digest.with_levels(|levels| cap_levels(levels, cap));
        let mut results = play_digest(prop, trace.preset(), &capped)?;
        results.retain(digestible);
        Ok(results)
    };
    find_cap(at, |_, _| Ok(guess))
}

/// Every change that makes sense for this drawing.
fn changes(prop: &Prop) -> Vec<Change> {
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
    out
}

type Add<'a> = dyn FnMut(String, &dyn Fn(&mut Prop)) + 'a;

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
    add(
        "every supply lead two gauge numbers thicker".to_owned(),
        &|p| {
            p.wires.iter_mut().filter(|w| carries(w)).for_each(thicker);
        },
    );
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
            format!(
                "a second feed at the end of {name} ({:.0} mm more of each lead)",
                run_m * 1e3
            ),
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

/// Another cell, switch, contact or fuse of the catalogue.
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
            "switch" => {
                let Some(better) = Contact::read(table) else {
                    continue;
                };
                for (i, part) in prop.parts.iter().enumerate() {
                    let PartKind::Switch(now) = &part.kind else {
                        continue;
                    };
                    if better.resistance.high_si() >= now.resistance.high_si() {
                        continue;
                    }
                    add(format!("{} as {id}", part.name), &|p| {
                        if let Some(PartKind::Switch(c)) = p.parts.get_mut(i).map(|p| &mut p.kind) {
                            *c = better.clone();
                        }
                    });
                }
            }
            _ => {}
        }
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
