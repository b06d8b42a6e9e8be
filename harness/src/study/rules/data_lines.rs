//! `data-swapped`, `data-drivers` and `data-missing`: who drives each data line.

use super::{data_ends, join, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::supply::Spot;
use std::collections::BTreeSet;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    lines(facts, out);
    for (i, strip) in facts.strips() {
        let (data, clock) = (driven(facts, (i, Pin::DataIn)), clocked(facts, i, strip));
        if data && clock {
            continue;
        }
        let name = facts.name(i);
        if out.iter().any(|f| f.id == "data-swapped" && f.part == name) {
            continue;
        }
        let what = if data { "clock" } else { "data" };
        out.push(facts.about(i, "data-missing", Severity::Advice,
            format!("strip \"{name}\" gets no {what}: nothing drives its {what}-in"),
            "without it the pixels stay as they power up; the data-level check cannot be made",
            format!("wire {name}.{what}-in to a {what} output of the board, or to {what}-out of the strip before it")));
    }
}

fn driven(facts: &Facts<'_>, input: Spot) -> bool {
    let line = facts.supply.conductor(input);
    line.is_some_and(|c| !data_ends(facts, c).0.is_empty())
}

/// Whether the clock arrives, where the pixel type needs one.
fn clocked(facts: &Facts<'_>, part: usize, strip: &crate::build::parts::Strip) -> bool {
    use crate::build::parts::DataTiming;
    if !matches!(strip.pixel.timing, Some(DataTiming::Clocked { .. })) {
        return true;
    }
    facts
        .supply
        .conductor((part, Pin::ClockIn))
        .is_some_and(|c| {
            let reached = facts.supply.together_through_signals(facts.prop, c);
            reached
                .iter()
                .any(|(_, pin)| matches!(pin, Pin::Clock(_) | Pin::ClockOut))
        })
}

/// Each data line once: an output that nobody listens to beside another output is a swap, several outputs
/// with a listener fight each other.
fn lines(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    let mut seen = BTreeSet::new();
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let pins: Vec<Pin> = match &part.kind {
            crate::build::prop::PartKind::Board(b) => (1..=b.outputs).map(Pin::Data).collect(),
            crate::build::prop::PartKind::Strip(_) => vec![Pin::DataOut, Pin::DataIn],
            _ => continue,
        };
        for pin in pins {
            let Some(line) = facts.supply.conductor((i, pin)) else {
                continue;
            };
            let (outputs, inputs) = data_ends(facts, line);
            if !seen.insert((outputs.clone(), inputs.clone())) {
                continue;
            }
            let words = |spots: &[Spot]| {
                let each = spots.iter().map(|(p, pin)| match pin {
                    Pin::Data(n) => format!("{}.data{n}", facts.name(*p)),
                    Pin::DataOut => format!("{}.data-out", facts.name(*p)),
                    _ => format!("{}.data-in", facts.name(*p)),
                });
                join(&each.collect::<Vec<_>>())
            };
            match (outputs.len(), inputs.len()) {
                (2.., 0) => swapped(facts, &outputs, words(&outputs), out),
                (2.., _) => out.push(facts.about(
                    outputs.first().map_or(i, |s| s.0),
                    "data-drivers",
                    Severity::Fault,
                    format!("{} drive one data line", words(&outputs)),
                    "two outputs on one line work against each other: the data is rubbish and both outputs are overloaded",
                    "give each output a line of its own",
                )),
                (0, 2..) => swapped(facts, &inputs, words(&inputs), out),
                _ => {}
            }
        }
    }
}

/// Outputs alone or inputs alone on a line: one of the strips is the wrong way round.
fn swapped(facts: &Facts<'_>, spots: &[Spot], words: String, out: &mut Vec<Finding>) {
    let strip = spots
        .iter()
        .rev()
        .find(|(_, pin)| matches!(pin, Pin::DataOut | Pin::DataIn));
    let Some((part, _)) = strip else { return };
    let name = facts.name(*part);
    out.push(facts.about(
        *part,
        "data-swapped",
        Severity::Fault,
        format!("data in and out are swapped: {words} are joined, with nothing to {}",
            if spots.iter().any(|s| s.1 == Pin::DataIn) { "drive them" } else { "listen" }),
        "data runs through a strip one way only, from data-in to data-out: the strip stays dark",
        format!("turn the strip round, or wire the other end of {name}; the arrow on it points from data-in to data-out"),
    ));
}
