//! A cue as the end of a line of text.

use super::value::{parse_angle, parse_share};
use super::write::shortest;
use lampwright_model::Cue;

/// The value of a cue as text, empty where it has none; reads back exactly.
pub(super) fn value_text(cue: Cue) -> String {
    match cue {
        Cue::ShortPress | Cue::LongPress | Cue::DoublePress | Cue::LowCell => String::new(),
        Cue::Knock { strength: share }
        | Cue::Swing { speed: share }
        | Cue::Level { value: share } => shortest(f64::from(share.0) / 65535.0, |text| {
            parse_share(text) == Ok(share)
        }),
        Cue::Twist { angle } => shortest(f64::from(angle.0) * 180.0 / 32768.0, |text| {
            parse_angle(text) == Ok(angle)
        }),
    }
}

/// Name and, where it has one, value with a space between: `short-press`, `knock 0.8`, `twist -45`.
pub fn cue_words(cue: Cue) -> String {
    let (name, value) = (cue.kind().name(), value_text(cue));
    format!("{name} {value}").trim_end().to_owned()
}
