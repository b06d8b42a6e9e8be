//! The picture of `runtime`: when the show ends, condition by condition.

use super::picture::{Bar, BarChart, BarOrder, Tone};
use super::runtime::{end_words, RuntimeReport};
use crate::study::runtime::{End, Runtime};

/// Minutes to every end.
pub fn runtime_picture(report: &RuntimeReport) -> BarChart {
    let shown = |r: &Runtime| -> Vec<Bar> { r.ends.iter().map(|end| bar(r, end)).collect() };
    let worst = report.runtimes.iter().map(|r| r.error_share);
    BarChart {
        title: "How long the cell lasts".to_owned(),
        subtitle: format!(
            "{}, cap {}: minutes from full to each end, in the pattern of use that the build states",
            report.prop, report.cap
        ),
        value_name: "time from full".to_owned(),
        unit: "min".to_owned(),
        decimals: 0,
        bars: report.runtimes.iter().flat_map(shown).collect(),
        order: BarOrder::Given,
        caution: "Computed from data sheets and the drawing, not measured: measure your prop before you trust it."
            .to_owned(),
        conditions: format!(
            "new cell: stated values, aged cell: unfavourable tolerances; ✗ ends the show, ! a check fails before that; times within {:.1} %; without self-discharge, recovery at rest and warming",
            worst.fold(0.0, f64::max) * 100.0
        ),
        tool: format!("lampwright {}", env!("CARGO_PKG_VERSION")),
    }
}

fn bar(runtime: &Runtime, end: &End) -> Bar {
    // Temperature and age; which end of the tolerances is said below the picture.
    let parts: Vec<&str> = runtime.condition.split(", ").take(2).collect();
    let about = end
        .check
        .as_deref()
        .map(|c| format!(", {c}"))
        .unwrap_or_default();
    let detail = match end.soc {
        Some(soc) => format!("at {:.0} % charge{about}", soc * 100.0),
        None => "not before the cell's cut-off".to_owned(),
    };
    Bar {
        name: format!("{}: {}", parts.join(", "), end_words(end)),
        value: end.minutes,
        detail,
        tone: match end.what {
            what if what == runtime.ended_by => Tone::Bad,
            "first-limit" => Tone::Tight,
            _ => Tone::Neutral,
        },
    }
}
