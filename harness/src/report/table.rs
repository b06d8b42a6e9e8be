//! The per-frame table: CSV and JSON rows in base SI units. A missing value is empty or null, never 0.

use crate::profile::circuit::Circuit;
use crate::profile::figures::Figures;
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::io::{self, Write};

/// Version of the profile document. 1: first form.
pub const PROFILE_SCHEMA: &str = "lampwright/profile/1";

enum Cell {
    Number(f64),
    Count(u64),
    Text(Cow<'static, str>),
}

/// What a row holds: all that a frame leaves behind, so that its text can be made elsewhere.
pub struct Row(Vec<Cell>);

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

/// The row of a frame.
pub fn row(f: &Figures, circuit: &Circuit) -> Row {
    let lowest = f
        .strips
        .iter()
        .zip(&circuit.strips)
        .min_by(|a, b| a.0.supply_min_v.total_cmp(&b.0.supply_min_v));
    let m = &f.moment;
    let cue = (m.new_cues > 0)
        .then(|| m.cue.map(|(_, c)| c.kind().name()))
        .flatten();
    let mut out = vec![
        Cell::Count(m.frame),
        Cell::Number(m.time_s),
        Cell::Text(m.state.map_or("", |s| s.name()).into()),
        Cell::Text(cue.unwrap_or_default().into()),
        Cell::Number(f.cell_a),
        Cell::Number(f.cell_peak_a),
        Cell::Number(f.cell_aligned_a),
        Cell::Number(f.cell_v),
        Cell::Number(f.cell_peak_v),
        Cell::Number(f.board_v),
        Cell::Number(f.board_peak_v),
        Cell::Number(f.rail_v),
        Cell::Number(lowest.map_or(f64::NAN, |(s, _)| s.supply_min_v)),
        Cell::Text(lowest.map_or(Cow::Borrowed(""), |(s, i)| {
            format!("{}[{}]", i.name, s.supply_min_pixel).into()
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
    Row(out)
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
pub fn csv_row(out: &mut dyn Write, row: &Row) -> io::Result<()> {
    let mut line = Vec::with_capacity(16 * row.0.len());
    for (i, cell) in row.0.iter().enumerate() {
        if i > 0 {
            line.push(b',');
        }
        match cell {
            Cell::Number(v) if v.is_finite() => push_number(&mut line, *v)?,
            Cell::Number(_) => {}
            Cell::Count(n) => push_digits(&mut line, *n, 1),
            Cell::Text(text) => line.extend_from_slice(text.as_bytes()),
        }
    }
    line.push(b'\n');
    out.write_all(&line)
}

/// Below this, volts and amperes in billionths are whole numbers that have a place of their own among the
/// floating-point numbers, so that their digits are those of the number's shortest form.
const PLAIN: f64 = 1e6;

/// The same text as that of [`rounded`], many times faster than the shortest form is found.
fn push_number(line: &mut Vec<u8>, v: f64) -> io::Result<()> {
    let billionths = (v * 1e9).round();
    if v.abs() >= PLAIN || (billionths == 0.0 && v.is_sign_negative()) {
        return write!(line, "{}", rounded(v));
    }
    if billionths < 0.0 {
        line.push(b'-');
    }
    // Below 10¹⁵.
    let n = billionths.abs() as u64;
    push_digits(line, n / 1_000_000_000, 1);
    let (mut fraction, mut width) = (n % 1_000_000_000, 9);
    if fraction > 0 {
        while fraction % 10 == 0 {
            (fraction, width) = (fraction / 10, width - 1);
        }
        line.push(b'.');
        push_digits(line, fraction, width);
    }
    Ok(())
}

/// Decimal digits, at least `width` of them.
fn push_digits(line: &mut Vec<u8>, mut n: u64, width: usize) {
    let mut digits = [b'0'; 20];
    let mut first = digits.len();
    while n > 0 || digits.len() - first < width {
        first -= 1;
        digits[first] = b'0' + (n % 10) as u8;
        n /= 10;
    }
    line.extend_from_slice(&digits[first..]);
}

/// A row as a JSON object.
pub fn json_row(f: &Figures, circuit: &Circuit) -> Value {
    let mut object = Map::new();
    for (name, cell) in columns(circuit).into_iter().zip(row(f, circuit).0) {
        let value = match cell {
            Cell::Number(v) if v.is_finite() => Value::from(rounded(v)),
            Cell::Text(text) if !text.is_empty() => Value::from(text.as_ref()),
            Cell::Count(n) => Value::from(n),
            Cell::Number(_) | Cell::Text(_) => Value::Null,
        };
        object.insert(name, value);
    }
    Value::Object(object)
}

/// Nine decimals: nanoamperes and nanovolts, far below what any figure is worth, and the same text on every machine.
fn rounded(v: f64) -> f64 {
    (v * 1e9).round() / 1e9
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn numbers_are_written_as_their_shortest_form() {
        let mut x = 1u64;
        let mut next = || {
            x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (x >> 11) as f64 / (1u64 << 53) as f64
        };
        let fixed = [
            0.0,
            -0.0,
            -1e-12,
            1e-9,
            -1e-9,
            0.1,
            3.7,
            -2.5,
            1e6,
            999_999.999_999_999,
            1e300,
        ];
        let random = (0..20_000).map(|k| (next() - 0.5) * 10f64.powi(k % 8 - 1));
        let short = (0..2_000).map(|k| f64::from(k) / 1000.0);
        for v in fixed.into_iter().chain(random).chain(short) {
            let mut line = Vec::new();
            push_number(&mut line, v).unwrap();
            assert_eq!(String::from_utf8(line).unwrap(), rounded(v).to_string());
        }
    }
}
