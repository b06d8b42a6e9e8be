//! A cue trace as text.

use super::value::{parse_angle, parse_share};
use super::{CueTrace, TraceCue, END};
use lampwright_model::Cue;
use std::fmt::Write as _;

/// The text of a cue trace; reads back as the same trace.
pub fn write_cues(trace: &CueTrace) -> String {
    let mut out = String::from("time_s,cue,value\n");
    for TraceCue { at_ms, cue } in &trace.cues {
        let value = match *cue {
            Cue::ShortPress | Cue::LongPress | Cue::DoublePress | Cue::LowCell => String::new(),
            Cue::Knock { strength: share }
            | Cue::Swing { speed: share }
            | Cue::Level { value: share } => shortest(f64::from(share.0) / 65535.0, |text| {
                parse_share(text) == Ok(share)
            }),
            Cue::Twist { angle } => shortest(f64::from(angle.0) * 180.0 / 32768.0, |text| {
                parse_angle(text) == Ok(angle)
            }),
        };
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
