//! `load-unfed` and `load-bridged`: a supply with no return, or none at all.

use super::{load_pins, Facts, Finding, Severity};
use crate::build::supply::Fed;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let Some((plus, minus)) = load_pins(&facts.supply, i, &part.kind) else {
            continue;
        };
        let (word, name) = (part.kind.word(), &part.name);
        let (Some(p), Some(m)) = (plus.first(), minus.first()) else {
            let side = if plus.is_empty() { "plus" } else { "minus" };
            unfed(
                facts,
                i,
                format!("{word} \"{name}\" has no wire on its {side}"),
                out,
            );
            continue;
        };
        match facts.supply.fed(*p, *m) {
            Fed::Forward | Fed::Reversed => {}
            Fed::Unfed => {
                let (side, what) = if facts.supply.is_live(*p) {
                    ("minus", "the supply has no return")
                } else {
                    ("plus", "no supply arrives")
                };
                let message =
                    format!("{word} \"{name}\" is not fed: its {side} reaches no cell, {what}");
                unfed(facts, i, message, out);
            }
            Fed::Bridged => out.push(facts.about(
                i,
                "load-bridged",
                Severity::Fault,
                format!("{word} \"{name}\" has both its ends on the same conductor"),
                "it sees no voltage and stays dark",
                "move one end to the other side of the supply",
            )),
        }
    }
}

fn unfed(facts: &Facts<'_>, part: usize, message: String, out: &mut Vec<Finding>) {
    out.push(facts.about(
        part,
        "load-unfed",
        Severity::Fault,
        message,
        "a load without a closed loop stays dark, or finds a way back through its data line and is damaged",
        format!("wire {} to both sides of the supply", facts.name(part)),
    ));
}
