//! The bench sheet on paper and on screen, and what its readings mean.

use crate::report::cautions::CAUTIONS;
use crate::report::text::BOLD;
use crate::study::bench_sheet::{BenchSheet, Judged, RowVerdict, SheetRow, OPEN_OHM};
use serde_json::{json, Value};
use std::fmt::Write as _;

mod pages;
mod readings;

pub use pages::{bench_html, bench_pages};
pub use readings::read_readings;

/// Version of the bench sheet document. 1: first form.
pub const BENCH_SCHEMA: &str = "lampwright/bench-sheet/1";

/// What must be minded at the bench.
pub(super) const BENCH_CAUTIONS: [&str; 6] = [
    "Cell out for every resistance: a meter on Ω across a cell shorts it or is destroyed.",
    "Zero the leads first. A hand meter cannot tell joints below 0.1 Ω apart: drops along the leg can.",
    "A protection circuit or a diode does not conduct at a meter's voltage: its leg is measured in two pieces, from behind it on.",
    "Supply: set voltage and current limit with nothing connected, then connect; watch the polarity.",
    "A reading out of range: switch off, find the cause, go on only then.",
    "Moving pictures: read the average over a few seconds.",
];

/// A value with as many decimals as a hand meter shows.
fn meter(unit: &str, v: f64) -> String {
    let decimals = match unit {
        "pixels" => 0,
        _ if v.abs() >= 100.0 => 0,
        _ if v.abs() >= 10.0 => 1,
        _ => 3,
    };
    let text = format!("{v:.decimals$}");
    let zero = text
        .trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.');
    if zero {
        text.trim_start_matches('-').to_owned()
    } else {
        text.replace('-', "−")
    }
}

pub(super) fn value(row: &SheetRow) -> String {
    match row.expected {
        Some(v) => format!("{} {}", meter(row.unit, v), row.unit),
        None => "open".to_owned(),
    }
}

pub(super) fn range(row: &SheetRow) -> String {
    let show = |v: f64| meter(row.unit, v);
    match (row.low, row.high) {
        (Some(l), Some(h)) if (l - h).abs() < 1e-12 => show(l),
        (Some(l), Some(h)) => format!("{} to {}", show(l), show(h)),
        (Some(l), None) => format!("above {} {}", show(l), row.unit),
        (None, Some(h)) => format!("below {} {}", show(h), row.unit),
        (None, None) => String::new(),
    }
}

pub(super) fn head(sheet: &BenchSheet) -> String {
    format!(
        "Supply in place of the cell: set {:.1} V, limit {:.1} A",
        sheet.supply_v, sheet.limit_a
    )
}

/// The sheet for a terminal.
pub fn bench_text(prop: &str, sheet: &BenchSheet) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{prop}{BOLD:#} · bench sheet · {}", head(sheet));
    for caution in BENCH_CAUTIONS {
        let _ = writeln!(out, "- {caution}");
    }
    let mut when = "";
    for row in &sheet.rows {
        if row.when != when {
            when = &row.when;
            let _ = writeln!(out, "\n{BOLD}{when}{BOLD:#}");
        }
        let expected = value(row);
        let _ = writeln!(
            out,
            "{:<4} {:<58} {expected:<14} {:<22} [        ]",
            row.id,
            row.what,
            range(row)
        );
    }
    crate::report::text::cautions(&mut out);
    out
}

/// The sheet as CSV with an empty column for the readings.
///
/// # Errors
/// The writer of CSV failed.
pub fn bench_csv(sheet: &BenchSheet) -> Result<Vec<u8>, csv::Error> {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record([
        "row", "when", "what", "unit", "expected", "low", "high", "reading",
    ])?;
    for row in &sheet.rows {
        let plain = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{v:.4}"));
        let expected = if row.expected.is_none() {
            "open".to_owned()
        } else {
            plain(row.expected)
        };
        csv.write_record([
            row.id.as_str(),
            &row.when,
            &row.what,
            row.unit,
            &expected,
            &plain(row.low),
            &plain(row.high),
            "",
        ])?;
    }
    csv.into_inner().map_err(|e| e.into_error().into())
}

/// What the readings mean, for people.
pub fn judged_text(
    prop: &str,
    sheet: &BenchSheet,
    readings: &[Option<f64>],
    judged: &Judged,
) -> String {
    let mut out = String::new();
    let taken = readings.iter().flatten().count();
    let bad: Vec<(&SheetRow, Option<f64>)> = sheet
        .rows
        .iter()
        .zip(readings)
        .zip(&judged.rows)
        .filter(|(_, v)| **v == RowVerdict::OutOfRange)
        .map(|((row, r), _)| (row, *r))
        .collect();
    let _ = writeln!(
        out,
        "{BOLD}{prop}{BOLD:#} · {taken} of {} readings, {} out of range",
        sheet.rows.len(),
        bad.len()
    );
    for (row, reading) in &bad {
        let read = reading.map_or_else(String::new, |v| {
            if v >= OPEN_OHM && row.unit == "Ω" {
                "open".into()
            } else {
                meter(row.unit, v)
            }
        });
        let _ = writeln!(
            out,
            "  {:<4} {}: read {read} {}, in order {}",
            row.id,
            row.what,
            row.unit,
            range(row)
        );
    }
    if taken == 0 {
        let _ = writeln!(
            out,
            "Write readings into the column reading of the sheet's CSV first."
        );
        return out;
    }
    let _ = writeln!(out, "\n{BOLD}Likely causes, the likeliest first{BOLD:#} (single faults put into your netlist; distance 0 fits exactly)");
    for (k, cause) in judged.causes.iter().enumerate() {
        let fault = cause.fault.as_deref().unwrap_or("nothing is wrong");
        let _ = writeln!(
            out,
            "  {}. {fault}  (distance {:.1})\n     {}",
            k + 1,
            cause.distance,
            cause.mend
        );
    }
    let _ = writeln!(
        out,
        "\nTwo faults at once, and faults inside a part, are not looked for."
    );
    crate::report::text::cautions(&mut out);
    out
}

/// The sheet, or the readings and what they mean, for programs.
pub fn bench_json(
    prop: &str,
    sheet: &BenchSheet,
    judged: Option<(&[Option<f64>], &Judged)>,
) -> Value {
    json!({
        "schema": BENCH_SCHEMA,
        "prop": prop,
        "supply_v": sheet.supply_v,
        "limit_a": sheet.limit_a,
        "rows": sheet.rows,
        "readings": judged.map(|(r, _)| r),
        "judged": judged.map(|(_, j)| j),
        "cautions": BENCH_CAUTIONS.iter().chain(&CAUTIONS).collect::<Vec<_>>(),
    })
}
