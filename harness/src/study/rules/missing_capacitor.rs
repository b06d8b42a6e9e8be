//! `bulk-capacitor-missing`: a strip whose supply no capacitor steadies.

use super::{Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::prop::PartKind;

/// From this many pixels on, the start-up and switching current of a strip asks for a bulk capacitor; fewer
/// are served by the small capacitors on the strip. Common practice.
const PIXELS: u32 = 8;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, strip) in facts.strips().filter(|(_, s)| s.pixels >= PIXELS) {
        let (plus, minus) = facts.supply.feeds(i);
        let at = |feeds: &[_]| feeds.first().and_then(|s| facts.supply.conductor(*s));
        let (Some(plus), Some(minus)) = (at(&plus), at(&minus)) else {
            continue;
        };
        let across = |(k, part): (usize, &crate::build::prop::Part)| {
            matches!(part.kind, PartKind::Capacitor(_))
                && facts.supply.conductor((k, Pin::Plus)) == Some(plus)
                && facts.supply.conductor((k, Pin::Minus)) == Some(minus)
        };
        if facts.prop.parts.iter().enumerate().any(across) {
            continue;
        }
        let name = facts.name(i);
        out.push(facts.about(
            i,
            "bulk-capacitor-missing",
            Severity::Advice,
            format!("no bulk capacitor steadies the supply of strip \"{name}\" ({} pixels)", strip.pixels),
            "pulse-width modulation and the inrush of a strip pull the supply down and let it overshoot at the far end of its leads; pixels flicker or die (common practice; application notes of pixel makers show one)",
            format!("put 470 µF to 1000 µF, 6.3 V or more, across {name}.plus and {name}.minus, close to the strip"),
        ));
    }
}
