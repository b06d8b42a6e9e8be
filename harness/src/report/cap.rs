//! What `cap` prints, for people and for programs.

use super::cautions::CAUTIONS;
use super::text::{cautions, number, subject, BOLD};
use crate::study::cap::CapResult;
use crate::study::levers::Lever;
use crate::study::limit::Budget;
use crate::study::map::ConditionMap;
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
    /// What changes would give, one list a result of `caps`, where asked for.
    pub levers: Vec<Vec<Lever>>,
    /// Maps over conditions, new and aged cell for each result of `caps`, where asked for.
    pub maps: Vec<Vec<ConditionMap>>,
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

    /// A reminder beside the prop's cap that some check fails at every cap; empty where none does.
    fn left_over(&self) -> &'static str {
        if self.caps.iter().all(|c| c.not_mended.is_empty()) {
            ""
        } else {
            "; NOT SAFE YET: a check fails at every cap"
        }
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
        "levers": report.levers,
        "maps": report.maps,
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
    for (k, c) in report.caps.iter().enumerate() {
        one(&mut out, c);
        if let Some(levers) = report.levers.get(k) {
            lever_lines(&mut out, levers);
        }
        for map in report.maps.get(k).into_iter().flatten() {
            map_table(&mut out, map);
        }
    }
    if several {
        let cap = report
            .prop_cap()
            .map_or_else(|| "none".to_owned(), |c| c.to_string());
        let _ = writeln!(
            out,
            "\n{BOLD}{:<20} cap {cap:>4}{BOLD:#}  one setting for every preset{}",
            "the whole prop",
            report.left_over()
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
    let verb = match (c.one_above.is_some(), c.not_mended.is_empty()) {
        (true, true) => "bound by",
        (true, false) => "NOT SAFE YET: see what no cap mends; apart from that bound by",
        (false, true) => "not bound; nearest is",
        (false, false) => "NOT SAFE YET: see what no cap mends; apart from that nearest is",
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

fn lever_lines(out: &mut String, levers: &[Lever]) {
    if levers.is_empty() {
        detail(out, "no change that was tried gives a higher cap");
    }
    for l in levers {
        let cap = |c: Option<u8>| c.map_or_else(|| "none".to_owned(), |c| c.to_string());
        let mends = if l.mends.is_empty() {
            String::new()
        } else {
            format!(" · mends {}", l.mends.join(", "))
        };
        let light = l
            .light_ratio
            .map_or(String::new(), |r| format!(", light ×{r:.2}"));
        let binding = l
            .binding
            .as_deref()
            .map_or(String::new(), |b| format!(" · then {b}"));
        detail(
            out,
            &format!(
                "lever: {}: cap {} becomes {}{light}{binding}{mends}",
                l.change,
                cap(l.cap_before),
                cap(l.cap)
            ),
        );
    }
}

fn map_table(out: &mut String, map: &ConditionMap) {
    let age = if map.aged { "aged" } else { "new" };
    let soc: Vec<String> = map
        .soc
        .iter()
        .map(|s| format!("{:>6.0} %", s * 100.0))
        .collect();
    let _ = writeln!(
        out,
        "{:20} map, {age} cell, unfavourable tolerances; state of charge across:",
        ""
    );
    let _ = writeln!(out, "{:20} {:>7} {}", "", "", soc.join(""));
    for ((celsius, row), limited) in map.celsius.iter().zip(&map.caps).zip(&map.limited_from_soc) {
        let cells: Vec<String> = row
            .iter()
            .map(|c| {
                format!(
                    "{:>8}",
                    c.cap.map_or_else(|| "none".to_owned(), |c| c.to_string())
                )
            })
            .collect();
        let limited = limited.map_or_else(
            || "never limited".to_owned(),
            |s| format!("limited from {:.0} % down", s * 100.0),
        );
        let _ = writeln!(
            out,
            "{:20} {celsius:>4.0} °C{}   {limited}",
            "",
            cells.join("")
        );
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
