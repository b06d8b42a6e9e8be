//! The prop as the page is told of it: what does not change with its settings.

use super::reading::Shown;
use super::series::{wires, REST};
use crate::profile::bench::Bench;
use crate::profile::condition::Condition;
use crate::report::cautions::CAUTIONS;
use crate::report::diagram::live as live_diagram;
use crate::report::picture::Limit;
use crate::report::profile_picture::{current_limits, voltage_limits};
use crate::study::rules::findings;
use crate::units::Quantity;
use serde_json::{json, Value};

/// The prop and what can be played, as the page is told at its start.
pub fn describe(shown: &Shown) -> Value {
    let prop = &shown.prop;
    let bench = Bench::new(prop, Condition::nominal()).ok();
    let carrying: Vec<usize> = bench
        .as_ref()
        .map_or_else(Vec::new, |b| wires(b.circuit()).map(|(_, w)| w).collect());
    let plays = shown.plays.iter().map(|p| {
        json!({ "preset": p.preset_name(), "cues": p.cues_name(), "length_s": p.length_s(), "live": p.preset().is_some() })
    });
    let strips = prop.strips().map(|(i, s)| {
        let name = prop.parts.get(i).map_or("", |p| p.name.as_str());
        let pitch_m = s.pitch.as_ref().map(|p| p.si());
        json!({ "name": name, "first": s.first, "pixels": s.pixels, "pitch_m": pitch_m })
    });
    let limit = |l: Limit| json!({ "name": l.name, "value": l.value });
    json!({
        "schema": "lampwright/view-prop/1",
        "name": prop.name, "note": prop.note, "variant": prop.variant, "variants": shown.variants, "cap": shown.cap,
        "channels": prop.frame_channels(), "strips": strips.collect::<Vec<_>>(), "plays": plays.collect::<Vec<_>>(),
        "current_limits": current_limits(prop).into_iter().map(limit).collect::<Vec<_>>(),
        "voltage_limits": voltage_limits(prop).into_iter().map(limit).collect::<Vec<_>>(),
        "wires": prop.wires.iter().map(|w| w.name.clone()).collect::<Vec<_>>(),
        "rest": REST, "diagram": live_diagram(prop, &carrying), "findings": findings(prop), "cautions": CAUTIONS,
    })
}
