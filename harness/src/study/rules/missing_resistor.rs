//! `data-resistor-missing`: a data line from the board without a series resistor.

use super::{data_ends, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let PartKind::Board(board) = &part.kind else {
            continue;
        };
        for output in 1..=board.outputs {
            let Some(line) = facts.supply.conductor((i, Pin::Data(output))) else {
                continue;
            };
            let (_, inputs) = data_ends(facts, line);
            // An input on the very conductor of the output is reached without a resistor.
            let direct = inputs
                .iter()
                .find(|spot| facts.supply.conductor(**spot) == Some(line));
            let Some((strip, _)) = direct else { continue };
            let name = facts.name(*strip);
            out.push(facts.about(
                *strip,
                "data-resistor-missing",
                Severity::Advice,
                format!("no series resistor lies between {}.data{output} and {name}.data-in", part.name),
                "a fast edge on a wire rings beyond the supply and stresses the first pixel's input; the resistor also limits what flows when a strip is unpowered (common practice; application notes of pixel makers show one)",
                format!("put 220 Ω to 470 Ω into the line, at the end of {}", part.name),
            ));
        }
    }
}
