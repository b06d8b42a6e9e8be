//! What `cap` prints, for people and for programs.

use super::cautions::CAUTIONS;
use super::text::{cautions, number, subject, BOLD};
use crate::study::cap::CapResult;
use crate::study::limit::Budget;
use crate::study::verdict::CheckResult;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `cap` document. 1: first form.
pub const CAP_SCHEMA: &str = "lampwright/cap/1";

/// Everything that `cap` found.
#[derive(Debug, Clone)]
pub struct CapReport {
    /// The prop's name.
    pub prop: String,
    /// One result a preset and cue trace.
    pub caps: Vec<CapResult>,
    /// The limiter's budget, where asked for.
    pub budget: Option<Budget>,
}

impl CapReport {
    /// The one static cap for the prop: the lowest of all; `None` where one has none.
    pub fn prop_cap(&self) -> Option<u8> {
        self.caps
            .iter()
            .map(|c| c.cap)
            .min_by_key(|c| c.map_or(-1, i16::from))
            .flatten()
    }
}

/// The document of `cap`.
pub fn cap_json(report: &CapReport) -> Value {
    json!({
        "schema": CAP_SCHEMA,
        "prop": report.prop,
        "prop_cap": report.prop_cap(),
        "caps": report.caps,
        "budget": report.budget,
        "cautions": CAUTIONS,
    })
}

/// The report as text.
pub fn cap_text(report: &CapReport) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · highest safe cap over the nominal and the cautious conditions\n",
        report.prop
    );
    let several = report.caps.len() > 1;
    for c in &report.caps {
        one(&mut out, c);
    }
    if several {
        let cap = report
            .prop_cap()
            .map_or_else(|| "none".to_owned(), |c| c.to_string());
        let _ = writeln!(
            out,
            "\n{BOLD}{:<20} cap {cap:>4}{BOLD:#}  one setting for every preset",
            "the whole prop"
        );
    }
    if let Some(b) = &report.budget {
        budget(&mut out, b, &report.caps);
    }
    cautions(&mut out);
    out
}

fn one(out: &mut String, c: &CapResult) {
    let name = c.preset.as_deref().unwrap_or("recorded frames");
    let cap = c.cap.map_or_else(|| "none".to_owned(), |c| c.to_string());
    let binding = c.binding.as_deref().unwrap_or("nothing");
    let part = c
        .binding_part
        .as_deref()
        .map(|p| format!(" ({p})"))
        .unwrap_or_default();
    let verb = if c.one_above.is_some() {
        "bound by"
    } else {
        "not bound; nearest is"
    };
    let _ = writeln!(
        out,
        "{BOLD}{name:<20}{BOLD:#} cap {BOLD}{cap:>4}{BOLD:#}  {verb} {binding}{part}"
    );
    if let Some(r) = &c.at_cap {
        detail(out, &format!("at the cap: {}", of_limit(r)));
    }
    if let Some(r) = &c.one_above {
        detail(out, &format!("one step more: {} · {}", of_limit(r), r.why));
    }
    let next: Vec<String> = c.next.iter().map(next_one).collect();
    if !next.is_empty() {
        detail(out, &format!("next: {}", next.join(", ")));
    }
    if let (Some(l), Some(true)) = (&c.light, c.cap.map(|c| c < u8::MAX)) {
        detail(
            out,
            &format!(
                "light: {:.0} % of the uncapped light, CIE lightness {:.0} of 100{}",
                l.luminous_share * 100.0,
                l.lightness,
                runtime(c)
            ),
        );
    }
    for r in &c.not_mended {
        detail(
            out,
            &format!("no cap mends {} ({}): {}", r.id, subject(r), r.why),
        );
    }
}

fn runtime(c: &CapResult) -> String {
    match (c.runtime_uncapped_min, c.runtime_min) {
        (Some(before), Some(after)) => {
            format!(" · runtime {before:.0} min becomes {after:.0} min (nominal)")
        }
        _ => String::new(),
    }
}

fn budget(out: &mut String, b: &Budget, caps: &[CapResult]) {
    let _ = writeln!(
        out,
        "\n{BOLD}limiter's budget     {:>8.2} A{BOLD:#} of estimated strip current, in place of a cap (largest estimate {:.2} A)",
        b.budget_a, b.largest_estimate_a
    );
    match &b.binding {
        Some(r) => detail(
            out,
            &format!(
                "one step more fails {} ({}): {}",
                r.id,
                subject(r),
                of_limit(r)
            ),
        ),
        None => detail(out, "no check binds it"),
    }
    for (c, light) in caps.iter().zip(&b.light) {
        if let Some(l) = light {
            let name = c.preset.as_deref().unwrap_or("recorded frames");
            detail(
                out,
                &format!(
                    "{name}: {:.0} % of the light, CIE lightness {:.0}",
                    l.luminous_share * 100.0,
                    l.lightness
                ),
            );
        }
    }
}

fn next_one(r: &CheckResult) -> String {
    let share = r
        .margin_share
        .map_or(String::new(), |s| format!(" {:+.0} %", s * 100.0));
    format!("{} ({}){share}", r.id, subject(r))
}

fn of_limit(r: &CheckResult) -> String {
    format!(
        "{} of {} {}",
        r.worst.map_or("?".into(), number),
        r.limit.map_or("?".into(), number),
        r.unit
    )
}

fn detail(out: &mut String, text: &str) {
    let _ = writeln!(out, "{:20} {text}", "");
}
