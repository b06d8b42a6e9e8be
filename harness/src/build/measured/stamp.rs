//! Dates and times of day: ISO 8601, the forms of spreadsheets, German and American ones.

use super::number::{decimal, trim};

/// A moment as days and seconds, so that no digit of the seconds is lost.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Stamp {
    /// Days since 1970-01-01, where the text has a date.
    pub(super) day: Option<i64>,
    /// Seconds since midnight; that of the text less its offset from UTC.
    pub(super) second: f64,
}

/// Whether a text looks like a date or a time of day rather than like a number.
pub(super) fn looks_like_stamp(text: &[u8]) -> bool {
    stamp(text).is_some()
}

/// Reads a date, a time of day, or both.
pub(super) fn stamp(text: &[u8]) -> Option<Stamp> {
    let text = trim(text);
    if let Some(second) = time_of_day(text) {
        return Some(Stamp { day: None, second });
    }
    let (day, used) = date(text)?;
    let rest = text.get(used..)?;
    let rest = match rest {
        [b'T' | b't' | b' ' | b'_', rest @ ..] => trim(rest),
        [] => rest,
        _ => return None,
    };
    let second = if rest.is_empty() {
        0.0
    } else {
        time_of_day(rest)?
    };
    Some(Stamp {
        day: Some(day),
        second,
    })
}

/// A date alone, as days since 1970-01-01.
pub(super) fn date_alone(text: &[u8]) -> Option<i64> {
    let text = trim(text);
    date(text)
        .filter(|(_, used)| *used == text.len())
        .map(|d| d.0)
}

/// `hh:mm:ss`, with a fraction, `AM` or `PM`, `Z` or an offset such as `+01:00`.
fn time_of_day(text: &[u8]) -> Option<f64> {
    let (hour, at) = whole(text, 3)?;
    let rest = text.get(at..)?.strip_prefix(b":")?;
    let (minute, at) = whole(rest, 2)?;
    let rest = rest.get(at..)?.strip_prefix(b":")?;
    let point = if rest.contains(&b',') { b',' } else { b'.' };
    let (second, at) = decimal(rest, point).filter(|(s, _)| (0.0..61.0).contains(s))?;
    let rest = trim(rest.get(at..)?);
    if minute > 59 {
        return None;
    }
    let (mut hour, mut shift) = (hour, 0.0);
    match rest {
        [] | [b'Z' | b'z'] => {}
        [a, m] if m.eq_ignore_ascii_case(&b'M') && (1..=12).contains(&hour) => match a {
            b'A' | b'a' => hour %= 12,
            b'P' | b'p' => hour = hour % 12 + 12,
            _ => return None,
        },
        [sign @ (b'+' | b'-'), offset @ ..] => {
            let (h, m) = offset_of(offset)?;
            if h > 14 || m > 59 {
                return None;
            }
            let seconds = (h * 3600 + m * 60) as f64;
            shift = if *sign == b'+' { -seconds } else { seconds };
        }
        _ => return None,
    }
    Some((hour * 3600 + minute * 60) as f64 + second + shift)
}

/// Hours and minutes of an offset from universal time: `02`, `02:30` or `0230`.
fn offset_of(text: &[u8]) -> Option<(i64, i64)> {
    let (hours, minutes) = match text {
        [h @ .., b':', a, b] => (h, [*a, *b]),
        [h @ .., a, b] if h.len() == 2 => (h, [*a, *b]),
        hours => (hours, *b"00"),
    };
    let all = |text: &[u8]| {
        let (value, used) = whole(text, 2)?;
        (used == text.len()).then_some(value)
    };
    Some((all(hours)?, all(&minutes)?))
}

/// A date at the start of a text and how many bytes it takes.
fn date(text: &[u8]) -> Option<(i64, usize)> {
    let (a, n) = whole(text, 4)?;
    let sign = *text.get(n)?;
    if !matches!(sign, b'-' | b'/' | b'.') {
        return None;
    }
    let rest = text.get(n + 1..)?;
    let (b, m) = whole(rest, 2)?;
    if rest.get(m) != Some(&sign) {
        return None;
    }
    let (c, k) = whole(rest.get(m + 1..)?, 4)?;
    let used = n + m + k + 2;
    let (year, month, day) = if n == 4 {
        (a, b, c)
    } else {
        let year = if k == 2 { 2000 + c } else { c };
        match sign {
            // Slashes are American, month first, unless that cannot be.
            b'/' if a <= 12 => (year, a, b),
            _ => (year, b, a),
        }
    };
    let long = matches!(month, 1 | 3 | 5 | 7 | 8 | 10 | 12);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + i64::from(leap),
        1..=12 => 30 + i64::from(long),
        _ => return None,
    };
    if !(1..=days).contains(&day) || !(1900..=9999).contains(&year) {
        return None;
    }
    Some((days_from_civil(year, month, day), used))
}

/// Days since 1970-01-01 in the Gregorian calendar: years from March, 400 of them a round of 146097 days.
fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let round = year.div_euclid(400);
    let in_round = year.rem_euclid(400);
    let from_march = (month + 9) % 12;
    let day_of_year = (153 * from_march + 2) / 5 + day - 1;
    round * 146_097 + in_round * 365 + in_round / 4 - in_round / 100 + day_of_year - 719_468
}

/// A whole number of at most `most` digits at the start of a text, and its length.
fn whole(text: &[u8], most: usize) -> Option<(i64, usize)> {
    let length = text.iter().take_while(|b| b.is_ascii_digit()).count();
    if length == 0 || length > most {
        return None;
    }
    let value = text
        .iter()
        .take(length)
        .fold(0_i64, |v, b| v * 10 + i64::from(b - b'0'));
    Some((value, length))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_same_moment_in_every_form() {
        // 2024-05-18 is day 19861: `date -ud 2024-05-18 +%s` / 86400.
        let want = Stamp {
            day: Some(19861),
            second: 49_558.25,
        };
        for text in [
            "2024-05-18T13:45:58.25",
            "2024-05-18 13:45:58,25",
            "2024-05-18T13:45:58.25Z",
            "2024-05-18T15:45:58.25+02:00",
            "2024-05-18T11:15:58.25-0230",
            "2024/05/18 13:45:58.25",
            "18.05.2024 13:45:58,25",
            "18.5.24 13:45:58,25",
            "5/18/2024 1:45:58.25 PM",
            "18/05/2024 13:45:58.25",
        ] {
            assert_eq!(stamp(text.as_bytes()), Some(want), "{text}");
        }
        assert_eq!(stamp(b"00:00:01").unwrap().second, 1.0);
        assert_eq!(stamp(b"12:00:00 AM").unwrap().second, 0.0);
        assert_eq!(date_alone(b"2000-02-29"), Some(11016));
        assert_eq!(date_alone(b"1970-01-01"), Some(0));
    }

    #[test]
    fn what_is_no_moment() {
        for text in [
            "1.5",
            "12",
            "13:45",
            "2024-13-01",
            "2023-02-29",
            "1:60:00",
            "1:00:99",
            "24:00:00+20",
            "",
            "2024-05-18X10:00:00",
            "a:b:c",
            "2024-05-18 10:00:00 CET",
        ] {
            assert_eq!(stamp(text.as_bytes()), None, "{text}");
        }
    }
}
