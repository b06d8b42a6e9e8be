//! Wire size: AWG number or metric cross-section.

use super::{parse, Area, Quantity, QuantityError};
use thiserror::Error;

/// A wire size as the builder names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// American wire gauge number; 0 is 1/0, −1 is 2/0 and so on.
    Awg(i32),
    /// Nominal cross-section of IEC 60228.
    Metric(Area),
}

/// Why a text is not a wire size.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum GaugeError {
    /// The number before `AWG` is not a whole number in range.
    #[error("`{0}` is not a wire gauge; write a whole number from 0 to 40 as in \"22 AWG\"")]
    Number(String),
    /// Neither AWG nor an area.
    #[error("`{text}` is not a wire gauge; write \"22 AWG\" or \"0.5 mm²\" ({why})")]
    Neither {
        /// The text as typed.
        text: String,
        /// Why it is not an area either.
        why: QuantityError,
    },
    /// A cross-section no hand-held prop has.
    #[error("`{0}` is not a possible cross-section; write one from 0.01 mm² to 50 mm²")]
    Area(String),
}

impl Gauge {
    /// Reads `"22 AWG"`, `"AWG 22"` or `"0.5 mm²"`.
    ///
    /// # Errors
    /// [`GaugeError`] says what was expected.
    pub fn parse(text: &str) -> Result<Self, GaugeError> {
        let upper = text.trim().to_ascii_uppercase();
        let number = upper
            .strip_suffix("AWG")
            .or_else(|| upper.strip_prefix("AWG"));
        if let Some(number) = number {
            return match number.trim().trim_start_matches('#').parse::<i32>() {
                Ok(n) if (0..=40).contains(&n) => Ok(Self::Awg(n)),
                _ => Err(GaugeError::Number(text.trim().into())),
            };
        }
        let area: Area = parse(text).map_err(|why| GaugeError::Neither {
            text: text.trim().into(),
            why,
        })?;
        if !(0.01e-6..=50e-6).contains(&area.si()) {
            return Err(GaugeError::Area(text.trim().into()));
        }
        Ok(Self::Metric(area))
    }
}

impl std::fmt::Display for Gauge {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Awg(n) => write!(f, "{n} AWG"),
            Self::Metric(a) => write!(f, "{} mm²", (a.si() * 1e9).round() / 1e3),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn both_systems_read_and_print() {
        assert_eq!(Gauge::parse("22 AWG").unwrap(), Gauge::Awg(22));
        assert_eq!(Gauge::parse("awg 28").unwrap().to_string(), "28 AWG");
        assert_eq!(Gauge::parse("0.5 mm²").unwrap().to_string(), "0.5 mm²");
        assert_eq!(
            Gauge::parse("0.5 mm2").unwrap(),
            Gauge::parse("0.5 mm²").unwrap()
        );
    }

    #[test]
    fn nonsense_is_refused_with_an_example() {
        for bad in [
            "22", "22 mm", "AWG", "99 AWG", "2.5 AWG", "0 mm²", "-1 mm²", "1e9 mm²",
        ] {
            let message = Gauge::parse(bad).unwrap_err().to_string();
            assert!(message.contains("write"), "{bad}: {message}");
        }
    }
}
