//! A cue trace as text.

use super::line::value_text;
use super::{CueTrace, TraceCue, END};
use std::fmt::Write as _;

/// The text of a cue trace; reads back as the same trace.
pub fn write_cues(trace: &CueTrace) -> String {
    let mut out = String::from("time_s,cue,value\n");
    for TraceCue { at_ms, cue } in &trace.cues {
        let value = value_text(*cue);
        // Writing to a String cannot fail.
        let _ = writeln!(out, "{},{},{value}", seconds(*at_ms), cue.kind().name());
    }
    let _ = writeln!(out, "{},{END},", seconds(trace.end_ms));
    out
}

/// Seconds with milliseconds.
pub(super) fn seconds(ms: u64) -> String {
    format!("{}.{:03}", ms / 1000, ms % 1000)
}

/// The number with the fewest decimals that reads back exactly.
pub(super) fn shortest(value: f64, exact: impl Fn(&str) -> bool) -> String {
    let texts = (0..=8).map(|decimals| format!("{value:.decimals$}"));
    let mut hits = texts.filter(|t| exact(t));
    hits.next().unwrap_or_else(|| value.to_string())
}
