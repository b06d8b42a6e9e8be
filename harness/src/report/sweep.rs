//! What `sweep` and `merge` print.

use super::cautions::CAUTIONS;
use super::samples::Head;
use super::text::{cautions, BOLD};
use crate::study::sweep::corners::Corners;
use crate::study::sweep::summary::Outcome;
use serde::Serialize;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `sweep` document. 1: first form.
pub const SWEEP_SCHEMA: &str = "lampwright/sweep/1";

/// The cap for a chosen risk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RiskCap {
    /// Share of props that may fail.
    pub risk: f64,
    /// The cap; null where more than that share fails at any.
    pub cap: Option<u8>,
    /// Its 95 % interval.
    pub low: Option<u8>,
    /// Upper end.
    pub high: Option<u8>,
    /// Number of samples it stands on.
    pub samples: usize,
}

/// A sweep's results.
#[derive(Debug, Clone)]
pub struct SweepReport {
    /// What was swept.
    pub head: Head,
    /// Number of samples played; fewer than wanted after an interrupt.
    pub played: u64,
    /// Number of samples for which the whole trace was played.
    pub whole: u64,
    /// Outcomes, first of all checks together.
    pub outcomes: Vec<Outcome>,
    /// The cap for a chosen risk, where asked for.
    pub risk: Option<RiskCap>,
    /// The corners of the tolerances, where asked for.
    pub corners: Option<Corners>,
    /// How the digest stands for the trace, in words.
    pub reduction: String,
    /// Where the ends of each tolerance come from, by name.
    pub sources: Vec<(String, String)>,
}

/// The document of `sweep`.
pub fn sweep_json(r: &SweepReport) -> Value {
    let sources: Vec<Value> = r
        .sources
        .iter()
        .map(|(name, source)| json!({ "name": name, "source": source }))
        .collect();
    json!({
        "schema": SWEEP_SCHEMA,
        "sweep": r.head,
        "played": r.played,
        "played_whole": r.whole,
        "outcomes": r.outcomes,
        "risk_cap": r.risk,
        "corners": r.corners,
        "reduction": r.reduction,
        "tolerances": sources,
        "cautions": CAUTIONS,
    })
}

/// The report as text.
pub fn sweep_text(r: &SweepReport) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{} · {}{BOLD:#} · cap {} · {} of {} samples ({} by the whole trace), seed {} · {} tolerances, state of charge and temperature drawn",
        r.head.prop, r.head.preset, r.head.cap, r.played, r.head.samples, r.whole, r.head.seed, r.head.tolerances.len()
    );
    let _ = writeln!(out, "{}\n", r.reduction);
    let _ = writeln!(
        out,
        "{BOLD}{:<18} {:>9}  {:<20} {:>10} {:>10}  what matters most (rank correlation with the margin){BOLD:#}",
        "check", "fails", "95 % interval", "P95 margin", "median"
    );
    for o in &r.outcomes {
        let share = |v: Option<f64>| {
            v.map_or_else(|| "none".to_owned(), |v| format!("{:+.1} %", v * 100.0))
        };
        let names: Vec<String> = o
            .influences
            .iter()
            .filter(|i| i.rank_correlation.abs() >= 0.1)
            .map(|i| format!("{} {:+.2}", i.name, i.rank_correlation))
            .collect();
        let interval = format!(
            "{:.2} to {:.2} %",
            o.probability_low * 100.0,
            o.probability_high * 100.0
        );
        let name = if o.check == "any" {
            "any of them"
        } else {
            &o.check
        };
        let _ = writeln!(
            out,
            "{name:<18} {:>7.2} %  {interval:<20} {:>10} {:>10}  {}",
            o.probability * 100.0,
            share(o.margin_95),
            share(o.margin_50),
            names.join(", ")
        );
    }
    if let Some(risk) = &r.risk {
        risk_line(&mut out, risk);
    }
    if let Some(corners) = &r.corners {
        corner_lines(&mut out, corners);
    }
    let _ = writeln!(out, "\nP95 margin: the margin, as a share of the limit, that 95 % of the samples have at least.");
    let _ = writeln!(out, "Parts are drawn independently of one another; values between the ends of a tolerance as the spread says. Real lots differ.");
    cautions(&mut out);
    out
}

/// Tolerances that are named alone.
const NAMED_ALONE: usize = 8;

fn corner_lines(out: &mut String, c: &Corners) {
    let share =
        |v: Option<f64>| v.map_or_else(|| "none".to_owned(), |v| format!("{:+.1} %", v * 100.0));
    let _ = writeln!(
        out,
        "\n{BOLD}corners{BOLD:#} · least margin at the ends of charge and temperature, every value as stated: {}",
        share(c.stated)
    );
    for a in c.alone.iter().take(NAMED_ALONE) {
        let _ = writeln!(
            out,
            "    {:<32} low end {:>8}   high end {:>8}   {}",
            a.name,
            share(a.low),
            share(a.high),
            a.check
        );
    }
    let _ = writeln!(
        out,
        "    worst of {} combinations of the first: {} ({}) with {}",
        c.combinations,
        share(c.worst),
        c.worst_check,
        c.worst_ends.join(", ")
    );
}

fn risk_line(out: &mut String, r: &RiskCap) {
    let share = r.risk * 100.0;
    match (r.cap, r.low, r.high) {
        (Some(cap), Some(low), Some(high)) => {
            let _ = writeln!(
                out,
                "\n{BOLD}cap {cap}{BOLD:#} keeps the share of props that fail at or below {share} % (95 % interval {low} to {high}, from {} samples)",
                r.samples
            );
        }
        _ => {
            let _ = writeln!(
                out,
                "\nno cap keeps the share of props that fail at or below {share} % ({} samples)",
                r.samples
            );
        }
    }
}
