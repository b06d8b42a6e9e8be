//! One cell of a log: a decimal number, a marker of overload, or nothing.

/// What stands in a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell<'a> {
    /// A number and the text behind it: a unit, or nothing.
    Number(f64, &'a [u8]),
    /// The meter was beyond its range.
    Overload,
    /// No reading.
    Missing,
    /// None of these.
    Other,
}

/// Powers of ten that a double holds exactly.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];
/// Largest whole number below which every whole number is a double.
const EXACT: u64 = 1 << 53;
/// IEEE 488.2 and SCPI write 9.9E37 for infinity and 9.91E37 for "not a number".
const SCPI_OVER: f64 = 9.895e37;
const SCPI_NAN: f64 = 9.905e37;

/// Markers of overload that meters write, in capitals. Common practice.
const OVERLOAD: [&str; 14] = [
    "OL",
    "O.L",
    "O.L.",
    "0L",
    "0.L",
    ".OL",
    "OVLD",
    "OVL",
    "OVER",
    "OVERLOAD",
    "OVERRANGE",
    "OVERFLOW",
    "INF",
    "INFINITY",
];
const MISSING: [&str; 8] = ["NAN", "N/A", "NA", "#N/A", "NULL", "NONE", "-", "?"];

/// Reads a cell with `point` as its decimal sign.
pub(super) fn cell(text: &[u8], point: u8) -> Cell<'_> {
    let text = trim(text);
    if text.is_empty() {
        return Cell::Missing;
    }
    if let Some((value, used)) = decimal(text, point) {
        if value.abs() >= SCPI_OVER {
            return if value.abs() >= SCPI_NAN && value.abs() < 9.92e37 {
                Cell::Missing
            } else {
                Cell::Overload
            };
        }
        let rest = trim(text.get(used..).unwrap_or_default());
        // "0L" is an overload whose first letter looks like a number; a rest with digits is no unit.
        if !matches!(rest, b"L" | b".L") {
            if rest
                .iter()
                .any(|b| b.is_ascii_digit() || matches!(b, b',' | b'.' | b':'))
            {
                return Cell::Other;
            }
            return Cell::Number(value, rest);
        }
    }
    marker(text)
}

fn marker(text: &[u8]) -> Cell<'static> {
    // Two dashes and more stand for a reading beyond the range, one for none.
    if text.len() > 1 && text.iter().all(|b| *b == b'-') {
        return Cell::Overload;
    }
    let word = String::from_utf8_lossy(text).to_uppercase();
    let word = word.trim_matches(['"', ' ']);
    let unsigned = word.trim_start_matches(['+', '-']).trim();
    if OVERLOAD.contains(&unsigned) {
        Cell::Overload
    } else if MISSING.contains(&word) {
        Cell::Missing
    } else {
        Cell::Other
    }
}

/// Text without spaces at its ends; the no-break space of spreadsheets counts as one.
pub(super) fn trim(mut text: &[u8]) -> &[u8] {
    loop {
        text = text.trim_ascii();
        if let Some(rest) = text.strip_prefix(b"\xc2\xa0") {
            text = rest;
        } else if let Some(rest) = text.strip_suffix(b"\xc2\xa0") {
            text = rest;
        } else {
            return text;
        }
    }
}

/// The number at the start of a text and how many bytes it takes; correctly rounded.
pub(super) fn decimal(text: &[u8], point: u8) -> Option<(f64, usize)> {
    let (negative, start) = match text {
        [b'-', ..] => (true, 1),
        [b'+', ..] => (false, 1),
        [0xe2, 0x88, 0x92, ..] => (true, 3),
        _ => (false, 0),
    };
    let mut mantissa: u64 = 0;
    let mut exact = true;
    let mut digits = 0_usize;
    let mut scale = 0_i32;
    let mut seen_point = false;
    let mut at = start;
    while let Some(b) = text.get(at).copied() {
        if b.is_ascii_digit() {
            digits += 1;
            scale -= i32::from(seen_point);
            match mantissa
                .checked_mul(10)
                .and_then(|m| m.checked_add(u64::from(b - b'0')))
            {
                Some(m) => mantissa = m,
                None => exact = false,
            }
        } else if b == point && !seen_point {
            seen_point = true;
        } else {
            break;
        }
        at += 1;
    }
    if digits == 0 {
        return None;
    }
    if let Some((power, length)) = exponent(text.get(at..).unwrap_or_default()) {
        scale = scale.saturating_add(power);
        at += length;
    }
    let value = if exact && mantissa < EXACT && scale.unsigned_abs() < POWERS.len() as u32 {
        let power = POWERS.get(scale.unsigned_abs() as usize).copied()?;
        // Both are exact, so that one operation rounds once: the nearest double (Clinger 1990).
        if scale < 0 {
            mantissa as f64 / power
        } else {
            mantissa as f64 * power
        }
    } else {
        slow(text.get(start..at)?, point)?
    };
    Some((if negative { -value } else { value }, at))
}

/// An exponent such as `e-3` and its length; none where a unit begins with that letter.
fn exponent(text: &[u8]) -> Option<(i32, usize)> {
    let [b'e' | b'E', rest @ ..] = text else {
        return None;
    };
    let (sign, skip) = match rest {
        [b'-', ..] => (-1, 1),
        [b'+', ..] => (1, 1),
        _ => (1, 0),
    };
    let digits = rest.get(skip..)?;
    let length = digits.iter().take_while(|b| b.is_ascii_digit()).count();
    if length == 0 || length > 4 {
        return None;
    }
    let power: i32 = std::str::from_utf8(digits.get(..length)?)
        .ok()?
        .parse()
        .ok()?;
    Some((sign * power, 1 + skip + length))
}

fn slow(text: &[u8], point: u8) -> Option<f64> {
    let plain: Vec<u8> = text
        .iter()
        .map(|b| if *b == point { b'.' } else { *b })
        .collect();
    std::str::from_utf8(&plain).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn markers_of_overload_are_known() {
        for text in [
            "OL", "-OL", " 0L ", "----", "--", "9.9E37", "-9.9e+37", "ovld", "+INF",
        ] {
            assert_eq!(cell(text.as_bytes(), b'.'), Cell::Overload, "{text}");
        }
        for text in ["", "  ", "NaN", "-", "9.91E37"] {
            assert_eq!(cell(text.as_bytes(), b'.'), Cell::Missing, "{text}");
        }
        for text in ["1.2.3", "12:30", "x", "1,2", "7 mA 3"] {
            assert_eq!(cell(text.as_bytes(), b'.'), Cell::Other, "{text}");
        }
    }

    #[test]
    fn units_follow_the_number() {
        assert_eq!(cell(b"12.5 mA", b'.'), Cell::Number(12.5, b"mA"));
        assert_eq!(cell(b"0,5E-3A", b','), Cell::Number(0.0005, b"A"));
        assert_eq!(cell("−3".as_bytes(), b'.'), Cell::Number(-3.0, b""));
        assert_eq!(cell(b".5", b'.'), Cell::Number(0.5, b""));
    }

    proptest! {
        #[test]
        fn numbers_are_the_nearest_doubles(value in proptest::num::f64::NORMAL, digits in 0_usize..18) {
            for text in [format!("{value:e}"), format!("{value:.digits$e}"), format!("{:.digits$}", value % 1e6)] {
                let want: f64 = text.parse().unwrap();
                if want.abs() < 9e37 {
                    prop_assert_eq!(cell(text.as_bytes(), b'.'), Cell::Number(want, b""));
                }
                let german = text.replace('.', ",");
                let (got, used) = decimal(german.as_bytes(), b',').unwrap();
                prop_assert_eq!((got, used), (want, german.len()));
            }
        }
    }
}
