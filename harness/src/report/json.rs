//! Verdicts for programs: versioned JSON. A value that is missing or not a number is null, never 0.

use super::cautions::CAUTIONS;
use super::text::CheckReport;
use crate::study::verdict::Verdict;
use serde_json::{json, Value};

/// Version of the `check` document. 1: first form.
pub const CHECK_SCHEMA: &str = "lampwright/check/1";

/// The document of `check`.
pub fn check_json(report: &CheckReport) -> Value {
    let count = |v: Verdict| report.checks.iter().filter(|r| r.verdict == v).count();
    json!({
        "schema": CHECK_SCHEMA,
        "prop": report.prop,
        "cap": report.cap,
        "summary": {
            "fails": count(Verdict::Fails),
            "tight": count(Verdict::Tight),
            "holds": count(Verdict::Holds),
            "not_checked": count(Verdict::NotChecked),
        },
        "own_parts": report.own_parts,
        "findings": report.findings,
        "checks": report.checks,
        "cautions": CAUTIONS,
    })
}
