//! Wiring findings for people and programs.

use super::cautions::CAUTIONS;
use super::text::{cautions, style, BOLD};
use crate::study::rules::{Finding, Severity};
use crate::study::verdict::Verdict;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `wiring` document. 1: first form.
pub const WIRING_SCHEMA: &str = "lampwright/wiring/1";

/// Writes findings; advice takes one line unless asked for in full.
pub(super) fn findings_text(out: &mut String, findings: &[Finding], in_full: bool) {
    if findings.is_empty() {
        let _ = writeln!(out, "Wiring: no fault found in the drawing");
    }
    let mut short = false;
    for (i, f) in findings.iter().enumerate() {
        let (word, style) = match f.severity {
            Severity::Fault => ("FAULT", style(Verdict::Fails)),
            Severity::Risk => ("RISK", style(Verdict::Fails)),
            Severity::Advice => ("advice", style(Verdict::Tight)),
        };
        let place = f
            .place
            .as_deref()
            .map(|p| format!(" ({p})"))
            .unwrap_or_default();
        let _ = writeln!(
            out,
            "{style}{word:<11}{style:#} {} · {}{place}",
            f.id, f.message
        );
        if in_full || f.severity == Severity::Fault {
            let _ = writeln!(
                out,
                "            why: {}\n            mend: {}",
                f.why, f.mend
            );
        } else {
            short = true;
        }
    }
    if short {
        let _ = writeln!(
            out,
            "            `lampwright wiring` says why each matters and how to mend it"
        );
    }
}

/// What `wiring` prints: every finding in full.
pub fn wiring_text(prop: &str, loaded_with: &str, findings: &[Finding]) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{prop}{BOLD:#} · wiring · currents: {loaded_with}\n"
    );
    findings_text(&mut out, findings, true);
    let count = |s: Severity| findings.iter().filter(|f| f.severity == s).count();
    let _ = writeln!(
        out,
        "\n{} faults, {} risks, {} pieces of advice",
        count(Severity::Fault),
        count(Severity::Risk),
        count(Severity::Advice)
    );
    cautions(&mut out);
    out
}

/// The document of `wiring`.
pub fn wiring_json(prop: &str, loaded_with: &str, findings: &[Finding]) -> Value {
    json!({
        "schema": WIRING_SCHEMA,
        "prop": prop,
        "currents": loaded_with,
        "findings": findings,
        "cautions": CAUTIONS,
    })
}
