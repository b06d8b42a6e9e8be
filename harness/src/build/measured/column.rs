//! What a column of a log holds, from its name and its unit, in English and German.

use super::number::trim;

/// What a column holds, with the factor from its unit to SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Role {
    /// Time; `None` where no unit is stated.
    Time(Option<f64>),
    /// A date without a time.
    Date,
    /// The number of the sample.
    Sample,
    /// A current; `None` where no unit is stated.
    Current(Option<f64>),
    /// A voltage.
    Voltage(Option<f64>),
    /// A power.
    Power(Option<f64>),
    /// Something else.
    Other,
}

const TIME: [&str; 15] = [
    "time",
    "t",
    "zeit",
    "timestamp",
    "zeitstempel",
    "elapsed",
    "uhrzeit",
    "datetime",
    "laufzeit",
    "zeitpunkt",
    "seconds",
    "sekunden",
    "messzeit",
    "runtime",
    "clock",
];
const DATE: [&str; 3] = ["date", "datum", "day"];
const SAMPLE: [&str; 14] = [
    "sample",
    "samples",
    "index",
    "nr",
    "no",
    "n",
    "count",
    "messung",
    "messpunkt",
    "record",
    "reading",
    "point",
    "punkt",
    "abtastwert",
];
const CURRENT: [&str; 12] = [
    "current",
    "i",
    "strom",
    "amps",
    "ampere",
    "amperes",
    "amp",
    "curr",
    "stromstärke",
    "stromstaerke",
    "iout",
    "ibus",
];
const VOLTAGE: [&str; 9] = [
    "voltage", "v", "u", "spannung", "volt", "volts", "vout", "vbus", "uout",
];
const POWER: [&str; 5] = ["power", "p", "leistung", "watt", "watts"];
/// Words that make a column something else whatever follows: the drop of the shunt is not the supply.
const NOT_MEANT: [&str; 8] = [
    "shunt", "set", "soll", "limit", "energy", "energie", "charge", "ladung",
];

const TIME_UNITS: [(&str, f64); 15] = [
    ("s", 1.0),
    ("sec", 1.0),
    ("secs", 1.0),
    ("second", 1.0),
    ("seconds", 1.0),
    ("sek", 1.0),
    ("sekunden", 1.0),
    ("ms", 1e-3),
    ("msec", 1e-3),
    ("us", 1e-6),
    ("usec", 1e-6),
    ("ns", 1e-9),
    ("min", 60.0),
    ("h", 3600.0),
    ("std", 3600.0),
];
const CURRENT_UNITS: [(&str, f64); 9] = [
    ("a", 1.0),
    ("amp", 1.0),
    ("amps", 1.0),
    ("ampere", 1.0),
    ("amperes", 1.0),
    ("adc", 1.0),
    ("ma", 1e-3),
    ("ua", 1e-6),
    ("na", 1e-9),
];
const VOLTAGE_UNITS: [(&str, f64); 7] = [
    ("v", 1.0),
    ("volt", 1.0),
    ("volts", 1.0),
    ("vdc", 1.0),
    ("mv", 1e-3),
    ("uv", 1e-6),
    ("kv", 1e3),
];
const POWER_UNITS: [(&str, f64); 6] = [
    ("w", 1.0),
    ("watt", 1.0),
    ("watts", 1.0),
    ("mw", 1e-3),
    ("uw", 1e-6),
    ("kw", 1e3),
];

/// A kind of unit with its factor to SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Unit {
    Time(f64),
    Current(f64),
    Voltage(f64),
    Power(f64),
}

/// The unit that a text is, if it is one; brackets around it are allowed.
pub(super) fn unit(text: &str) -> Option<Unit> {
    let text = plain(text);
    let text = text.trim_matches(['[', ']', '(', ')', ' ']);
    let find = |units: &[(&str, f64)]| units.iter().find(|(n, _)| *n == text).map(|u| u.1);
    find(&TIME_UNITS)
        .map(Unit::Time)
        .or_else(|| find(&CURRENT_UNITS).map(Unit::Current))
        .or_else(|| find(&VOLTAGE_UNITS).map(Unit::Voltage))
        .or_else(|| find(&POWER_UNITS).map(Unit::Power))
}

/// Lower case, with every kind of micro sign as `u`.
fn plain(text: &str) -> String {
    text.to_lowercase()
        .replace(['µ', 'μ'], "u")
        .trim()
        .to_owned()
}

/// Text of a header cell whatever its encoding: bytes that are no UTF-8 are taken as Latin-1.
pub(super) fn header_text(bytes: &[u8]) -> String {
    let bytes = trim(bytes);
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|b| char::from(*b)).collect(),
    };
    text.trim_matches(['"', '\'', ' ', '#', '\u{feff}'])
        .to_owned()
}

/// What a column holds, from its name and from the cell below it where that row holds units.
pub(super) fn role(name: &str, unit_below: Option<&str>) -> Role {
    let name = plain(name);
    let words: Vec<&str> = name
        .split(|c: char| !(c.is_alphanumeric() || c == '#'))
        .filter(|w| !w.is_empty())
        .collect();
    if words.iter().any(|w| NOT_MEANT.contains(w)) {
        return Role::Other;
    }
    // The unit stands in the row below, in brackets, behind a slash, or as the last word.
    let stated = unit_below.and_then(unit).or_else(|| {
        words
            .last()
            .filter(|_| words.len() > 1)
            .and_then(|w| unit(w))
    });
    let says = |list: &[&str]| {
        let of = words.iter().enumerate();
        // The last of several words is the unit: "channel 1 (v)" says nothing but its unit.
        of.into_iter().any(|(k, w)| {
            (list.contains(w) && (k == 0 || w.len() > 2)) || list.iter().any(|l| digits_after(w, l))
        })
    };
    let by_name = if says(&DATE) && says(&TIME) {
        Some(Role::Time(None))
    } else if says(&CURRENT) {
        Some(Role::Current(None))
    } else if says(&VOLTAGE) {
        Some(Role::Voltage(None))
    } else if says(&POWER) {
        Some(Role::Power(None))
    } else if says(&TIME) {
        Some(Role::Time(None))
    } else if says(&DATE) {
        Some(Role::Date)
    } else if says(&SAMPLE) || name == "#" {
        Some(Role::Sample)
    } else {
        None
    };
    let alone = if words.len() == 1 { unit(&name) } else { None };
    match (by_name, stated.or(alone)) {
        (Some(Role::Time(_)), Some(Unit::Time(f))) => Role::Time(Some(f)),
        (Some(Role::Current(_)), Some(Unit::Current(f))) => Role::Current(Some(f)),
        (Some(Role::Voltage(_)), Some(Unit::Voltage(f))) => Role::Voltage(Some(f)),
        (Some(Role::Power(_)), Some(Unit::Power(f))) => Role::Power(Some(f)),
        // A unit outweighs a name that says something else: "sample (A)" is a current.
        (_, Some(Unit::Time(f))) => Role::Time(Some(f)),
        (_, Some(Unit::Current(f))) => Role::Current(Some(f)),
        (_, Some(Unit::Voltage(f))) => Role::Voltage(Some(f)),
        (_, Some(Unit::Power(f))) => Role::Power(Some(f)),
        (Some(role), None) => role,
        (None, None) => Role::Other,
    }
}

/// Whether a word is `stem` followed by digits: "i1", "ch2" is none.
fn digits_after(word: &str, stem: &str) -> bool {
    word.strip_prefix(stem)
        .is_some_and(|rest| !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_two_languages_with_their_units() {
        for (name, below, want) in [
            ("time_s", None, Role::Time(Some(1.0))),
            ("Time (ms)", None, Role::Time(Some(1e-3))),
            ("Zeit [s]", None, Role::Time(Some(1.0))),
            ("Zeit / ms", None, Role::Time(Some(1e-3))),
            ("ms", None, Role::Time(Some(1e-3))),
            ("Date/Time", None, Role::Time(None)),
            ("Timestamp", None, Role::Time(None)),
            ("Uhrzeit", None, Role::Time(None)),
            ("Datum", None, Role::Date),
            ("Sample", None, Role::Sample),
            ("#", None, Role::Sample),
            ("current_mA", None, Role::Current(Some(1e-3))),
            ("Strom [mA]", None, Role::Current(Some(1e-3))),
            ("Strom", Some("[mA]"), Role::Current(Some(1e-3))),
            ("I", Some("A"), Role::Current(Some(1.0))),
            ("I1 (A)", None, Role::Current(Some(1.0))),
            ("CH1 (A)", None, Role::Current(Some(1.0))),
            ("Current (µA)", None, Role::Current(Some(1e-6))),
            ("Current", None, Role::Current(None)),
            ("DC Current", None, Role::Current(None)),
            ("Spannung in V", None, Role::Voltage(Some(1.0))),
            ("Bus Voltage", None, Role::Voltage(None)),
            ("Shunt Voltage (mV)", None, Role::Other),
            ("U/V", None, Role::Voltage(Some(1.0))),
            ("V", None, Role::Voltage(Some(1.0))),
            ("A", None, Role::Current(Some(1.0))),
            ("Leistung [W]", None, Role::Power(Some(1.0))),
            ("power_mw", None, Role::Power(Some(1e-3))),
            ("Channel 1 (V)", None, Role::Voltage(Some(1.0))),
            ("Set Current (A)", None, Role::Other),
            ("Remark", None, Role::Other),
            ("Temperature (C)", None, Role::Other),
        ] {
            assert_eq!(role(name, below), want, "{name} {below:?}");
        }
    }

    #[test]
    fn a_header_in_latin_1_is_read() {
        assert_eq!(header_text(b"Strom (\xb5A)"), "Strom (µA)");
    }
}
