//! `part-reversed`: a part whose plus lies on the minus side, or a diode that blocks its own loop.

use super::{load_pins, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;
use crate::build::supply::{Fed, Supply};

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let (name, word) = (&part.name, part.kind.word());
        if let PartKind::Diode(_) = part.kind {
            diode(facts, i, out);
            continue;
        }
        let Some((plus, minus)) = load_pins(&facts.supply, i, &part.kind) else {
            continue;
        };
        let (Some(p), Some(m)) = (plus.first(), minus.first()) else {
            continue;
        };
        if facts.supply.fed(*p, *m) != Fed::Reversed {
            continue;
        }
        let why = match part.kind {
            PartKind::Capacitor(_) => "a polarised capacitor that is reversed heats up and bursts",
            _ => "reversed polarity destroys pixels and boards within seconds",
        };
        out.push(facts.about(
            i,
            "part-reversed",
            Severity::Fault,
            format!("{word} \"{name}\" is reversed: its plus lies on the minus side"),
            why,
            "swap its two supply wires; check polarity with a meter before the cell goes in",
        ));
    }
}

/// A diode carries current only from anode to cathode. With it taken out, the side that still hangs on the
/// cell's plus must be its anode; in the minus leg, the side that still hangs on the minus its cathode.
fn diode(facts: &Facts<'_>, part: usize, out: &mut Vec<Finding>) {
    let without = Supply::trace_without(facts.prop, |i| i == part);
    let reaches = |pin: Pin, end: Pin| {
        let here = without.conductor((part, pin));
        facts.prop.parts.iter().enumerate().any(|(i, p)| {
            matches!(p.kind, PartKind::Cell(_))
                && here.is_some()
                && without.conductor((i, end)) == here
        })
    };
    let (anode, cathode) = (Pin::A(0), Pin::B(0));
    let wrong = (reaches(cathode, Pin::Plus) && !reaches(anode, Pin::Plus))
        || (reaches(anode, Pin::Minus) && !reaches(cathode, Pin::Minus));
    if wrong {
        let name = facts.name(part);
        out.push(facts.about(
            part,
            "part-reversed",
            Severity::Fault,
            format!("diode \"{name}\" is reversed: it blocks the current of its own loop"),
            "nothing behind it works; with the cell reversed it would conduct and destroy what it should protect",
            "in the plus leg its anode faces the cell, in the minus leg its cathode does",
        ));
    }
}
