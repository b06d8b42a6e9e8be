//! `data-order`: strips on one data line follow one another as in the frame.

use super::{data_ends, join, Facts, Finding, Severity};
use crate::build::netlist::Pin;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    let strips: Vec<usize> = facts.strips().map(|(i, _)| i).collect();
    for (place, strip) in strips.iter().copied().enumerate() {
        let Some(line) = facts.supply.conductor((strip, Pin::DataOut)) else {
            continue;
        };
        let (outputs, inputs) = data_ends(facts, line);
        if outputs.len() != 1 {
            continue;
        }
        for (next, _) in inputs {
            let there = strips.iter().position(|s| *s == next);
            let (name, other) = (facts.name(strip), facts.name(next));
            if next == strip || there.is_some_and(|t| loops(facts, next, strip, t, place)) {
                out.push(facts.about(
                    strip,
                    "data-order",
                    Severity::Fault,
                    format!("the data of \"{name}\" comes back to \"{other}\": the line is a ring"),
                    "a ring has no first pixel: data never arrives from the board",
                    "open the ring; the first strip's data-in belongs to the board",
                ));
            } else if there != Some(place + 1) {
                let order: Vec<String> = strips.iter().map(|s| facts.name(*s).to_owned()).collect();
                out.push(facts.about(strip, "data-order", Severity::Fault,
                    format!("data goes from \"{name}\" to \"{other}\", but in the frame {} follow one another", join(&order)),
                    "the board sends the strips of one line in frame order: pixels would show each other's colours",
                    "put the parts into the order of the data line, or rewire the line"));
            }
        }
    }
}

/// Whether data that leaves `from` comes to `to`, which stands behind it in the chain.
fn loops(facts: &Facts<'_>, from: usize, to: usize, there: usize, place: usize) -> bool {
    let mut at = from;
    if there > place {
        return false;
    }
    for _ in 0..facts.prop.parts.len() {
        if at == to {
            return true;
        }
        let next = facts
            .supply
            .conductor((at, Pin::DataOut))
            .and_then(|line| data_ends(facts, line).1.first().copied());
        match next {
            Some((part, _)) => at = part,
            None => return false,
        }
    }
    true
}
