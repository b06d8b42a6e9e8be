//! What `runtime` prints.

use super::cautions::CAUTIONS;
use super::text::{cautions, number, BOLD};
use crate::study::runtime::{End, Runtime, Standby};
use serde::Serialize;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `runtime` document. 1: first form.
pub const RUNTIME_SCHEMA: &str = "lampwright/runtime/1";

/// A preset's share of the time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Share {
    /// The preset, or the recording.
    pub preset: String,
    /// Its cue trace.
    pub cues: String,
    /// Share of the time, 0..1.
    pub share: f64,
}

/// Everything that `runtime` found.
#[derive(Debug, Clone)]
pub struct RuntimeReport {
    /// The prop's name.
    pub prop: String,
    /// Brightness cap.
    pub cap: u8,
    /// Usage pattern.
    pub usage: Vec<Share>,
    /// One result a condition.
    pub runtimes: Vec<Runtime>,
    /// What a forgotten prop draws.
    pub standby: Standby,
}

/// The document of `runtime`.
pub fn runtime_json(r: &RuntimeReport) -> Value {
    json!({
        "schema": RUNTIME_SCHEMA,
        "prop": r.prop,
        "cap": r.cap,
        "usage": r.usage,
        "runtimes": r.runtimes,
        "standby": r.standby,
        "cautions": CAUTIONS,
    })
}

/// The report as text.
pub fn runtime_text(r: &RuntimeReport) -> String {
    let mut out = String::new();
    let shares: Vec<String> = r
        .usage
        .iter()
        .filter(|u| u.share > 0.0)
        .map(|u| format!("{} ({}) {:.0} %", u.preset, u.cues, u.share * 100.0))
        .collect();
    let off = 1.0 - r.usage.iter().map(|u| u.share).sum::<f64>();
    let off = if off > 1e-6 {
        format!(", switched on but dark {:.0} %", off * 100.0)
    } else {
        String::new()
    };
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · cap {} · {}{off}\n",
        r.prop,
        r.cap,
        shares.join(", ")
    );
    for runtime in &r.runtimes {
        let _ = writeln!(
            out,
            "{BOLD}{}{BOLD:#} · mean current {} A · times within {:.1} %",
            runtime.condition,
            number(runtime.mean_a),
            runtime.error_share * 100.0
        );
        for end in &runtime.ends {
            let mark = if end.what == runtime.ended_by {
                "ends the show: "
            } else {
                ""
            };
            let _ = writeln!(out, "    {:<28} {mark}{}", end_words(end), when(end));
        }
    }
    let s = &r.standby;
    let _ = writeln!(
        out,
        "\nforgotten, switched on and dark: {}",
        drain(s.on_a, s.on_hours)
    );
    let _ = writeln!(
        out,
        "forgotten, every switch open:    {}",
        drain(s.off_a, s.off_hours)
    );
    let _ = writeln!(
        out,
        "\nFrom full. Not in the model: self-discharge, recovery at rest, warming of the cell."
    );
    cautions(&mut out);
    out
}

/// What an end is, in words.
pub(super) fn end_words(end: &End) -> &'static str {
    match end.what {
        "cut-off" => "cell at its cut-off",
        "protection-trip" => "protection opens",
        "brown-out" => "board browns out",
        _ => "first check fails",
    }
}

fn when(end: &End) -> String {
    let about = end
        .check
        .as_deref()
        .map(|c| format!(" · {c}"))
        .unwrap_or_default();
    match (end.minutes, end.soc) {
        (Some(minutes), Some(_)) if minutes <= 0.0 => format!("at once, with a full cell{about}"),
        (Some(minutes), Some(soc)) => format!(
            "after {minutes:.0} min, at {:.0} % charge{about}",
            soc * 100.0
        ),
        _ => "not before the cell's cut-off".to_owned(),
    }
}

fn drain(a: Option<f64>, hours: Option<f64>) -> String {
    match (a, hours) {
        (Some(a), Some(h)) => format!(
            "{} mA, a full cell is empty after {}",
            number(a * 1e3),
            span(h)
        ),
        (Some(_), None) => "nothing but the cell's own self-discharge".to_owned(),
        _ => "cannot be computed".to_owned(),
    }
}

fn span(hours: f64) -> String {
    if hours < 48.0 {
        format!("{hours:.0} h")
    } else {
        format!("{:.0} days", hours / 24.0)
    }
}
