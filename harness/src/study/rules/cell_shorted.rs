//! `cell-shorted`, `loop-open` and `cells-opposed`: what stands right across a cell.

use super::{Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{edges, Spot};
use std::collections::{HashSet, VecDeque};

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        if !matches!(part.kind, PartKind::Cell(_)) {
            continue;
        }
        let side = |pin| facts.supply.conductor((i, pin));
        match (side(Pin::Plus), side(Pin::Minus)) {
            (Some(p), Some(m)) if p == m => {
                let message = format!(
                    "cell \"{}\" is shorted: plus and minus are joined through {}",
                    part.name,
                    path(facts.prop, (i, Pin::Plus), (i, Pin::Minus))
                );
                out.push(facts.about(i, "cell-shorted", Severity::Fault, message,
                    "a shorted lithium cell delivers tens of amperes at once: wires glow, the cell can vent or burn",
                    "take out the wire that joins the two sides; test with a meter before the cell goes in"));
            }
            (Some(_), Some(_)) => opposed(facts, i, out),
            (plus, _) => {
                let side = if plus.is_none() { "plus" } else { "minus" };
                out.push(facts.about(
                    i,
                    "loop-open",
                    Severity::Fault,
                    format!("cell \"{}\" has no wire on its {side}", part.name),
                    "without a closed loop nothing carries current",
                    format!("wire {}.{side}", part.name),
                ));
            }
        }
    }
}

/// A cell whose plus lies where another cell's minus is, on the same two conductors.
fn opposed(facts: &Facts<'_>, cell: usize, out: &mut Vec<Finding>) {
    let level = |pin| facts.supply.level_of((cell, pin));
    if let (Some(plus), Some(minus)) = (level(Pin::Plus), level(Pin::Minus)) {
        if plus <= minus {
            let message = format!(
                "cell \"{}\" is reversed against the other cell: its plus lies on the minus side",
                facts.name(cell)
            );
            out.push(facts.about(cell, "cells-opposed", Severity::Fault, message,
                "two cells tied plus to minus short each other: tens of amperes, wires glow, cells can vent or burn",
                "turn this cell round; join cells in parallel only when both read the same voltage"));
        }
    }
}

/// The parts and wires that join two pins, shortest way.
pub(super) fn path(prop: &Prop, start: Spot, goal: Spot) -> String {
    let edges = edges(prop);
    let mut queue = VecDeque::from([(start, Vec::<String>::new())]);
    let mut seen = HashSet::from([start]);
    while let Some((at, names)) = queue.pop_front() {
        if at == goal {
            return names.join(", ");
        }
        for (a, b, name) in &edges {
            for (here, there) in [(a, b), (b, a)] {
                if *here == at && seen.insert(*there) {
                    let mut names = names.clone();
                    names.push(name.clone());
                    queue.push_back((*there, names));
                }
            }
        }
    }
    "a strip's rail".to_owned()
}
