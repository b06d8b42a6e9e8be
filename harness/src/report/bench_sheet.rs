//! The bench sheet on paper and on screen, and what its readings mean.

use super::cautions::CAUTIONS;
use super::picture::{shorten, Anchor, Label, Stroke, Svg, Theme, Weight};
use super::text::BOLD;
use crate::build::diag::{InputError, InputErrors};
use crate::study::bench_sheet::{BenchSheet, Judged, RowVerdict, SheetRow, OPEN_OHM};
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the bench sheet document. 1: first form.
pub const BENCH_SCHEMA: &str = "lampwright/bench-sheet/1";

/// What must be minded at the bench.
const BENCH_CAUTIONS: [&str; 6] = [
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

fn value(row: &SheetRow) -> String {
    match row.expected {
        Some(v) => format!("{} {}", meter(row.unit, v), row.unit),
        None => "open".to_owned(),
    }
}

fn range(row: &SheetRow) -> String {
    let show = |v: f64| meter(row.unit, v);
    match (row.low, row.high) {
        (Some(l), Some(h)) if (l - h).abs() < 1e-12 => show(l),
        (Some(l), Some(h)) => format!("{} to {}", show(l), show(h)),
        (Some(l), None) => format!("above {} {}", show(l), row.unit),
        (None, Some(h)) => format!("below {} {}", show(h), row.unit),
        (None, None) => String::new(),
    }
}

fn head(sheet: &BenchSheet) -> String {
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
    super::text::cautions(&mut out);
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

/// Reads the readings back: one for each row of the sheet, `None` where nothing was written.
///
/// # Errors
/// A row that the sheet does not have, a reading that is no number, a missing column; each with its line.
pub fn read_readings(
    name: &str,
    text: &str,
    sheet: &BenchSheet,
) -> Result<Vec<Option<f64>>, InputErrors> {
    let fault = |line: u64, message: String, help: &str| {
        InputError::whole(format!("{name}:{line}: {message}")).help(help)
    };
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .from_reader(text.as_bytes());
    let columns = reader
        .headers()
        .map_err(|e| {
            fault(
                1,
                e.to_string(),
                "write the sheet again with --bench --out FILE.csv",
            )
        })?
        .clone();
    let place = |wanted: &str| {
        columns
            .iter()
            .position(|c| c.trim().trim_start_matches('\u{feff}') == wanted)
    };
    let (Some(row_at), Some(reading_at)) = (place("row"), place("reading")) else {
        let help =
            "the first line must name the columns row and reading, as the sheet's own CSV does";
        return Err(fault(1, "the columns row and reading are needed".into(), help).into());
    };
    let mut out = vec![None; sheet.rows.len()];
    let mut errors = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(e) => {
                errors.push(fault(
                    e.position().map_or(0, csv::Position::line),
                    e.to_string(),
                    "write one row a line",
                ));
                continue;
            }
        };
        let line = record.position().map_or(0, csv::Position::line);
        let id = record.get(row_at).unwrap_or("").trim();
        let typed = record.get(reading_at).unwrap_or("").trim();
        if id.is_empty() || typed.is_empty() {
            continue;
        }
        let Some(index) = sheet.rows.iter().position(|r| r.id == id) else {
            errors.push(fault(
                line,
                format!("the sheet has no row \"{id}\""),
                "the build has changed since the sheet was printed: print it again",
            ));
            continue;
        };
        match reading(typed) {
            Some(v) => {
                if let Some(slot) = out.get_mut(index) {
                    *slot = Some(v);
                }
            }
            None => errors.push(fault(
                line,
                format!("\"{typed}\" is no reading"),
                "write a number in the unit of the row, or open (OL) for no connection",
            )),
        }
    }
    if errors.is_empty() {
        Ok(out)
    } else {
        Err(InputErrors(errors))
    }
}

/// A number, with a comma or a point; `open`, `OL`, `inf` for no connection.
fn reading(typed: &str) -> Option<f64> {
    let lower = typed.to_lowercase();
    if ["open", "ol", "o.l", "o.l.", "inf", "∞"].contains(&lower.as_str()) {
        return Some(OPEN_OHM);
    }
    let text = lower.replace(',', ".").replace('−', "-");
    text.parse::<f64>().ok().filter(|v| v.is_finite())
}

/// The sheet as a page to print.
pub fn bench_html(prop: &str, sheet: &BenchSheet) -> String {
    let e = super::picture::escape_markup;
    let mut out = String::new();
    let _ = write!(
        out,
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Bench sheet: {0}</title>\n<style>\nbody{{font:13px/1.35 sans-serif;color:#111;margin:16mm}}\nh1{{font-size:20px;margin:0 0 4px}}h2{{font-size:14px;margin:14px 0 4px;break-after:avoid}}\ntable{{border-collapse:collapse;width:100%}}th,td{{border:1px solid #555;padding:3px 6px;text-align:left}}\nth{{background:#eee}}td.n{{text-align:right;white-space:nowrap}}td.w{{width:22%}}tr{{break-inside:avoid}}\nul{{border:2px solid #111;padding:6px 6px 6px 24px}}\n@media print{{body{{margin:0}}@page{{margin:14mm}}}}\n</style></head><body>\n<h1>Bench sheet: {0}</h1>\n<p>{1}. Date: ____________ Meter: ____________</p>\n<ul>",
        e(prop),
        e(&head(sheet))
    );
    for caution in BENCH_CAUTIONS.iter().chain(&CAUTIONS) {
        let _ = writeln!(out, "<li>{}</li>", e(caution));
    }
    out.push_str("</ul>\n");
    let mut when = "";
    for row in &sheet.rows {
        if row.when != when {
            if !when.is_empty() {
                out.push_str("</table>\n");
            }
            when = &row.when;
            let _ = writeln!(out, "<h2>{}</h2>\n<table><tr><th>row</th><th>between</th><th>expected</th><th>in order</th><th>reading</th></tr>", e(when));
        }
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"w\"></td></tr>",
            row.id,
            e(&row.what),
            value(row),
            range(row)
        );
    }
    if !when.is_empty() {
        out.push_str("</table>\n");
    }
    out.push_str("</body></html>\n");
    out
}

/// The sheet as pages of SVG of a size in px, for the PDF.
pub fn bench_pages(prop: &str, sheet: &BenchSheet, width: f64, height: f64) -> Vec<String> {
    let mut lines: Vec<(Option<&SheetRow>, String)> = Vec::new();
    let mut when = "";
    for row in &sheet.rows {
        if row.when != when {
            when = &row.when;
            lines.push((None, when.to_owned()));
        }
        lines.push((Some(row), String::new()));
    }
    let first = 118.0 + 14.0 * (BENCH_CAUTIONS.len() + CAUTIONS.len()) as f64;
    let pitch = 19.0;
    let bottom = height - 50.0;
    let mut pages: Vec<Vec<(Option<&SheetRow>, String)>> = vec![Vec::new()];
    let mut y = first;
    for (k, line) in lines.iter().enumerate() {
        // A heading does not stand alone at the foot of a page.
        let needs = if line.0.is_none() && k + 1 < lines.len() {
            2.0 * pitch
        } else {
            pitch
        };
        if y + needs > bottom {
            pages.push(Vec::new());
            y = 80.0;
        }
        if let Some(page) = pages.last_mut() {
            page.push(line.clone());
        }
        y += pitch;
    }
    let count = pages.len();
    pages
        .iter()
        .enumerate()
        .map(|(k, rows)| page(prop, sheet, rows, (width, height), (k, count), first))
        .collect()
}

fn page(
    prop: &str,
    sheet: &BenchSheet,
    rows: &[(Option<&SheetRow>, String)],
    (width, height): (f64, f64),
    (number, count): (usize, usize),
    first: f64,
) -> String {
    let mut svg = Svg::new(width, height, &format!("Bench sheet of {prop}"), "");
    let (left, right) = (44.0, width - 44.0);
    let put =
        |svg: &mut Svg, text: &str, x: f64, y: f64, weight: Weight, size: f64, anchor: Anchor| {
            svg.text(Label {
                text,
                x,
                y,
                anchor,
                size,
                weight,
                colour: Theme::INK,
            });
        };
    let foot = format!("{prop} · bench sheet · page {} of {count}", number + 1);
    put(
        &mut svg,
        &foot,
        right,
        height - 24.0,
        Weight::Regular,
        9.0,
        Anchor::End,
    );
    let mut y = 80.0;
    if number == 0 {
        put(
            &mut svg,
            &format!("Bench sheet: {prop}"),
            left,
            62.0,
            Weight::SemiBold,
            20.0,
            Anchor::Start,
        );
        put(
            &mut svg,
            &head(sheet),
            left,
            84.0,
            Weight::SemiBold,
            12.0,
            Anchor::Start,
        );
        put(
            &mut svg,
            "Date: ______________   Meter: ______________",
            right,
            84.0,
            Weight::Regular,
            11.0,
            Anchor::End,
        );
        let mut at = 106.0;
        for caution in BENCH_CAUTIONS.iter().chain(&CAUTIONS) {
            let text = shorten(&format!("! {caution}"), 9.5, Weight::Regular, right - left);
            put(
                &mut svg,
                &text,
                left,
                at,
                Weight::Regular,
                9.5,
                Anchor::Start,
            );
            at += 14.0;
        }
        y = first;
    }
    let line = Stroke::solid(Theme::AXIS, 0.7);
    let columns = [
        left,
        left + 36.0,
        right - 270.0,
        right - 180.0,
        right - 84.0,
    ];
    for (row, heading) in rows {
        match row {
            None => put(
                &mut svg,
                heading,
                left,
                y + 13.0,
                Weight::SemiBold,
                11.0,
                Anchor::Start,
            ),
            Some(row) => {
                let expected = value(row);
                let what = shorten(
                    &row.what,
                    10.0,
                    Weight::Regular,
                    columns[2] - columns[1] - 8.0,
                );
                for (text, x) in [
                    (&row.id, columns[0]),
                    (&what, columns[1]),
                    (&expected, columns[2]),
                    (&range(row), columns[3]),
                ] {
                    put(
                        &mut svg,
                        text,
                        x + 4.0,
                        y + 13.0,
                        Weight::Regular,
                        10.0,
                        Anchor::Start,
                    );
                }
                svg.line(left, y + 19.0, right, y + 19.0, line);
                svg.outline(columns[4], y + 1.0, right - columns[4], 17.0, line);
            }
        }
        y += 19.0;
    }
    svg.finish()
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
    super::text::cautions(&mut out);
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
