//! The per-frame table: CSV and JSON rows in base SI units. A missing value is empty or null, never 0.

use crate::profile::circuit::Circuit;
use crate::profile::figures::Figures;
use serde_json::{Map, Value};
use std::io::{self, Write};

/// Version of the profile document. 1: first form.
pub const PROFILE_SCHEMA: &str = "lampwright/profile/1";

enum Cell {
    Number(f64),
    Count(u64),
    Text(String),
}

/// Names of the columns for a circuit.
pub fn columns(circuit: &Circuit) -> Vec<String> {
    let fixed = [
        "frame",
        "time_s",
        "state",
        "cues",
        "cell_current_a",
        "cell_current_peak_a",
        "cell_current_aligned_a",
        "cell_voltage_v",
        "cell_voltage_peak_v",
        "board_voltage_v",
        "board_voltage_peak_v",
        "board_rail_v",
        "pixel_supply_min_v",
        "pixel_supply_min_at",
        "soc",
        "cell_temperature_c",
        "sound",
        "luminance",
    ];
    let mut names: Vec<String> = fixed.iter().map(|n| (*n).to_owned()).collect();
    for strip in &circuit.strips {
        for column in [
            "current_a",
            "current_peak_a",
            "current_aligned_a",
            "supply_min_v",
        ] {
            names.push(format!("{}_{column}", strip.name));
        }
    }
    names
}

fn cells(f: &Figures, circuit: &Circuit) -> Vec<Cell> {
    let lowest = f
        .strips
        .iter()
        .zip(&circuit.strips)
        .min_by(|a, b| a.0.supply_min_v.total_cmp(&b.0.supply_min_v));
    let m = &f.moment;
    let cue = (m.new_cues > 0)
        .then(|| m.cue.map(|(_, c)| c.kind().name().to_owned()))
        .flatten();
    let mut out = vec![
        Cell::Count(m.frame),
        Cell::Number(m.time_s),
        Cell::Text(m.state.map_or_else(String::new, |s| s.name().to_owned())),
        Cell::Text(cue.unwrap_or_default()),
        Cell::Number(f.cell_a),
        Cell::Number(f.cell_peak_a),
        Cell::Number(f.cell_aligned_a),
        Cell::Number(f.cell_v),
        Cell::Number(f.cell_peak_v),
        Cell::Number(f.board_v),
        Cell::Number(f.board_peak_v),
        Cell::Number(f.rail_v),
        Cell::Number(lowest.map_or(f64::NAN, |(s, _)| s.supply_min_v)),
        Cell::Text(lowest.map_or_else(String::new, |(s, i)| {
            format!("{}[{}]", i.name, s.supply_min_pixel)
        })),
        Cell::Number(f.soc),
        Cell::Number(f.cell_temperature_k - 273.15),
        Cell::Number(f.sound),
        Cell::Number(f.light.luminance),
    ];
    for s in &f.strips {
        let collapsed = f.collapsed.is_some();
        let delivered = if collapsed { f64::NAN } else { s.delivered_a };
        out.extend([delivered, s.peak_a, s.aligned_a, s.supply_min_v].map(Cell::Number));
    }
    out
}

/// Writes the header of the CSV table.
///
/// # Errors
/// Writing failed.
pub fn csv_header(out: &mut dyn Write, circuit: &Circuit) -> io::Result<()> {
    writeln!(out, "{}", columns(circuit).join(","))
}

/// Writes a row of the CSV table.
///
/// # Errors
/// Writing failed.
pub fn csv_row(out: &mut dyn Write, f: &Figures, circuit: &Circuit) -> io::Result<()> {
    for (i, cell) in cells(f, circuit).into_iter().enumerate() {
        if i > 0 {
            out.write_all(b",")?;
        }
        match cell {
            Cell::Number(v) if v.is_finite() => write!(out, "{}", rounded(v))?,
            Cell::Number(_) => {}
            Cell::Count(n) => write!(out, "{n}")?,
            Cell::Text(text) => out.write_all(text.as_bytes())?,
        }
    }
    out.write_all(b"\n")
}

/// A row as a JSON object.
pub fn json_row(f: &Figures, circuit: &Circuit) -> Value {
    let mut row = Map::new();
    for (name, cell) in columns(circuit).into_iter().zip(cells(f, circuit)) {
        let value = match cell {
            Cell::Number(v) if v.is_finite() => Value::from(rounded(v)),
            Cell::Text(text) if !text.is_empty() => Value::from(text),
            Cell::Count(n) => Value::from(n),
            Cell::Number(_) | Cell::Text(_) => Value::Null,
        };
        row.insert(name, value);
    }
    Value::Object(row)
}

/// Nine decimals: nanoamperes and nanovolts, far below what any figure is worth, and the same text on every machine.
fn rounded(v: f64) -> f64 {
    (v * 1e9).round() / 1e9
}
