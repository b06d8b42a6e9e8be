//! `terminal-floating`: a part of which an end hangs in the air, or a wire that leads nowhere.

use super::{Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let pairs: Vec<(Pin, Pin, String)> = match &part.kind {
            PartKind::Switch(_)
            | PartKind::Contact(_)
            | PartKind::Fuse(_)
            | PartKind::Protection(_)
            | PartKind::Resistor(_)
            | PartKind::Button => vec![(Pin::A(0), Pin::B(0), part.name.clone())],
            PartKind::Diode(_) => vec![(Pin::A(0), Pin::B(0), part.name.clone())],
            PartKind::Supply(_) => vec![(Pin::Plus, Pin::Minus, part.name.clone())],
            PartKind::Connector { poles, .. } => (0u16..)
                .zip(poles)
                .map(|(n, pole)| (Pin::A(n), Pin::B(n), format!("{}.{pole}", part.name)))
                .collect(),
            PartKind::Splice => {
                splice(facts, i, out);
                continue;
            }
            _ => continue,
        };
        for (a, b, name) in pairs {
            let (a, b) = (touched(facts, i, a), touched(facts, i, b));
            let message = match (a, b) {
                (true, true) => continue,
                // An unused pole of a connector is no fault, a part that nobody wired is worth a word.
                (false, false) if matches!(part.kind, PartKind::Connector { .. }) => continue,
                (false, false) => format!("{} \"{name}\" is not wired at all", part.kind.word()),
                _ => format!("{} \"{name}\" is wired at one end only", part.kind.word()),
            };
            out.push(floating(facts, i, message));
        }
    }
}

/// Whether a wire ends at this very pin.
fn touched(facts: &Facts<'_>, part: usize, pin: Pin) -> bool {
    let here = |t: &crate::build::netlist::Terminal| t.part == part && t.pin == pin;
    facts
        .prop
        .wires
        .iter()
        .any(|w| here(&w.from) || here(&w.to))
}

fn splice(facts: &Facts<'_>, part: usize, out: &mut Vec<Finding>) {
    let here = |t: &crate::build::netlist::Terminal| t.part == part;
    let wires = facts.prop.wires.iter();
    let count = wires.filter(|w| here(&w.from) || here(&w.to)).count();
    let name = facts.name(part);
    let message = match count {
        0 => format!("splice \"{name}\" joins nothing"),
        1 => format!("splice \"{name}\" is the end of a single wire"),
        _ => return,
    };
    out.push(floating(facts, part, message));
}

fn floating(facts: &Facts<'_>, part: usize, message: String) -> Finding {
    facts.about(
        part,
        "terminal-floating",
        Severity::Risk,
        message,
        "an end that hangs in the air carries nothing, and a live one touches something sooner or later",
        "wire it, or take it out of the build",
    )
}
