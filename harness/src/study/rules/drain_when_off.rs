//! `drain-when-off`: loads that stay on with every switch open, and how long the cell lasts then.

use super::{fed_loads, join, Facts, Finding, Severity};
use crate::build::prop::PartKind;

/// Below this many days, a cell that was put away full is flat before anyone looks: common practice.
const DAYS_SOON: f64 = 30.0;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    let on: Vec<usize> = fed_loads(facts.prop, &facts.off)
        .into_iter()
        .filter(|i| drain_a(facts, *i) > 0.0)
        .collect();
    let total: f64 = on.iter().map(|i| drain_a(facts, *i)).sum();
    let Some((_, cell)) = facts.prop.cell() else {
        return;
    };
    let cells = facts.prop.parts.iter();
    let cells = cells
        .filter(|p| matches!(p.kind, PartKind::Cell(_)))
        .count();
    if on.is_empty() || total <= 0.0 {
        return;
    }
    let days = cell.capacity.si() * cells as f64 / total / 86_400.0;
    let switches = facts.prop.parts.iter();
    let switched = switches
        .filter(|p| matches!(p.kind, PartKind::Switch(_)))
        .count();
    let names: Vec<String> = on
        .iter()
        .map(|i| format!("\"{}\"", facts.name(*i)))
        .collect();
    let how = match switched {
        0 => "there is no switch",
        1 => "with the master switch off",
        _ => "with every switch off",
    };
    let message = format!(
        "{how}, {} still draw{} {:.2} mA while dark: a full cell is flat in {} days",
        join(&names),
        if names.len() == 1 { "s" } else { "" },
        total * 1e3,
        rounded(days)
    );
    let severity = if days < DAYS_SOON {
        Severity::Risk
    } else {
        Severity::Advice
    };
    out.push(facts.about(
        on.first().copied().unwrap_or(0),
        "drain-when-off",
        severity,
        message,
        "every pixel draws its dark current and the board its idle current as long as they are fed; a cell that is drained below its cut-off is damaged",
        "put the master switch where it cuts the one leg that every load shares, or take the cell out after use",
    ));
}

fn rounded(days: f64) -> String {
    if days < 10.0 {
        format!("{days:.1}")
    } else {
        format!("{days:.0}")
    }
}

/// What a load draws while the prop is dark, amperes, stated values.
fn drain_a(facts: &Facts<'_>, part: usize) -> f64 {
    match facts.prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(s)) => f64::from(s.pixels) * s.pixel.dark.si(),
        Some(PartKind::Board(b)) => {
            b.logic.si()
                + b.regulator.quiescent.si()
                + b.amplifier.as_ref().map_or(0.0, |a| a.idle.si())
        }
        _ => 0.0,
    }
}
