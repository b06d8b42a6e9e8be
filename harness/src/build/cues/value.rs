//! The value of a cue.

use crate::units::{self, Quantity, Ratio};
use lampwright_model::{Angle, Cue, CueKind, Share};

/// The cue of a kind with its value, or a message and help.
pub(super) fn cue(kind: CueKind, value: Option<&str>) -> Result<Cue, (String, String)> {
    let share = |what: &str| {
        let help = format!("write a share such as: {},80 %", kind.name());
        let Some(text) = value else {
            return Err((format!("`{kind}` needs its {what}"), help));
        };
        parse_share(text).map_err(|why| (format!("\"{text}\" is not a {what}: {why}"), help))
    };
    let plain = |cue: Cue| match value {
        None => Ok(cue),
        Some(text) => Err((
            format!("`{kind}` takes no value, but has \"{text}\""),
            "leave the third field empty".to_owned(),
        )),
    };
    match kind {
        CueKind::ShortPress => plain(Cue::ShortPress),
        CueKind::LongPress => plain(Cue::LongPress),
        CueKind::DoublePress => plain(Cue::DoublePress),
        CueKind::LowCell => plain(Cue::LowCell),
        CueKind::Knock => share("strength").map(|strength| Cue::Knock { strength }),
        CueKind::Swing => share("speed").map(|speed| Cue::Swing { speed }),
        CueKind::Level => share("level").map(|value| Cue::Level { value }),
        CueKind::Twist => {
            let help = "write degrees from -180 to 180, such as: twist,-45 deg".to_owned();
            let Some(text) = value else {
                return Err(("`twist` needs its angle".to_owned(), help));
            };
            match parse_angle(text) {
                Ok(angle) => Ok(Cue::Twist { angle }),
                Err(why) => Err((format!("\"{text}\" is not an angle: {why}"), help)),
            }
        }
    }
}

/// A share from 0 to 1, to the nearest step of 1/65535.
pub(super) fn parse_share(text: &str) -> Result<Share, String> {
    let value = units::parse::<Ratio>(text).map_err(|e| e.to_string())?.si();
    if !(0.0..=1.0).contains(&value) {
        return Err("it must lie from 0 to 1, or from 0 % to 100 %".into());
    }
    Ok(Share((value * 65535.0).round() as u16))
}

/// An angle in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Degrees(f64);

impl Quantity for Degrees {
    const WHAT: &'static str = "angle";
    const EXAMPLE: &'static str = "-45 deg";
    const UNITS: &'static [(&'static str, f64)] = &[("", 1.0), ("deg", 1.0), ("°", 1.0)];
    fn from_si(value: f64) -> Self {
        Self(value)
    }
    fn si(self) -> f64 {
        self.0
    }
}

/// An angle from -180° to 180°, to the nearest step of 180°/32768; +180° is the largest there is.
pub(super) fn parse_angle(text: &str) -> Result<Angle, String> {
    let degrees = units::parse::<Degrees>(text)
        .map_err(|e| e.to_string())?
        .si();
    if !(-180.0..=180.0).contains(&degrees) {
        return Err("it must lie from -180 to 180 degrees".into());
    }
    let raw = (degrees * 32768.0 / 180.0).round().min(32767.0);
    Ok(Angle(raw as i16))
}

#[cfg(test)]
mod tests {
    use super::super::write::shortest;
    use super::*;

    #[test]
    fn every_share_and_angle_is_written_so_that_it_reads_back() {
        for n in 0..=u16::MAX {
            let share = Share(n);
            let text = shortest(f64::from(n) / 65535.0, |t| parse_share(t) == Ok(share));
            assert!(text.len() <= 8, "{text}");
            assert_eq!(parse_share(&text), Ok(share));
            let angle = Angle(n as i16);
            let degrees = f64::from(angle.0) * 180.0 / 32768.0;
            let text = shortest(degrees, |t| parse_angle(t) == Ok(angle));
            assert!(text.len() <= 8, "{text}");
            assert_eq!(parse_angle(&text), Ok(angle));
        }
    }

    #[test]
    fn whole_degrees_are_those_of_the_model_to_one_step() {
        for degrees in -180..=180i16 {
            let read = parse_angle(&degrees.to_string()).map(|a| a.0);
            let model = Angle::from_degrees(degrees).0;
            assert!(read.is_ok_and(|r| r.abs_diff(model) <= 1), "{degrees}");
        }
    }
}
