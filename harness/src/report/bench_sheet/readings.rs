//! Readings typed into the CSV of a bench sheet.

use crate::build::diag::{InputError, InputErrors};
use crate::study::bench_sheet::{BenchSheet, OPEN_OHM};

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
