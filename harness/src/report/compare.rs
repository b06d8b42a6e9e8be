//! Builds side by side, for people and programs.

use super::text::{cautions, number, style, BOLD};
use crate::study::compare::{Compared, Pair};
use crate::study::verdict::CheckResult;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `compare` document. 1: first form.
pub const COMPARE_SCHEMA: &str = "lampwright/compare/1";

/// What `compare` prints.
pub fn compare_text(prop: &str, played: &str, builds: &[Compared]) -> String {
    let mut out = String::new();
    let names: Vec<&str> = builds.iter().map(|b| b.name.as_str()).collect();
    let _ = writeln!(
        out,
        "{BOLD}{prop}{BOLD:#} · {} · {played}",
        names.join(" against ")
    );
    let first = names.first().copied().unwrap_or("");
    for build in builds.iter().skip(1) {
        let _ = writeln!(out, "\n{BOLD}{} against {first}{BOLD:#}", build.name);
        if build.differences.is_empty() {
            let _ = writeln!(out, "  no difference in the netlist");
        }
        for d in &build.differences {
            let _ = writeln!(out, "  {d}");
        }
        let _ = writeln!(
            out,
            "\n  {:<17} {:<26} {:<34} {:<34} change of margin",
            "check", "about", first, build.name
        );
        for pair in &build.checks {
            row(&mut out, pair);
        }
    }
    let _ = writeln!(out, "\n{BOLD}Caps{BOLD:#}");
    for build in builds {
        for cap in &build.caps {
            let preset = cap.preset.as_deref().unwrap_or("every pixel at the cap");
            let value = cap.cap.map_or_else(|| "none".to_owned(), |c| c.to_string());
            let binding = cap.binding.as_deref().unwrap_or("nothing");
            let part = cap
                .binding_part
                .as_deref()
                .map_or_else(String::new, |p| format!(" ({p})"));
            let _ = writeln!(
                out,
                "  {:<22} {preset:<24} cap {value:>4}  {binding}{part}",
                build.name
            );
        }
    }
    cautions(&mut out);
    out
}

fn row(out: &mut String, pair: &Pair) {
    let cell = |r: &Option<CheckResult>| match r {
        None => (String::from("–"), None),
        Some(r) => match (r.worst, r.limit) {
            (Some(w), Some(l)) => (
                format!(
                    "{} {} of {} {}",
                    r.verdict.word(),
                    number(w),
                    number(l),
                    r.unit
                ),
                Some(r.verdict),
            ),
            _ => (r.verdict.word().to_owned(), Some(r.verdict)),
        },
    };
    let ((a, av), (b, bv)) = (cell(&pair.first), cell(&pair.second));
    let paint = |text: &str, v| match v {
        Some(v) => {
            let s = style(v);
            format!("{s}{text:<34}{s:#}")
        }
        None => format!("{text:<34}"),
    };
    let change = match pair.change {
        Some(c) if c.abs() < 5e-4 => "same".to_owned(),
        Some(c) => format!("{:+.1} % of the limit", c * 100.0),
        None => String::new(),
    };
    let part = pair.part.as_deref().unwrap_or("the prop");
    let _ = writeln!(
        out,
        "  {:<17} {part:<26} {} {} {change}",
        pair.id,
        paint(&a, av),
        paint(&b, bv)
    );
}

/// The document of `compare`.
pub fn compare_json(prop: &str, played: &str, builds: &[Compared]) -> Value {
    json!({
        "schema": COMPARE_SCHEMA,
        "prop": prop,
        "played": played,
        "builds": builds,
        "cautions": super::cautions::CAUTIONS,
    })
}
