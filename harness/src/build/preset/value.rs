//! Times, shares, sizes and speeds: from text with a unit to the model's integers and back.
//!
//! | in the file | in the model | written back as |
//! |---|---|---|
//! | `"900 ms"`, `"1.5 s"`, `"2 min"` | whole ms | exact |
//! | `"80 %"`, `0.8`, `"52428/65535"` | share in 1/65535, to the nearest | per cent, up to 3 decimals: exact |
//! | `"4 px"`, `"2.5 px"`, `"25 %"` of the zone | 1/16 px, to the nearest | px, up to 4 decimals: exact |
//! | `"3 px/s"` | 1/16 px/s, to the nearest | px/s, up to 4 decimals: exact |
//! | `"60 Hz"` | whole Hz | exact |

use crate::units::{self, Frequency, Quantity, Ratio, Time};

/// Full scale of a share.
const FULL: f64 = 65535.0;
/// Steps of a size in a pixel pitch.
const STEPS: f64 = 16.0;

/// A number with a unit that only presets have.
macro_rules! plain_quantity {
    ($name:ident, $what:literal, $example:literal, [$($unit:literal),*]) => {
        #[derive(Debug, Clone, Copy, PartialEq)]
        struct $name(f64);

        impl Quantity for $name {
            const WHAT: &'static str = $what;
            const EXAMPLE: &'static str = $example;
            const UNITS: &'static [(&'static str, f64)] = &[$(($unit, 1.0)),*];
            fn from_si(value: f64) -> Self {
                Self(value)
            }
            fn si(self) -> f64 {
                self.0
            }
        }
    };
}

plain_quantity!(Pixels, "size in pixels", "4 px", ["px", "pixel", "pixels"]);
plain_quantity!(Speed, "speed", "3 px/s", ["px/s"]);

/// How a model integer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    /// Milliseconds.
    Time,
    /// 1/65535.
    Share,
    /// 1/16 pixel.
    Pixels,
    /// Hertz.
    Rate,
    /// A plain number.
    Count,
}

impl Unit {
    /// A model integer as it is written in a file, without quotes.
    pub(super) fn write(self, value: u32) -> String {
        match self {
            Self::Time => time(value),
            Self::Share => share(u16::try_from(value).unwrap_or(u16::MAX)),
            Self::Pixels => pixels(value),
            Self::Rate => format!("{value} Hz"),
            Self::Count => value.to_string(),
        }
    }
}

fn quantity<Q: Quantity>(text: &str) -> Result<f64, String> {
    units::parse::<Q>(text)
        .map(Quantity::si)
        .map_err(|e| e.to_string())
}

/// A whole number of steps, if it fits.
fn steps(value: f64, most: f64) -> Option<u32> {
    let rounded = value.round();
    (0.0..=most).contains(&rounded).then_some(rounded as u32)
}

/// A time in whole milliseconds.
pub(super) fn parse_time(text: &str) -> Result<u32, String> {
    let ms = quantity::<Time>(text)? * 1e3;
    if ms < 0.0 {
        return Err("a time must not be negative".into());
    }
    if (ms - ms.round()).abs() > 1e-6 * ms.max(1.0) {
        return Err("times are whole milliseconds".into());
    }
    steps(ms, f64::from(u32::MAX)).ok_or_else(|| "longer than 1 h".into())
}

/// A share from 0 % to 100 %, to the nearest step.
pub(super) fn parse_share(text: &str) -> Result<u16, String> {
    if let Some((part, whole)) = text.split_once('/') {
        let exact = (whole.trim() == "65535").then(|| part.trim().parse::<u16>().ok());
        return exact
            .flatten()
            .ok_or_else(|| "an exact share is a whole number from 0 to 65535, then /65535".into());
    }
    let value = quantity::<Ratio>(text)?;
    if !(0.0..=1.0).contains(&value) {
        let percent = value * 100.0;
        let typed_percent = value > 1.0 && value <= 100.0 && !text.contains('%');
        return Err(if typed_percent {
            format!("{text} without % is {percent} %, but a share lies from 0 % to 100 %")
        } else {
            "a share lies from 0 % to 100 %".into()
        });
    }
    Ok((value * FULL).round() as u16)
}

/// A size in 1/16 px, to the nearest: in pixels, or as a share of a zone of `zone` pixels.
pub(super) fn parse_pixels(text: &str, zone: Option<u32>) -> Result<u16, String> {
    let pixels = if text.trim_end().ends_with('%') {
        let share = quantity::<Ratio>(text)?;
        let zone =
            zone.ok_or("a share needs a zone, and here there is none; write a size in px")?;
        share * f64::from(zone)
    } else {
        quantity::<Pixels>(text)?
    };
    steps(pixels * STEPS, FULL)
        .and_then(|n| u16::try_from(n).ok())
        .ok_or_else(|| "a size lies from 0 px to 4095.9375 px".into())
}

/// A speed in 1/16 px/s, to the nearest; negative towards the start of the zone.
pub(super) fn parse_speed(text: &str) -> Result<i16, String> {
    let speed = (quantity::<Speed>(text)? * STEPS).round();
    if (f64::from(i16::MIN)..=f64::from(i16::MAX)).contains(&speed) {
        Ok(speed as i16)
    } else {
        Err("a speed lies from -2048 px/s to 2047.9375 px/s".into())
    }
}

/// A frame rate in whole hertz.
pub(super) fn parse_rate(text: &str) -> Result<u8, String> {
    let hz = quantity::<Frequency>(text)?;
    if (hz - hz.round()).abs() > 1e-9 {
        return Err("frame rates are whole hertz".into());
    }
    steps(hz, 255.0)
        .and_then(|n| u8::try_from(n).ok())
        .ok_or_else(|| "a frame rate lies from 1 Hz to 250 Hz".into())
}

/// A time as text; reads back exactly.
pub(super) fn time(ms: u32) -> String {
    match ms {
        0 => "0 ms".into(),
        _ if ms.is_multiple_of(3_600_000) => format!("{} h", ms / 3_600_000),
        _ if ms.is_multiple_of(60_000) => format!("{} min", ms / 60_000),
        _ if ms.is_multiple_of(1000) => format!("{} s", ms / 1000),
        _ if ms < 10_000 => format!("{ms} ms"),
        _ => format!("{}.{:03} s", ms / 1000, ms % 1000),
    }
}

/// A share as text; reads back exactly, because 0.001 % is less than a step.
pub(super) fn share(value: u16) -> String {
    let percent = f64::from(value) / FULL * 100.0;
    let candidates = (0..=3).map(|decimals| format!("{percent:.decimals$} %"));
    let mut exact = candidates.filter(|text| parse_share(text) == Ok(value));
    exact.next().unwrap_or_else(|| format!("{value}/65535"))
}

/// A size as text; reads back exactly, because 1/16 has 4 decimals.
pub(super) fn pixels(sixteenths: u32) -> String {
    format!("{} px", f64::from(sixteenths) / STEPS)
}

/// A speed as text; reads back exactly.
pub(super) fn speed(sixteenths: i16) -> String {
    format!("{} px/s", f64::from(sixteenths) / STEPS)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_share_size_and_speed_reads_back_exactly() {
        for n in 0..=u16::MAX {
            assert_eq!(parse_share(&share(n)), Ok(n));
            assert!(share(n).ends_with('%'), "{}", share(n));
            assert_eq!(parse_pixels(&pixels(u32::from(n)), None), Ok(n));
            let signed = n as i16;
            assert_eq!(parse_speed(&speed(signed)), Ok(signed));
        }
    }

    #[test]
    fn every_time_reads_back_exactly() {
        for ms in (0..=3_600_000).chain([3_600_001, 86_400_000, u32::MAX]) {
            assert_eq!(parse_time(&time(ms)), Ok(ms), "{}", time(ms));
        }
    }

    #[test]
    fn round_figures_stay_readable() {
        assert_eq!(share(52428), "80 %");
        assert_eq!(share(65535), "100 %");
        assert_eq!(time(900), "900 ms");
        assert_eq!(time(12_340), "12.340 s");
        assert_eq!(pixels(40), "2.5 px");
        assert_eq!(parse_pixels("25 %", Some(96)), Ok(24 * 16));
        assert_eq!(parse_share("0.8"), Ok(52428));
        assert_eq!(parse_share("52429/65535"), Ok(52429));
    }

    #[test]
    fn what_cannot_be_kept_is_refused() {
        for bad in ["0.5 ms", "-1 ms", "5000000 s", "90", "4 px"] {
            assert!(parse_time(bad).is_err(), "{bad}");
        }
        for bad in ["80", "101 %", "-1 %", "1/2", "70000/65535", "nan", ""] {
            assert!(parse_share(bad).is_err(), "{bad}");
        }
        for bad in ["4", "4 mm", "5000 px", "-1 px"] {
            assert!(parse_pixels(bad, Some(10)).is_err(), "{bad}");
        }
        assert!(parse_pixels("10 %", None).is_err());
        for bad in ["0.5 Hz", "300 Hz", "60", "-1 Hz"] {
            assert!(parse_rate(bad).is_err(), "{bad}");
        }
    }
}
