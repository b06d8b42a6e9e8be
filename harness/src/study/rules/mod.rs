//! Wiring findings: what the drawing shows to be wrong, each with why it matters and how to mend it.
//!
//! A rule is one file with one function. Most need the drawing alone; those of [`load_findings`] need to know
//! what the wires carry, and take that from the results of the checks.

mod board_usb;
mod cell_shorted;
mod contact_overloaded;
mod data_lines;
mod data_order;
mod drain_when_off;
mod feed_overloaded;
mod ground_missing;
mod load_fed;
mod logic_low;
mod missing_capacitor;
mod missing_resistor;
mod no_cell;
mod no_fuse;
mod polarity_protection;
mod reversed;
mod second_supply;
mod switch_bypassed;
mod terminal_floating;
mod wire_thin;

use super::verdict::CheckResult;
use crate::build::netlist::Pin;
use crate::build::parts::Strip;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{Fed, Spot, Supply};
use serde::Serialize;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// The prop does not work as drawn.
    Fault,
    /// The prop works, but something is dangerous or will fail.
    Risk,
    /// Worth knowing; the prop works.
    Advice,
}

/// Something the drawing shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Stable id, such as `cell-shorted`.
    pub id: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// The part or wire it is about.
    pub part: String,
    /// File, one-based line and column of that part.
    pub place: Option<String>,
    /// What is found.
    pub message: String,
    /// Why it matters.
    pub why: &'static str,
    /// How to mend it.
    pub mend: String,
}

/// What the rules look at.
struct Facts<'a> {
    prop: &'a Prop,
    /// With every switch closed.
    supply: Supply,
    /// With every switch open.
    off: Supply,
}

impl<'a> Facts<'a> {
    fn new(prop: &'a Prop) -> Self {
        let is_switch = |i: usize| {
            matches!(
                prop.parts.get(i).map(|p| &p.kind),
                Some(PartKind::Switch(_))
            )
        };
        Self {
            prop,
            supply: Supply::trace(prop),
            off: Supply::trace_without(prop, is_switch),
        }
    }

    fn name(&self, part: usize) -> &str {
        self.prop.parts.get(part).map_or("", |p| p.name.as_str())
    }

    fn strips(&self) -> impl Iterator<Item = (usize, &'a Strip)> {
        self.prop.strips()
    }

    /// A finding about a part.
    fn about(
        &self,
        part: usize,
        id: &'static str,
        severity: Severity,
        message: impl Into<String>,
        why: &'static str,
        mend: impl Into<String>,
    ) -> Finding {
        let part = self.prop.parts.get(part);
        Finding {
            id,
            severity,
            part: part.map_or_else(String::new, |p| p.name.clone()),
            place: part.map(|p| located(&p.place)),
            message: message.into(),
            why,
            mend: mend.into(),
        }
    }
}

fn located(place: &crate::build::diag::Place) -> String {
    let (line, column) = place.source.line_column(place.span.start);
    format!("{}:{line}:{column}", place.source.name)
}

/// Every finding of the drawing alone, faults first.
pub fn findings(prop: &Prop) -> Vec<Finding> {
    let facts = Facts::new(prop);
    let mut out = Vec::new();
    no_cell::find(&facts, &mut out);
    cell_shorted::find(&facts, &mut out);
    if out.is_empty() {
        // Without a cell, or with a shorted one, every other part would be reported as well.
        let rules: [fn(&Facts<'_>, &mut Vec<Finding>); 14] = [
            reversed::find,
            load_fed::find,
            ground_missing::find,
            terminal_floating::find,
            data_lines::find,
            data_order::find,
            switch_bypassed::find,
            drain_when_off::find,
            no_fuse::find,
            second_supply::find,
            board_usb::find,
            polarity_protection::find,
            missing_capacitor::find,
            missing_resistor::find,
        ];
        for rule in rules {
            rule(&facts, &mut out);
        }
    }
    out.sort_by_key(|f| f.severity);
    out
}

/// Names of the parts that are wired the wrong way round.
pub fn reversed_parts(prop: &Prop) -> Vec<String> {
    let mut found = Vec::new();
    reversed::find(&Facts::new(prop), &mut found);
    found.into_iter().map(|f| f.part).collect()
}

/// Findings that follow from what the wires carry: `checks` are the results of playing frames.
pub fn load_findings(prop: &Prop, checks: &[CheckResult]) -> Vec<Finding> {
    let mut out = Vec::new();
    for rule in [
        wire_thin::find,
        contact_overloaded::find,
        feed_overloaded::find,
        logic_low::find,
    ] {
        rule(prop, checks, &mut out);
    }
    out
}

/// A finding that repeats a failed check in the builder's words.
fn of_check(
    prop: &Prop,
    check: &CheckResult,
    id: &'static str,
    message: String,
    why: &'static str,
    mend: String,
) -> Finding {
    let name = check.part.clone().unwrap_or_default();
    let bare = name.split(['.', '[', ' ']).next().unwrap_or_default();
    let wire = prop.wires.iter().position(|w| w.name == name);
    let place = match wire {
        Some(i) => prop.wire_places.get(i),
        None => prop.parts.iter().find(|p| p.name == bare).map(|p| &p.place),
    };
    Finding {
        id,
        severity: Severity::Risk,
        part: name,
        place: place.map(located),
        message,
        why,
        mend,
    }
}

/// The supply pins of a load that are wired: on its plus side and on its minus side.
fn load_pins(supply: &Supply, part: usize, kind: &PartKind) -> Option<(Vec<Spot>, Vec<Spot>)> {
    let pair = |plus, minus| {
        let wired = |pin| {
            supply
                .conductor((part, pin))
                .map(|_| (part, pin))
                .into_iter()
                .collect()
        };
        Some((wired(plus), wired(minus)))
    };
    match kind {
        PartKind::Board(_) => pair(Pin::Supply, Pin::Ground),
        PartKind::Capacitor(_) => pair(Pin::Plus, Pin::Minus),
        PartKind::Strip(_) => Some(supply.feeds(part)),
        _ => None,
    }
}

/// The loads that get current: their part numbers.
fn fed_loads(prop: &Prop, supply: &Supply) -> Vec<usize> {
    let each = prop.parts.iter().enumerate();
    each.filter(|(i, part)| {
        let Some((plus, minus)) = load_pins(supply, *i, &part.kind) else {
            return false;
        };
        match (plus.first(), minus.first()) {
            (Some(p), Some(m)) => supply.fed(*p, *m) == Fed::Forward,
            _ => false,
        }
    })
    .map(|(i, _)| i)
    .collect()
}

/// Who drives and who listens on the data line of a conductor: outputs, inputs.
fn data_ends(facts: &Facts<'_>, conductor: usize) -> (Vec<Spot>, Vec<Spot>) {
    let reached = facts.supply.together_through_signals(facts.prop, conductor);
    let outputs = reached.iter().copied();
    let inputs = reached.iter().copied();
    (
        outputs
            .filter(|(_, pin)| matches!(pin, Pin::Data(_) | Pin::DataOut))
            .collect(),
        inputs.filter(|(_, pin)| *pin == Pin::DataIn).collect(),
    )
}

fn join(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}
