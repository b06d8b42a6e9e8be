//! `no-polarity-protection`: what a reversed cell would do to each part, and what a device costs in volts.

use super::{fed_loads, Facts, Finding, Severity};
use crate::build::prop::PartKind;
use crate::build::supply::Supply;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    let Some((cell, kind)) = facts.prop.cell() else {
        return;
    };
    let is_diode = |i: usize| {
        matches!(
            facts.prop.parts.get(i).map(|p| &p.kind),
            Some(PartKind::Diode(_))
        )
    };
    let bare = fed_loads(facts.prop, &Supply::trace_without(facts.prop, is_diode));
    if kind.keyed || bare.is_empty() {
        return;
    }
    let harm: Vec<String> = bare
        .iter()
        .filter_map(|i| facts.prop.parts.get(*i))
        .map(|p| format!("{} {}", p.name, harm(&p.kind)))
        .collect();
    out.push(facts.about(
        cell,
        "no-polarity-protection",
        Severity::Advice,
        format!("nothing stops a reversed cell; it would hit: {}", harm.join("; ")),
        "a cell put in the wrong way round drives its current backwards through every part at once; fuse and protection circuit act too late for pixels",
        "draw a diode (kind = \"diode\"): a Schottky diode takes about 0.3 V to 0.5 V of the supply at full current, a P-channel transistor about 20 mV to 60 mV (20 mΩ at 1 A to 3 A; common practice). Or say keyed = true in the cell where it is soldered in or keyed",
    ));
}

/// What a reversed supply does, from memory of absolute maximum ratings (−0.3 V to −0.5 V for most).
fn harm(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Strip(_) => "(every pixel conducts backwards and dies)",
        PartKind::Board(_) => {
            "(regulator and amplifier conduct backwards and die; the rail goes negative)"
        }
        PartKind::Capacitor(_) => "(polarised: heats up, bursts)",
        _ => "(unknown)",
    }
}
