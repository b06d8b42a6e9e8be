//! The per-frame table: CSV and JSON rows in base SI units. A missing value is empty or null, never 0.

use crate::profile::circuit::Circuit;
use crate::profile::figures::Figures;
use serde_json::{Map, Value};
use std::io::{self, Write};

/// Version of the profile document. 1: first form.
pub const PROFILE_SCHEMA: &str = "lampwright/profile/1";

#[derive(Debug, Clone, Copy)]
enum Cell {
    Number(f64),
    Count(u64),
    Word(&'static str),
    /// A strip and one of its pixels.
    Pixel(u32, u32),
}

/// Rows of the table: all that frames leave behind, so that their text can be made elsewhere.
#[derive(Debug, Default)]
pub struct Rows {
    cells: Vec<Cell>,
    columns: usize,
    text: Vec<u8>,
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

impl Rows {
    /// Adds the row of a frame.
    pub fn add(&mut self, f: &Figures) {
        let strips = f.strips.iter().enumerate();
        let lowest = strips.min_by(|a, b| a.1.supply_min_v.total_cmp(&b.1.supply_min_v));
        let m = &f.moment;
        let cue = m.cue.filter(|_| m.new_cues > 0);
        let before = self.cells.len();
        self.cells.extend([
            Cell::Count(m.frame),
            Cell::Number(m.time_s),
            Cell::Word(m.state.map_or("", |s| s.name())),
            Cell::Word(cue.map_or("", |(_, c)| c.kind().name())),
            Cell::Number(f.cell_a),
            Cell::Number(f.cell_peak_a),
            Cell::Number(f.cell_aligned_a),
            Cell::Number(f.cell_v),
            Cell::Number(f.cell_peak_v),
            Cell::Number(f.board_v),
            Cell::Number(f.board_peak_v),
            Cell::Number(f.rail_v),
            Cell::Number(lowest.map_or(f64::NAN, |(_, s)| s.supply_min_v)),
            lowest.map_or(Cell::Word(""), |(k, s)| {
                Cell::Pixel(k as u32, s.supply_min_pixel)
            }),
            Cell::Number(f.soc),
            Cell::Number(f.cell_temperature_k - 273.15),
            Cell::Number(f.sound),
            Cell::Number(f.light.luminance),
        ]);
        for s in &f.strips {
            let collapsed = f.collapsed.is_some();
            let delivered = if collapsed { f64::NAN } else { s.delivered_a };
            let figures = [delivered, s.peak_a, s.aligned_a, s.supply_min_v];
            self.cells.extend(figures.map(Cell::Number));
        }
        self.columns = self.cells.len() - before;
    }

    /// Makes CSV of the rows that were added.
    pub fn make_csv(&mut self, circuit: &Circuit) {
        self.make(|text, row| csv_row(text, row, circuit));
    }

    /// Makes JSON objects of the rows that were added, a comma and an end of line before each.
    pub fn make_json(&mut self, circuit: &Circuit) {
        let columns = columns(circuit);
        self.make(|text, row| {
            text.extend_from_slice(b",\n");
            text.extend_from_slice(json_object(&columns, row, circuit).to_string().as_bytes());
        });
    }

    fn make(&mut self, each: impl Fn(&mut Vec<u8>, &[Cell])) {
        // No rows have no columns.
        for row in self.cells.chunks_exact(self.columns.max(1)) {
            each(&mut self.text, row);
        }
        self.cells.clear();
    }

    /// The text made so far.
    pub fn text(&self) -> &[u8] {
        &self.text
    }

    /// Takes the text out and keeps the memory.
    pub fn clear_text(&mut self) {
        self.text.clear();
    }
}

/// Writes the header of the CSV table.
///
/// # Errors
/// Writing failed.
pub fn csv_header(out: &mut dyn Write, circuit: &Circuit) -> io::Result<()> {
    writeln!(out, "{}", columns(circuit).join(","))
}

fn csv_row(text: &mut Vec<u8>, row: &[Cell], circuit: &Circuit) {
    for (i, cell) in row.iter().enumerate() {
        if i > 0 {
            text.push(b',');
        }
        match *cell {
            Cell::Number(v) if v.is_finite() => push_number(text, v),
            Cell::Number(_) => {}
            Cell::Count(n) => push_whole(text, n),
            Cell::Word(word) => text.extend_from_slice(word.as_bytes()),
            Cell::Pixel(strip, pixel) => {
                text.extend_from_slice(strip_name(circuit, strip).as_bytes());
                text.push(b'[');
                push_whole(text, u64::from(pixel));
                text.push(b']');
            }
        }
    }
    text.push(b'\n');
}

fn strip_name(circuit: &Circuit, strip: u32) -> &str {
    let strip = circuit.strips.get(strip as usize);
    strip.map_or("", |s| s.name.as_str())
}

/// Below this, volts and amperes in billionths are whole numbers that have a place of their own among the
/// floating-point numbers, so that their digits are those of the number's shortest form.
const PLAIN: f64 = 1e6;

/// Two digits of every number below a hundred.
const PAIRS: [[u8; 2]; 100] = {
    let mut pairs = [[0; 2]; 100];
    let mut n = 0;
    while n < 100 {
        pairs[n as usize] = [b'0' + n / 10, b'0' + n % 10];
        n += 1;
    }
    pairs
};

/// The same text as that of [`rounded`], many times faster than the shortest form is found.
fn push_number(text: &mut Vec<u8>, v: f64) {
    if v.is_nan() || v.abs() >= PLAIN {
        text.extend_from_slice(rounded(v).to_string().as_bytes());
        return;
    }
    // Below 10¹⁵, so that what is cut off is exact. `f64::round` is a call on some machines.
    let scaled = (v * 1e9).abs();
    let whole = scaled as u64;
    let n = whole + u64::from(scaled - whole as f64 >= 0.5);
    if v.is_sign_negative() {
        text.push(b'-');
    }
    push_whole(text, n / 1_000_000_000);
    push_fraction(text, (n % 1_000_000_000) as u32);
}

/// Decimal digits.
fn push_whole(text: &mut Vec<u8>, mut n: u64) {
    if n < 10 {
        text.push(b'0' + n as u8);
        return;
    }
    let mut digits = [0; 20];
    let mut first = digits.len();
    while n >= 10 {
        first -= 2;
        digits[first..first + 2].copy_from_slice(&PAIRS[(n % 100) as usize]);
        n /= 100;
    }
    if n > 0 {
        first -= 1;
        digits[first] = b'0' + n as u8;
    }
    text.extend_from_slice(&digits[first..]);
}

/// A point and billionths, without zeros at the end; nothing for 0.
fn push_fraction(text: &mut Vec<u8>, billionths: u32) {
    if billionths == 0 {
        return;
    }
    let mut digits = *b".000000000";
    let mut n = billionths;
    digits[9] = b'0' + (n % 10) as u8;
    n /= 10;
    for at in [7, 5, 3, 1] {
        digits[at..at + 2].copy_from_slice(&PAIRS[(n % 100) as usize]);
        n /= 100;
    }
    let zeros = digits.iter().rev().take_while(|d| **d == b'0').count();
    // All of it, whose length is known, and back: faster than as much as is wanted.
    text.extend_from_slice(&digits);
    text.truncate(text.len() - zeros);
}

fn json_object(columns: &[String], row: &[Cell], circuit: &Circuit) -> Value {
    let mut object = Map::new();
    for (name, cell) in columns.iter().zip(row) {
        let value = match *cell {
            Cell::Number(v) if v.is_finite() => Value::from(rounded(v)),
            Cell::Word(word) if !word.is_empty() => Value::from(word),
            Cell::Count(n) => Value::from(n),
            Cell::Pixel(strip, pixel) => {
                Value::from(format!("{}[{pixel}]", strip_name(circuit, strip)))
            }
            Cell::Number(_) | Cell::Word(_) => Value::Null,
        };
        object.insert(name.clone(), value);
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
            push_number(&mut line, v);
            assert_eq!(String::from_utf8(line).unwrap(), rounded(v).to_string());
        }
    }
}
