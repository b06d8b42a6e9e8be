//! What `doctor` prints about an installation.

use super::text::BOLD;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `doctor` document. 1: first form.
pub const DOCTOR_SCHEMA: &str = "lampwright/doctor/1";

/// One thing looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What was looked at.
    pub what: &'static str,
    /// Whether it works.
    pub works: bool,
    /// What was found.
    pub says: String,
    /// How to mend it, where it does not work.
    pub help: Option<&'static str>,
}

impl Finding {
    /// Something that works.
    pub fn works(what: &'static str, says: String) -> Self {
        Self {
            what,
            works: true,
            says,
            help: None,
        }
    }

    /// Something that does not.
    pub fn fails(what: &'static str, says: String, help: &'static str) -> Self {
        Self {
            what,
            works: false,
            says,
            help: Some(help),
        }
    }
}

/// The document of `doctor`.
pub fn doctor_json(findings: &[Finding]) -> Value {
    let each = findings
        .iter()
        .map(|f| json!({ "what": f.what, "works": f.works, "says": f.says, "help": f.help }));
    json!({ "schema": DOCTOR_SCHEMA, "findings": each.collect::<Vec<_>>() })
}

/// The same for people.
pub fn doctor_text(findings: &[Finding]) -> String {
    let mut out = String::new();
    for f in findings {
        let verdict = if f.works { "works" } else { "fails" };
        // Writing to a String cannot fail.
        let _ = writeln!(out, "{verdict:<7}{BOLD}{:<11}{BOLD:#}{}", f.what, f.says);
        if let Some(help) = f.help {
            let _ = writeln!(out, "       {help}");
        }
    }
    out
}
