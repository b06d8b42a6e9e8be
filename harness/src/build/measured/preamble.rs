//! What the lines before the rows say: the interval of the samples, and where the voltage was measured.

use super::column::{header_text, unit, Unit};
use super::number::{cell, Cell};
use super::sniff::Line;

/// The terminals in a line such as `# voltage at column.plus:column.minus`.
pub(super) fn voltage_at(lines: &[Line<'_>], first: usize) -> Option<String> {
    lines.iter().take(first).find_map(|line| {
        let text = header_text(line.text);
        let rest = text.strip_prefix("voltage at ")?.trim();
        (rest.contains(':') && !rest.contains(' ')).then(|| rest.to_owned())
    })
}

/// An interval that a line before the header states, seconds: "Sample interval: 10 ms", "Abtastrate;100 Hz".
pub(super) fn interval_in(lines: &[Line<'_>], first: usize, point: u8) -> Option<f64> {
    lines.iter().take(first).find_map(|line| {
        let text = header_text(line.text);
        let low = text.to_lowercase();
        let rate = low.contains("rate");
        let word = ["interval", "intervall", "abtast", "rate"]
            .iter()
            .find(|w| low.contains(**w))?;
        let after = low.split_at(low.find(word)? + word.len()).1;
        let digit = after.find(|c: char| c.is_ascii_digit())?;
        // The unit may stand before the number, in brackets.
        let before = after.get(..digit)?;
        let Cell::Number(value, rest) = cell(after.get(digit..)?.as_bytes(), point) else {
            return None;
        };
        let stated = header_text(rest);
        let hertz = rate || stated == "hz" || before.contains("hz");
        if hertz {
            return (value > 0.0).then(|| 1.0 / value);
        }
        let factor =
            unit(&stated).or_else(|| before.split(|c: char| !c.is_alphanumeric()).find_map(unit));
        match factor {
            Some(Unit::Time(f)) if value > 0.0 => Some(value * f),
            None if stated.is_empty() && value > 0.0 => Some(value),
            _ => None,
        }
    })
}
