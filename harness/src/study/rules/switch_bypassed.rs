//! `switch-bypassed`: a switch whose opening does not stop the current it should stop.

use super::{data_ends, fed_loads, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;
use crate::build::supply::{Fed, Supply};

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        if !matches!(part.kind, PartKind::Switch(_)) {
            continue;
        }
        let ends = (
            facts.supply.conductor((i, Pin::A(0))),
            facts.supply.conductor((i, Pin::B(0))),
        );
        if ends.0.is_none() || ends.1.is_none() {
            continue;
        }
        let open = Supply::trace_without(facts.prop, |p| p == i);
        if open.conductor((i, Pin::A(0))) == open.conductor((i, Pin::B(0))) {
            out.push(bypassed(facts, i, format!(
                "switch \"{}\" is bypassed: its two ends are joined by another way, so opening it changes nothing",
                part.name
            ), "take out the way around it"));
            continue;
        }
        let (on, off) = (
            fed_loads(facts.prop, &facts.supply),
            fed_loads(facts.prop, &open),
        );
        if on.iter().all(|l| off.contains(l)) && !on.is_empty() {
            out.push(bypassed(
                facts,
                i,
                format!(
                    "switch \"{}\" switches nothing: every load is still fed with it open",
                    part.name
                ),
                "put it into the leg between the cell and every load",
            ));
            continue;
        }
        sneak(facts, i, &open, out);
    }
}

/// A load whose minus is cut while its plus stays and whose data line leads to a part that is still fed: its
/// current goes back through the data pins.
fn sneak(facts: &Facts<'_>, switch: usize, open: &Supply, out: &mut Vec<Finding>) {
    let fed = |part: usize| fed_loads(facts.prop, open).contains(&part);
    for (i, _) in facts.strips() {
        let (plus, minus) = open.feeds(i);
        let (Some(p), Some(m)) = (plus.first(), minus.first()) else {
            continue;
        };
        let was = facts.supply.fed(*p, *m) == Fed::Forward;
        if !was || open.fed(*p, *m) == Fed::Forward || !open.is_live(*p) {
            continue;
        }
        let Some(line) = facts.supply.conductor((i, Pin::DataIn)) else {
            continue;
        };
        let back = data_ends(facts, line).0.into_iter().find(|(d, _)| fed(*d));
        if let Some((driver, _)) = back {
            out.push(bypassed(facts, switch, format!(
                "switch \"{}\" cuts the minus of strip \"{}\" while its plus stays on and \"{}\" stays fed: the current returns through the data line",
                facts.name(switch), facts.name(i), facts.name(driver)
            ), "switch the plus of the strip, or put the switch where it cuts board and strip together"));
        }
    }
}

fn bypassed(facts: &Facts<'_>, part: usize, message: String, mend: &str) -> Finding {
    facts.about(
        part,
        "switch-bypassed",
        Severity::Risk,
        message,
        "what looks switched off still carries current, and data pins are not made for it",
        mend,
    )
}
