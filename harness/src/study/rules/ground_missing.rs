//! `ground-missing`: board and strip talk to each other without a common ground.

use super::{data_ends, Facts, Finding, Severity};
use crate::build::netlist::Pin;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, _) in facts.strips() {
        let Some(line) = facts.supply.conductor((i, Pin::DataIn)) else {
            continue;
        };
        let (outputs, _) = data_ends(facts, line);
        let minus = facts.supply.feeds(i).1;
        let Some(own) = minus.first().and_then(|m| facts.supply.conductor(*m)) else {
            continue;
        };
        for (driver, pin) in outputs {
            let ground = match pin {
                Pin::Data(_) => facts.supply.conductor((driver, Pin::Ground)),
                _ => facts
                    .supply
                    .feeds(driver)
                    .1
                    .first()
                    .and_then(|m| facts.supply.conductor(*m)),
            };
            if driver == i || ground.is_none_or(|g| g == own) {
                continue;
            }
            let (name, other) = (facts.name(i), facts.name(driver));
            out.push(facts.about(
                i,
                "ground-missing",
                Severity::Fault,
                format!("strip \"{name}\" and \"{other}\", which sends its data, have no common ground"),
                "a data level is a voltage against ground: without a common one the line means nothing, and the return current looks for a way through the data pins",
                format!("join the minus of {name} and the ground of {other} with a supply wire"),
            ));
        }
    }
}
