//! The tolerances of a prop, and a prop drawn from them.

use super::design::Spread;
use crate::build::parts::{Board, Contact, PixelType, Threshold, WireSize};
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Rated;
use crate::units::{Quantity, Ratio};
use serde::Serialize;
use std::collections::BTreeSet;

/// Spread of a cell's resistance between cells of one type, where no figure is stated.
const CELL_RESISTANCE_SHARE: f64 = 0.15;

/// What a tolerance is about.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Target {
    PixelCurrent(String),
    PixelVoltage(String),
    PixelDark(String),
    PixelLogic(String),
    Resistance(usize),
    Trip(usize),
    UnderVoltage(usize),
    Rails(usize),
    BoardLoad(usize),
    BoardLevels(usize),
    Sound(usize),
    CellCapacity(usize),
    CellResistance(usize),
    CellAge(usize),
    WireLength(usize),
    WireCopper(usize),
}

/// One thing that varies from prop to prop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tolerance {
    /// What varies: "column contact", "wire P3 length".
    pub name: String,
    /// Where its ends come from.
    pub source: String,
    #[serde(skip)]
    target: Target,
}

/// Lists what varies in a prop: every figure with a stated spread that an operating point or a
/// threshold depends on, wire lengths, and cell resistance and age. Ratings are no random figures and
/// keep their cautious end.
pub fn tolerances(prop: &Prop) -> Vec<Tolerance> {
    let mut out = Vec::new();
    let mut add = |name: String, source: &str, target: Target| {
        out.push(Tolerance {
            name,
            source: source.to_owned(),
            target,
        });
    };
    let mut pixels = BTreeSet::new();
    for (i, part) in prop.parts.iter().enumerate() {
        let name = &part.name;
        match &part.kind {
            PartKind::Strip(s) => {
                if s.rail_plus.has_spread() || s.rail_minus.has_spread() {
                    add(
                        format!("{name} rails"),
                        s.rail_plus.source_or_given(),
                        Target::Rails(i),
                    );
                }
                if pixels.insert(s.pixel.id.clone()) {
                    pixel(&s.pixel, &mut add);
                }
            }
            PartKind::Switch(c) | PartKind::Contact(c) | PartKind::Connector { contact: c, .. } => {
                spread(
                    &c.resistance,
                    || format!("{name} contact"),
                    Target::Resistance(i),
                    &mut add,
                );
            }
            PartKind::Fuse(f) => {
                spread(
                    &f.resistance,
                    || format!("{name} resistance"),
                    Target::Resistance(i),
                    &mut add,
                );
            }
            PartKind::Resistor(r) => {
                spread(
                    &r.resistance,
                    || format!("{name} resistance"),
                    Target::Resistance(i),
                    &mut add,
                );
            }
            PartKind::Protection(p) => {
                spread(
                    &p.resistance,
                    || format!("{name} resistance"),
                    Target::Resistance(i),
                    &mut add,
                );
                spread(
                    &p.trip,
                    || format!("{name} trip current"),
                    Target::Trip(i),
                    &mut add,
                );
                if let Some(v) = &p.under_voltage {
                    spread(
                        v,
                        || format!("{name} under-voltage"),
                        Target::UnderVoltage(i),
                        &mut add,
                    );
                }
            }
            PartKind::Board(b) => board(name, i, b, &mut add),
            PartKind::Cell(c) => {
                spread(
                    &c.capacity,
                    || format!("{name} capacity"),
                    Target::CellCapacity(i),
                    &mut add,
                );
                add(
                    format!("{name} resistance"),
                    "common practice: ±15 % between cells of one type",
                    Target::CellResistance(i),
                );
                if prop.conditions.aged
                    && (c.ageing_resistance.si() > 0.0 || c.ageing_capacity.si() > 0.0)
                {
                    add(
                        format!("{name} age"),
                        "new to end of life, any age as likely",
                        Target::CellAge(i),
                    );
                }
            }
            _ => {}
        }
    }
    for (i, wire) in prop.wires.iter().enumerate() {
        if wire.from.pin.is_signal() || wire.to.pin.is_signal() {
            continue;
        }
        match &wire.size {
            WireSize::Gauge { per_length, .. } => {
                if prop.conditions.wire_length_tolerance.si() > 0.0 {
                    add(
                        format!("wire {} length", wire.name),
                        "wire-length-tolerance of the build file",
                        Target::WireLength(i),
                    );
                }
                if let Some(r) = per_length {
                    spread(
                        r,
                        || format!("wire {} copper", wire.name),
                        Target::WireCopper(i),
                        &mut add,
                    );
                }
            }
            WireSize::Resistance(r) => {
                spread(
                    r,
                    || format!("wire {} resistance", wire.name),
                    Target::WireCopper(i),
                    &mut add,
                );
            }
        }
    }
    out
}

type Add<'a> = dyn FnMut(String, &str, Target) + 'a;

fn spread<Q: Quantity>(
    of: &Rated<Q>,
    name: impl Fn() -> String,
    target: Target,
    add: &mut Add<'_>,
) {
    if of.has_spread() {
        add(name(), of.source_or_given(), target);
    }
}

fn pixel(p: &PixelType, add: &mut Add<'_>) {
    let source = |pick: &dyn Fn(&crate::build::parts::Channel) -> Option<String>| {
        p.channels.iter().find_map(pick)
    };
    let current = source(&|c| {
        c.current
            .has_spread()
            .then(|| c.current.source_or_given().to_owned())
    });
    if let Some(s) = current {
        add(
            format!("{} current", p.id),
            &s,
            Target::PixelCurrent(p.id.clone()),
        );
    }
    let voltage = source(&|c| {
        (c.off.has_spread() || c.full.has_spread()).then(|| c.full.source_or_given().to_owned())
    });
    if let Some(s) = voltage {
        add(
            format!("{} forward voltage", p.id),
            &s,
            Target::PixelVoltage(p.id.clone()),
        );
    }
    spread(
        &p.dark,
        || format!("{} dark current", p.id),
        Target::PixelDark(p.id.clone()),
        add,
    );
    if let Some(t) = p.logic_high.as_ref().filter(|t| threshold_spread(t)) {
        add(
            format!("{} logic threshold", p.id),
            t.source(),
            Target::PixelLogic(p.id.clone()),
        );
    }
}

fn threshold_spread(t: &Threshold) -> bool {
    match t {
        Threshold::OfSupply(r) => r.has_spread(),
        Threshold::Fixed(v) => v.has_spread(),
    }
}

fn board(name: &str, i: usize, b: &Board, add: &mut Add<'_>) {
    let loads = b.logic.has_spread()
        || b.card.as_ref().is_some_and(Rated::has_spread)
        || b.regulator.quiescent.has_spread();
    if loads {
        add(
            format!("{name} current"),
            b.logic.source_or_given(),
            Target::BoardLoad(i),
        );
    }
    let levels = [
        &b.reset_level,
        &b.card_min,
        &b.supply_min,
        &b.regulator.input_min,
    ];
    if let Some(l) = levels.into_iter().flatten().find(|l| l.has_spread()) {
        add(
            format!("{name} levels"),
            l.source_or_given(),
            Target::BoardLevels(i),
        );
    }
    if let Some(a) = &b.amplifier {
        if a.power.has_spread() || a.efficiency.has_spread() {
            add(
                format!("{name} amplifier"),
                a.power.source_or_given(),
                Target::Sound(i),
            );
        }
    }
}

/// Takes a figure at a share of all parts: it becomes exact.
fn take<Q: Quantity>(of: &mut Rated<Q>, spread: Spread, u: f64) {
    let value = Q::from_si(spread.value(of.low_si(), of.si(), of.high_si(), u));
    (of.nominal, of.low, of.high) = (value, value, value);
}

fn take_opt<Q: Quantity>(of: &mut Option<Rated<Q>>, spread: Spread, u: f64) {
    if let Some(of) = of {
        take(of, spread, u);
    }
}

/// The prop in which every tolerance is drawn at its share (0..1) of all parts, in the order of
/// [`tolerances`]. Played without further caution it is one of the props that a builder may end up with.
pub fn drawn(prop: &Prop, tolerances: &[Tolerance], shares: &[f64], spread: Spread) -> Prop {
    let mut out = prop.clone();
    for (tolerance, u) in tolerances.iter().zip(shares) {
        draw(&mut out, &tolerance.target, spread, *u);
    }
    out
}

fn draw(prop: &mut Prop, target: &Target, s: Spread, u: f64) {
    let length = prop.conditions.wire_length_tolerance.si();
    match target {
        Target::PixelCurrent(id) => each_pixel(prop, id, |p| {
            p.channels
                .iter_mut()
                .for_each(|c| take(&mut c.current, s, u));
        }),
        Target::PixelVoltage(id) => each_pixel(prop, id, |p| {
            for c in &mut p.channels {
                take(&mut c.off, s, u);
                take(&mut c.full, s, u);
            }
        }),
        Target::PixelDark(id) => each_pixel(prop, id, |p| take(&mut p.dark, s, u)),
        Target::PixelLogic(id) => each_pixel(prop, id, |p| {
            for t in [&mut p.logic_high, &mut p.logic_low].into_iter().flatten() {
                match t {
                    Threshold::OfSupply(r) => take(r, s, u),
                    Threshold::Fixed(v) => take(v, s, u),
                }
            }
        }),
        Target::WireLength(i) => {
            if let Some(WireSize::Gauge { length: l, .. }) =
                prop.wires.get_mut(*i).map(|w| &mut w.size)
            {
                let factor = s.value(1.0 - length, 1.0, 1.0 + length, u);
                *l = Quantity::from_si(l.si() * factor);
            }
        }
        Target::WireCopper(i) => match prop.wires.get_mut(*i).map(|w| &mut w.size) {
            Some(WireSize::Gauge { per_length, .. }) => take_opt(per_length, s, u),
            Some(WireSize::Resistance(r)) => take(r, s, u),
            None => {}
        },
        Target::Resistance(i)
        | Target::Trip(i)
        | Target::UnderVoltage(i)
        | Target::Rails(i)
        | Target::BoardLoad(i)
        | Target::BoardLevels(i)
        | Target::Sound(i)
        | Target::CellCapacity(i)
        | Target::CellResistance(i)
        | Target::CellAge(i) => {
            if let Some(part) = prop.parts.get_mut(*i) {
                draw_part(&mut part.kind, target, s, u);
            }
        }
    }
}

fn each_pixel(prop: &mut Prop, id: &str, mut change: impl FnMut(&mut PixelType)) {
    for part in &mut prop.parts {
        if let PartKind::Strip(strip) = &mut part.kind {
            if strip.pixel.id == id {
                change(&mut strip.pixel);
            }
        }
    }
}

fn draw_part(kind: &mut PartKind, target: &Target, s: Spread, u: f64) {
    match (kind, target) {
        (
            PartKind::Switch(c) | PartKind::Contact(c) | PartKind::Connector { contact: c, .. },
            Target::Resistance(_),
        ) => contact(c, s, u),
        (PartKind::Fuse(f), Target::Resistance(_)) => take(&mut f.resistance, s, u),
        (PartKind::Resistor(r), Target::Resistance(_)) => take(&mut r.resistance, s, u),
        (PartKind::Protection(p), Target::Resistance(_)) => take(&mut p.resistance, s, u),
        (PartKind::Protection(p), Target::Trip(_)) => take(&mut p.trip, s, u),
        (PartKind::Protection(p), Target::UnderVoltage(_)) => take_opt(&mut p.under_voltage, s, u),
        (PartKind::Strip(strip), Target::Rails(_)) => {
            take(&mut strip.rail_plus, s, u);
            take(&mut strip.rail_minus, s, u);
        }
        (PartKind::Board(b), Target::BoardLoad(_)) => {
            take(&mut b.logic, s, u);
            take_opt(&mut b.card, s, u);
            take(&mut b.regulator.quiescent, s, u);
        }
        (PartKind::Board(b), Target::BoardLevels(_)) => {
            take_opt(&mut b.reset_level, s, u);
            take_opt(&mut b.card_min, s, u);
            take_opt(&mut b.supply_min, s, u);
            take_opt(&mut b.regulator.input_min, s, u);
        }
        (PartKind::Board(b), Target::Sound(_)) => {
            if let Some(a) = &mut b.amplifier {
                take(&mut a.power, s, u);
                // More power goes with less efficiency: both to the unfavourable side.
                take(&mut a.efficiency, s, 1.0 - u);
            }
        }
        (PartKind::Cell(c), Target::CellCapacity(_)) => take(&mut c.capacity, s, u),
        (PartKind::Cell(c), Target::CellResistance(_)) => {
            let factor = s.value(
                1.0 - CELL_RESISTANCE_SHARE,
                1.0,
                1.0 + CELL_RESISTANCE_SHARE,
                u,
            );
            let maps = std::iter::once(&mut c.r0).chain(c.rc.iter_mut().map(|p| &mut p.resistance));
            for map in maps {
                map.value.iter_mut().flatten().for_each(|r| *r *= factor);
            }
        }
        (PartKind::Cell(c), Target::CellAge(_)) => {
            for share in [&mut c.ageing_resistance, &mut c.ageing_capacity] {
                let now = Ratio::from_si(share.si() * u);
                (share.nominal, share.low, share.high) = (now, now, now);
            }
        }
        _ => {}
    }
}

fn contact(c: &mut Contact, s: Spread, u: f64) {
    take(&mut c.resistance, s, u);
}
