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
        cost(facts),
    ));
}

/// What a device against it takes of the supply at the greatest current the strips can ask for.
fn cost(facts: &Facts<'_>) -> String {
    let full = |s: &crate::build::parts::Strip| {
        let channels: f64 = s.pixel.channels.iter().map(|c| c.current.si()).sum();
        f64::from(s.pixels) * channels
    };
    let amperes: f64 = facts.strips().map(|(_, s)| full(s)).sum();
    let amperes = amperes * f64::from(facts.prop.cap) / 255.0;
    // Straight lines of the catalogue's diode and transistor.
    let (diode_v, transistor_v) = (0.30 + 0.060 * amperes, 0.020 * amperes);
    format!(
        "draw a diode (kind = \"diode\"): with every pixel white at the cap ({amperes:.1} A) a Schottky diode costs about {diode_v:.2} V of the supply (from diode-schottky-3a, from memory), a P-channel transistor about {transistor_v:.2} V (from diode-p-channel-20mohm, common practice). Or say keyed = true in the cell where it is soldered in or keyed"
    )
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
