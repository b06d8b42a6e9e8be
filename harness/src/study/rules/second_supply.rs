//! `second-supply`: a supply from outside together with the cell, and what feeds what then.

use super::{fed_loads, join, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;
use crate::build::supply::Supply;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let PartKind::Supply(second) = &part.kind else {
            continue;
        };
        let plus = facts.supply.conductor((i, Pin::Plus));
        let minus = facts.supply.conductor((i, Pin::Minus));
        let name = &part.name;
        if plus.is_some() && plus == minus {
            out.push(facts.about(
                i,
                "second-supply",
                Severity::Risk,
                format!("supply \"{name}\" is shorted: plus and minus lie on one conductor"),
                "its lead and socket overheat",
                "take out the wire that joins the two sides",
            ));
            continue;
        }
        let level = |pin| facts.supply.level_of((i, pin));
        if let (Some(p), Some(m)) = (level(Pin::Plus), level(Pin::Minus)) {
            if p <= m {
                out.push(facts.about(
                    i,
                    "second-supply",
                    Severity::Risk,
                    format!("supply \"{name}\" is reversed against the cell"),
                    "the two supplies drive each other through the wires",
                    "swap its two leads",
                ));
                continue;
            }
        }
        parallel(facts, i, second.voltage.si(), out);
    }
}

/// With nothing but wires, fuses and switches between the two plus sides, the higher voltage charges the cell.
fn parallel(facts: &Facts<'_>, supply: usize, volts: f64, out: &mut Vec<Finding>) {
    let diodes = |i: usize| {
        matches!(
            facts.prop.parts.get(i).map(|p| &p.kind),
            Some(PartKind::Diode(_))
        )
    };
    let direct = Supply::trace_without(facts.prop, diodes);
    let together = |pin: Pin| {
        let own = direct.conductor((supply, pin));
        own.is_some()
            && facts.prop.parts.iter().enumerate().any(|(i, p)| {
                matches!(p.kind, PartKind::Cell(_)) && direct.conductor((i, pin)) == own
            })
    };
    let name = facts.name(supply);
    let loads: Vec<String> = fed_loads(facts.prop, &facts.supply)
        .into_iter()
        .map(|i| format!("\"{}\"", facts.name(i)))
        .collect();
    if together(Pin::Plus) && together(Pin::Minus) {
        out.push(facts.about(supply, "second-supply", Severity::Risk,
            format!("supply \"{name}\" ({volts:.1} V) lies straight across the cell: it charges the cell without any control and feeds {}", join(&loads)),
            "a lithium cell that is charged without a charger made for it can vent or burn",
            "take the cell out while it is plugged in, or put a diode into each plus leg, or charge through a charger circuit"));
    } else if facts.supply.is_live((supply, Pin::Plus)) {
        out.push(facts.about(supply, "second-supply", Severity::Advice,
            format!("with supply \"{name}\" ({volts:.1} V) plugged in and the cell in place, the higher of the two feeds {}", join(&loads)),
            "through a diode the two supplies share the load, and the prop stays on with its switch off as long as the lead is in",
            "know it when you measure; unplug one before you solder or test the other"));
    }
}
