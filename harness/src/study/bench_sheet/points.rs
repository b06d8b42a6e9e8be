//! Which readings a sheet asks for, and what they should be.

use super::meter::{between, edges, reached, Edge, Take};
use super::powered::{is_load, play, supply_v, Powered};
use super::states::BenchState;
use super::{BenchSheet, Probe, SheetRow, ISOLATION_OHM, METER_OHM, OPEN_OHM};
use crate::build::netlist::Pin;
use crate::build::parts::WireSize;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{spot, Fed, Spot, Supply};
use crate::profile::condition::Condition;
use crate::units::Quantity;
use std::collections::BTreeSet;

/// Share by which a supply may differ from its setting, and a meter from the truth, together: common practice.
const METER_SHARE: f64 = 0.03;
/// Smallest step that counts in a voltage, volts.
const METER_V: f64 = 0.01;
/// Smallest step that counts in a current, amperes.
const METER_A: f64 = 0.005;
/// How far pixels of one lot are from the stated current: common practice where no spread is stated.
const PIXEL_SHARE: f64 = 0.15;

/// Makes the sheet of a prop for some states; the last one is the brightest.
pub fn bench_sheet(prop: &Prop, states: Vec<BenchState>) -> BenchSheet {
    let supply_v = supply_v(prop);
    let free: Vec<Powered> = states
        .iter()
        .map(|s| play(prop, s, supply_v, f64::INFINITY, Condition::nominal()))
        .collect();
    let most = free.iter().map(|p| p.supply_a).fold(0.0, f64::max);
    // A quarter above what is expected, in steps of a tenth.
    let limit_a = ((most * 1.25 * 10.0).ceil() / 10.0).max(0.1);
    let mut sheet = BenchSheet {
        supply_v,
        limit_a,
        states,
        rows: Vec::new(),
    };
    let probes = probes(prop, &sheet, &free);
    let stated = predict(prop, &sheet, &probes, Take::Stated);
    let high = predict(prop, &sheet, &probes, Take::High);
    let low = predict(prop, &sheet, &probes, Take::Low);
    let mut counts = [0usize; 4];
    for (k, (probe, when)) in probes.into_iter().enumerate() {
        let at = |v: &[f64]| v.get(k).copied().unwrap_or(f64::NAN);
        let (slot, letter) = match probe {
            Probe::Ohm { .. } => (0, 'R'),
            Probe::Ampere { .. } => (1, 'A'),
            Probe::Volt { .. } => (2, 'V'),
            Probe::Pixels { .. } => (3, 'P'),
        };
        if let Some(n) = counts.get_mut(slot) {
            *n += 1;
        }
        let number = counts.get(slot).copied().unwrap_or(0);
        let (expected, low, high) = range(&probe, at(&stated), at(&low), at(&high));
        sheet.rows.push(SheetRow {
            id: format!("{letter}{number:02}"),
            when,
            what: words(prop, &probe),
            unit: probe.unit(),
            expected,
            low,
            high,
            probe,
        });
    }
    sheet
}

/// Expected value with its bounds, as printed.
fn range(
    probe: &Probe,
    stated: f64,
    low: f64,
    high: f64,
) -> (Option<f64>, Option<f64>, Option<f64>) {
    let (least, most) = (stated.min(low).min(high), stated.max(low).max(high));
    match probe {
        Probe::Ohm { .. } if stated >= OPEN_OHM => (None, Some(ISOLATION_OHM), None),
        Probe::Ohm { .. } => (
            Some(stated),
            Some((least * 0.95 - METER_OHM).max(0.0)),
            Some(most * 1.05 + METER_OHM),
        ),
        Probe::Volt { .. } => {
            // A drop follows the current, which spreads with the pixels; a supply does so little.
            let share = if stated.abs() < 1.0 { PIXEL_SHARE } else { 0.0 };
            let room = METER_V + (METER_SHARE + share) * stated.abs();
            (Some(stated), Some(least - room), Some(most + room))
        }
        Probe::Ampere { .. } => {
            let room = METER_A + METER_SHARE * stated.abs();
            let spread = PIXEL_SHARE * stated.abs();
            let most = most.max(stated + spread) + room;
            (
                Some(stated),
                Some((least.min(stated - spread) - room).max(0.0)),
                Some(most),
            )
        }
        Probe::Pixels { .. } => (Some(stated), Some(stated), Some(stated)),
    }
}

/// What every probe reads on a prop.
pub(super) fn predict(
    prop: &Prop,
    sheet: &BenchSheet,
    probes: &[(Probe, String)],
    take: Take,
) -> Vec<f64> {
    predict_faulty(prop, sheet, probes.iter().map(|p| &p.0), take, &[])
}

/// As [`predict`], with pixels that are dead: strip part and number of the pixel in the strip.
pub(super) fn predict_faulty<'p>(
    prop: &Prop,
    sheet: &BenchSheet,
    probes: impl Iterator<Item = &'p Probe>,
    take: Take,
    dead: &[(usize, u32)],
) -> Vec<f64> {
    let (on, off) = (edges(prop, true, take), edges(prop, false, take));
    let condition = match take {
        Take::High => Condition {
            cautious: true,
            wire_length_tolerance: prop.conditions.wire_length_tolerance.si(),
            ..Condition::nominal()
        },
        _ => Condition::nominal(),
    };
    let played: Vec<Powered> = sheet
        .states
        .iter()
        .map(|s| {
            let state = without(prop, s, dead);
            play(prop, &state, sheet.supply_v, sheet.limit_a, condition)
        })
        .collect();
    probes
        .map(|probe| match probe {
            Probe::Ohm { from, to, on: with } => {
                between(if *with { &on } else { &off }, *from, *to)
            }
            Probe::Volt { from, to, state } => {
                let at = |s: &Spot| {
                    let volts = played.get(*state).and_then(|p| p.volts.get(s));
                    volts.copied().unwrap_or(0.0)
                };
                at(to) - at(from)
            }
            Probe::Ampere { state } => played.get(*state).map_or(0.0, |p| p.supply_a),
            Probe::Pixels { part, state } => lit(prop, sheet, &played, *part, *state, dead),
        })
        .collect()
}

/// A state in which some pixels stay dark.
fn without(prop: &Prop, state: &BenchState, dead: &[(usize, u32)]) -> BenchState {
    let mut state = state.clone();
    let channels = prop.frame_channels();
    for (part, pixel) in dead {
        let first = prop.strips().find(|(i, _)| i == part).map(|(_, s)| s.first);
        let Some(first) = first else { continue };
        let start = (first + pixel) as usize * channels;
        for level in state.levels.iter_mut().skip(start).take(channels) {
            *level = 0;
        }
    }
    state
}

/// Pixels of a strip that are lit: those driven at all, if the strip is fed and its data arrives.
fn lit(
    prop: &Prop,
    sheet: &BenchSheet,
    played: &[Powered],
    part: usize,
    state: usize,
    dead: &[(usize, u32)],
) -> f64 {
    let Some((_, strip)) = prop.strips().find(|(i, _)| *i == part) else {
        return 0.0;
    };
    let supply = Supply::trace(prop);
    let (plus, minus) = supply.feeds(part);
    let volts = |s: Option<&Spot>| {
        s.and_then(|s| played.get(state).and_then(|p| p.volts.get(s)))
            .copied()
    };
    let fed = match (plus.first(), minus.first()) {
        (Some(p), Some(m)) if supply.fed(*p, *m) == Fed::Forward => {
            volts(Some(p)).unwrap_or(0.0) - volts(Some(m)).unwrap_or(0.0)
        }
        _ => 0.0,
    };
    // Below this supply no pixel type of the catalogue shows light (from memory).
    if fed < 2.0 || !has_data(prop, part) {
        return 0.0;
    }
    let Some(bench) = sheet.states.get(state) else {
        return 0.0;
    };
    let bench = without(prop, bench, dead);
    let channels = prop.frame_channels();
    let pixels = bench
        .levels
        .chunks(channels)
        .skip(strip.first as usize)
        .take(strip.pixels as usize);
    pixels.filter(|p| p.iter().any(|l| *l > 0)).count() as f64
}

/// Whether data comes from the board to a strip, through strips before it. A wire of a megohm counts as open.
fn has_data(prop: &Prop, part: usize) -> bool {
    let joined: Vec<Edge> = edges(prop, true, Take::Stated)
        .into_iter()
        .filter(|e| e.ohm < OPEN_OHM / 2.0)
        .collect();
    let mut at = part;
    for _ in 0..prop.parts.len() {
        let reached = reached(&joined, (at, Pin::DataIn));
        if reached.keys().any(|(_, pin)| matches!(pin, Pin::Data(_))) {
            return true;
        }
        match reached
            .keys()
            .find(|(p, pin)| *pin == Pin::DataOut && *p != at)
        {
            Some((before, _)) => at = *before,
            None => return false,
        }
    }
    false
}

/// Every reading in the order of work.
fn probes(prop: &Prop, sheet: &BenchSheet, free: &[Powered]) -> Vec<(Probe, String)> {
    let mut out = Vec::new();
    resistances(prop, &mut out);
    isolation(prop, &mut out);
    switches(prop, &mut out);
    let brightest = free
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.supply_a.total_cmp(&b.1.supply_a))
        .map_or(0, |(k, _)| k);
    for (state, bench) in sheet.states.iter().enumerate() {
        let when = format!("supply on, {}", bench.name);
        out.push((Probe::Ampere { state }, when.clone()));
        loads(prop, state, &when, &mut out);
        if state == brightest {
            legs(prop, state, &when, free.get(state), &mut out);
        }
        for (part, strip) in prop.strips().filter(|_| bench.steady) {
            let channels = prop.frame_channels();
            let mut levels = bench.levels.chunks(channels).skip(strip.first as usize);
            if levels
                .by_ref()
                .take(strip.pixels as usize)
                .any(|p| p.iter().any(|l| *l > 0))
            {
                out.push((Probe::Pixels { part, state }, when.clone()));
            }
        }
    }
    out
}

/// Every point that a wire meets, against the first point of what it is joined to.
fn resistances(prop: &Prop, out: &mut Vec<(Probe, String)>) {
    let when = "cell out, switches on".to_owned();
    // A data resistor is measured on its own: behind it a bad joint would drown.
    let joined: Vec<Edge> = edges(prop, true, Take::Stated)
        .into_iter()
        .filter(|e| e.ohm < 10.0)
        .collect();
    let touch: BTreeSet<Spot> = prop
        .wires
        .iter()
        .filter(|w| matches!(&w.size, WireSize::Resistance(r) if r.si() == 0.0))
        .flat_map(|w| [spot(&w.from), spot(&w.to)])
        .filter(|s| {
            matches!(
                prop.parts.get(s.0).map(|p| &p.kind),
                Some(PartKind::Cell(_))
            )
        })
        .collect();
    let mut left: Vec<Spot> = prop
        .wires
        .iter()
        .flat_map(|w| [spot(&w.from), spot(&w.to)])
        .filter(|s| !touch.contains(s))
        .collect();
    left.sort_by_key(|s| (start_rank(prop, *s, &touch), *s));
    left.dedup();
    while let Some(from) = left.first().copied() {
        let found = reached(&joined, from);
        let mut ends: Vec<(usize, Spot)> = left
            .iter()
            .filter(|s| **s != from)
            .filter_map(|s| found.get(s).map(|d| (*d, *s)))
            .collect();
        ends.sort_unstable();
        for (_, to) in ends {
            out.push((Probe::Ohm { from, to, on: true }, when.clone()));
        }
        left.retain(|s| !found.contains_key(s));
    }
    for (i, part) in prop.parts.iter().enumerate() {
        if matches!(&part.kind, PartKind::Resistor(r) if r.resistance.si() >= 10.0) {
            let probe = Probe::Ohm {
                from: (i, Pin::A(0)),
                to: (i, Pin::B(0)),
                on: true,
            };
            out.push((probe, when.clone()));
        }
    }
}

/// Where the black lead starts: at the cell's end of a leg, at the board's end of a data line.
fn start_rank(prop: &Prop, at: Spot, touch: &BTreeSet<Spot>) -> usize {
    let is_cell = |p: usize| matches!(prop.parts.get(p).map(|p| &p.kind), Some(PartKind::Cell(_)));
    let beside_cell = prop.wires.iter().any(|w| {
        let (a, b) = (spot(&w.from), spot(&w.to));
        (a == at && touch.contains(&b)) || (b == at && touch.contains(&a))
    });
    match at.1 {
        _ if is_cell(at.0) || beside_cell => 0,
        Pin::Data(_) | Pin::Clock(_) => 2,
        _ if matches!(
            prop.parts.get(at.0).map(|p| &p.kind),
            Some(PartKind::Protection(_) | PartKind::Diode(_))
        ) =>
        {
            1
        }
        _ => 3,
    }
}

/// Pads that must not be joined.
fn isolation(prop: &Prop, out: &mut Vec<(Probe, String)>) {
    let when = "cell out, switches on: not joined".to_owned();
    let wired: BTreeSet<Spot> = prop
        .wires
        .iter()
        .flat_map(|w| [spot(&w.from), spot(&w.to)])
        .collect();
    let mut pair = |from: Spot, to: Spot| {
        if wired.contains(&from) && wired.contains(&to) {
            out.push((Probe::Ohm { from, to, on: true }, when.clone()));
        }
    };
    for (i, part) in prop.parts.iter().enumerate() {
        match part.kind {
            PartKind::Cell(_) | PartKind::Capacitor(_) => pair((i, Pin::Minus), (i, Pin::Plus)),
            PartKind::Board(_) => {
                pair((i, Pin::Ground), (i, Pin::Supply));
                pair((i, Pin::Ground), (i, Pin::Data(1)));
                pair((i, Pin::Data(1)), (i, Pin::Data(2)));
            }
            PartKind::Strip(_) => {
                for signal in [Pin::DataIn, Pin::DataOut] {
                    pair((i, Pin::RailPlus(0)), (i, signal));
                    pair((i, Pin::RailMinus(0)), (i, signal));
                }
                pair((i, Pin::RailMinus(0)), (i, Pin::RailPlus(0)));
            }
            _ => {}
        }
    }
}

fn switches(prop: &Prop, out: &mut Vec<(Probe, String)>) {
    for (i, part) in prop.parts.iter().enumerate() {
        if matches!(part.kind, PartKind::Switch(_)) {
            let probe = Probe::Ohm {
                from: (i, Pin::A(0)),
                to: (i, Pin::B(0)),
                on: false,
            };
            out.push((probe, "cell out, switches off".to_owned()));
        }
    }
}

/// The supply of every load and of every connector: its sign is the polarity.
fn loads(prop: &Prop, state: usize, when: &str, out: &mut Vec<(Probe, String)>) {
    let supply = Supply::trace(prop);
    for (i, part) in prop.parts.iter().enumerate() {
        if !is_load(&part.kind) {
            continue;
        }
        let (plus, minus) = match part.kind {
            PartKind::Strip(_) => supply.feeds(i),
            _ => (vec![(i, Pin::Supply)], vec![(i, Pin::Ground)]),
        };
        let places = plus.len().max(minus.len());
        for k in 0..places {
            if let (Some(p), Some(m)) = (plus.get(k).or(plus.last()), minus.get(k).or(minus.last()))
            {
                let probe = Probe::Volt {
                    from: *m,
                    to: *p,
                    state,
                };
                out.push((probe, when.to_owned()));
            }
        }
    }
    if state > 0 {
        return;
    }
    for (i, part) in prop.parts.iter().enumerate() {
        if let PartKind::Connector { poles, .. } = &part.kind {
            connector(&supply, i, poles.len() as u16, when, out);
        }
    }
}

/// Polarity across the supply poles of a connector.
fn connector(supply: &Supply, part: usize, poles: u16, when: &str, out: &mut Vec<(Probe, String)>) {
    let level = |n: u16| supply.level_of((part, Pin::A(n)));
    let plus = (0..poles).find(|n| level(*n).is_some_and(|l| l > 0));
    let minus = (0..poles).find(|n| level(*n).is_some_and(|l| l <= 0));
    if let (Some(p), Some(m)) = (plus, minus) {
        let probe = Probe::Volt {
            from: (part, Pin::A(m)),
            to: (part, Pin::A(p)),
            state: 0,
        };
        out.push((probe, format!("{when}: polarity")));
    }
}

/// Drops along both legs at the greatest current, each against its end at the cell.
fn legs(
    prop: &Prop,
    state: usize,
    when: &str,
    free: Option<&Powered>,
    out: &mut Vec<(Probe, String)>,
) {
    let Some((cell, _)) = prop.cell() else { return };
    let supply = Supply::trace(prop);
    let mut seen: BTreeSet<Spot> = BTreeSet::new();
    for end in prop.wires.iter().flat_map(|w| [&w.from, &w.to]) {
        let at = spot(end);
        let known = free.is_some_and(|p| p.volts.contains_key(&at));
        let Some(level) = supply.level_of(at) else {
            continue;
        };
        if at.0 == cell || !known || !seen.insert(at) {
            continue;
        }
        let from = (cell, if level > 0 { Pin::Plus } else { Pin::Minus });
        let probe = Probe::Volt {
            from,
            to: at,
            state,
        };
        out.push((probe, format!("{when}: drop along the leg")));
    }
}

/// Between which points, as the builder named them.
fn words(prop: &Prop, probe: &Probe) -> String {
    let name = |s: &Spot| {
        let ends = prop.wires.iter().flat_map(|w| [&w.from, &w.to]);
        let written = ends
            .into_iter()
            .find(|t| spot(t) == *s)
            .map(|t| t.text.clone());
        written.unwrap_or_else(|| {
            let part = prop.parts.get(s.0).map_or("?", |p| p.name.as_str());
            format!("{part}.{}", format!("{:?}", s.1).to_lowercase())
        })
    };
    match probe {
        Probe::Ohm { from, to, .. } => format!("{} ↔ {}", name(from), name(to)),
        Probe::Volt { from, to, .. } => format!("{} (+) against {} (−)", name(to), name(from)),
        Probe::Ampere { .. } => "current of the supply".to_owned(),
        Probe::Pixels { part, .. } => {
            let part = prop.parts.get(*part).map_or("?", |p| p.name.as_str());
            format!("pixels of {part} that light up")
        }
    }
}
