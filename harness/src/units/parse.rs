//! A number and a unit from a text.

use super::{kinds::kinds_of_unit, Quantity};
use thiserror::Error;

/// Why a text is not the quantity that was expected. The messages say what to write instead.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// Nothing that reads as a number at the start.
    #[error("`{text}` does not start with a number; a {what} looks like \"{example}\"")]
    NoNumber {
        /// The text as typed.
        text: String,
        /// The kind that was expected.
        what: &'static str,
        /// A well-formed example.
        example: &'static str,
    },
    /// A number without a unit where the unit matters.
    #[error("`{text}` has no unit; a {what} looks like \"{example}\"")]
    NoUnit {
        /// The text as typed.
        text: String,
        /// The kind that was expected.
        what: &'static str,
        /// A well-formed example.
        example: &'static str,
    },
    /// The unit is known but measures something else.
    #[error("`{unit}` measures a {found}, but a {what} is expected, such as \"{example}\"")]
    WrongKind {
        /// The unit as typed.
        unit: String,
        /// What that unit measures.
        found: String,
        /// The kind that was expected.
        what: &'static str,
        /// A well-formed example.
        example: &'static str,
    },
    /// Not a unit this program reads.
    #[error("`{unit}` is not a unit of {what} known here; use one of {units}")]
    UnknownUnit {
        /// The unit as typed.
        unit: String,
        /// The kind that was expected.
        what: &'static str,
        /// The accepted spellings, comma separated.
        units: String,
    },
    /// Infinite, not a number, or colder than absolute zero.
    #[error("`{text}` is not a possible {what}; it looks like \"{example}\"")]
    OutOfReach {
        /// The text as typed.
        text: String,
        /// The kind that was expected.
        what: &'static str,
        /// A well-formed example.
        example: &'static str,
    },
}

/// Reads a quantity such as `"35 mΩ"`, `"−10 °C"` (any minus sign), `"1.2A"` or `"20 %"`.
///
/// # Errors
/// [`QuantityError`] says what was expected, with an example.
pub fn parse<Q: Quantity>(text: &str) -> Result<Q, QuantityError> {
    let (number, unit) = split(text);
    let (what, example) = (Q::WHAT, Q::EXAMPLE);
    let value: f64 = number.parse().map_err(|_| QuantityError::NoNumber {
        text: text.trim().into(),
        what,
        example,
    })?;
    let Some((_, factor)) = Q::UNITS.iter().find(|(spelling, _)| *spelling == unit) else {
        return Err(unit_error::<Q>(text, &unit));
    };
    let si = value * factor + Q::OFFSET;
    if !si.is_finite() || (Q::OFFSET > 0.0 && si < 0.0) {
        return Err(QuantityError::OutOfReach {
            text: text.trim().into(),
            what,
            example,
        });
    }
    Ok(Q::from_si(si))
}

fn unit_error<Q: Quantity>(text: &str, unit: &str) -> QuantityError {
    let (what, example) = (Q::WHAT, Q::EXAMPLE);
    if unit.is_empty() {
        return QuantityError::NoUnit {
            text: text.trim().into(),
            what,
            example,
        };
    }
    let found = kinds_of_unit(unit);
    if found.is_empty() {
        let units: Vec<_> = Q::UNITS
            .iter()
            .map(|(u, _)| *u)
            .filter(|u| !u.is_empty())
            .collect();
        QuantityError::UnknownUnit {
            unit: unit.into(),
            what,
            units: units.join(", "),
        }
    } else {
        QuantityError::WrongKind {
            unit: unit.into(),
            found: found.join(" or "),
            what,
            example,
        }
    }
}

/// The number, with any typographic minus made plain, and the unit with look-alike letters unified.
fn split(text: &str) -> (String, String) {
    let plain: String = text
        .trim()
        .chars()
        .map(|c| match c {
            '−' | '–' => '-',
            '\u{3bc}' => 'µ',             // Greek mu for the micro sign
            '\u{2126}' => 'Ω',            // ohm sign for Greek capital omega
            '\u{a0}' | '\u{202f}' => ' ', // no-break spaces
            c => c,
        })
        .collect();
    let is_number = |(i, c): &(usize, char)| {
        c.is_ascii_digit()
            || *c == '.'
            || (*i == 0 && (*c == '-' || *c == '+'))
            || is_exponent(&plain, *i)
    };
    let end = plain
        .char_indices()
        .take_while(is_number)
        .last()
        .map_or(0, |(i, c)| i + c.len_utf8());
    let (number, unit) = plain.split_at(end);
    (number.to_owned(), unit.trim().to_owned())
}

/// Whether the character at `i` belongs to an exponent such as the `e-3` of `1e-3`.
fn is_exponent(text: &str, i: usize) -> bool {
    let bytes = text.as_bytes();
    let digit_at = |k: usize| bytes.get(k).is_some_and(u8::is_ascii_digit);
    let exponent_at = |k: usize| matches!(bytes.get(k), Some(b'e' | b'E'));
    let sign_at = |k: usize| matches!(bytes.get(k), Some(b'-' | b'+'));
    if exponent_at(i) {
        return i > 0
            && (digit_at(i - 1) || bytes.get(i - 1) == Some(&b'.'))
            && (digit_at(i + 1) || (sign_at(i + 1) && digit_at(i + 2)));
    }
    sign_at(i) && i > 0 && exponent_at(i - 1) && digit_at(i + 1)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::*;

    #[test]
    fn reads_the_spellings_that_builders_type() {
        assert!((parse::<Length>("180 mm").unwrap().si() - 0.18).abs() < 1e-15);
        assert!((parse::<Resistance>("35 mΩ").unwrap().si() - 0.035).abs() < 1e-15);
        assert!((parse::<Resistance>("35 mohm").unwrap().si() - 0.035).abs() < 1e-15);
        assert!((parse::<Current>("1.2A").unwrap().si() - 1.2).abs() < 1e-15);
        assert!((parse::<Charge>("5 Ah").unwrap().si() - 18000.0).abs() < 1e-9);
        assert!((parse::<Temperature>("−10 °C").unwrap().si() - 263.15).abs() < 1e-9);
        assert!((parse::<Temperature>("-10 C").unwrap().si() - 263.15).abs() < 1e-9);
        assert!((parse::<Ratio>("20 %").unwrap().si() - 0.2).abs() < 1e-15);
        assert!((parse::<Ratio>("0.2").unwrap().si() - 0.2).abs() < 1e-15);
        assert!((parse::<Capacitance>("1e3 uF").unwrap().si() - 1e-3).abs() < 1e-12);
        assert!((parse::<Current>("1e-3 A").unwrap().si() - 1e-3).abs() < 1e-15);
        assert!((parse::<Area>("0.5 mm²").unwrap().si() - 0.5e-6).abs() < 1e-15);
    }

    #[test]
    fn says_what_is_wrong_with_the_others() {
        let says = |e: QuantityError| e.to_string();
        assert!(says(parse::<Length>("180 mV").unwrap_err()).contains("measures a voltage"));
        assert!(says(parse::<Length>("180").unwrap_err()).contains("no unit"));
        assert!(says(parse::<Length>("mm").unwrap_err()).contains("does not start with a number"));
        assert!(says(parse::<Length>("18 parsec").unwrap_err()).contains("not a unit of length"));
        assert!(says(parse::<Length>("22 AWG").unwrap_err()).contains("wire gauge"));
        assert!(says(parse::<Temperature>("-300 °C").unwrap_err()).contains("not a possible"));
        assert!(says(parse::<Current>("1e999 A").unwrap_err()).contains("not a possible"));
    }
}
