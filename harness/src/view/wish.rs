//! What the page wants to see.

use crate::build::prop::Prop;
use crate::profile::condition::Condition;
use crate::study::watch::all_conditions;
use crate::units::Quantity;
use serde::{Deserialize, Serialize};

/// The whole state of a page, as it stands in its address.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    /// Variant of the build; `None` as it stands.
    pub variant: Option<String>,
    /// Index of what is played, in the order of the prop's presets and their cue traces.
    pub play: usize,
    /// Brightness cap, 0..=255.
    pub cap: u8,
    /// State of charge at the start, 0..=1.
    pub soc: f64,
    /// Temperature, °C.
    pub celsius: f64,
    /// Whether the cell is aged.
    pub aged: bool,
    /// Whether every tolerance is at its unfavourable end.
    pub cautious: bool,
    /// Whether margins are judged over the cautious set, as `check` does, or under this condition alone.
    pub over_set: bool,
}

/// Coldest and hottest that can be asked for, °C.
const CELSIUS: (f64, f64) = (-40.0, 85.0);

impl Wish {
    /// The condition of plots and light; what lies outside its range is brought to its end.
    pub(super) fn condition(&self, prop: &Prop) -> Condition {
        let within = |v: f64, low: f64, high: f64, fallback: f64| {
            if v.is_finite() {
                v.clamp(low, high)
            } else {
                fallback
            }
        };
        let nominal = Condition::nominal();
        Condition {
            soc: within(self.soc, 0.0, 1.0, nominal.soc),
            temperature_k: 273.15 + within(self.celsius, CELSIUS.0, CELSIUS.1, 25.0),
            aged: self.aged,
            cautious: self.cautious,
            wire_length_tolerance: if self.cautious {
                prop.conditions.wire_length_tolerance.si()
            } else {
                0.0
            },
        }
    }

    /// The conditions under which margins are judged.
    pub(super) fn judged_under(&self, prop: &Prop) -> Vec<Condition> {
        if self.over_set {
            all_conditions(prop)
        } else {
            vec![self.condition(prop)]
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_wish_out_of_range_is_brought_to_its_end_and_a_key_that_is_not_known_is_refused() {
        let text = r#"{"variant":null,"play":0,"cap":9,"soc":7.0,"celsius":1e9,"aged":true,"cautious":false,"over_set":true"#;
        let wish: Wish = serde_json::from_str(&format!("{text}}}")).unwrap();
        let text_of_build = include_str!("../../templates/build.toml");
        let source = crate::build::diag::Source::new("build.toml", text_of_build);
        let prop = crate::build::file::read_variant(&source, None).unwrap();
        let condition = wish.condition(&prop);
        assert_eq!(condition.soc, 1.0);
        assert!((condition.temperature_k - 358.15).abs() < 1e-9);
        assert_eq!(wish.judged_under(&prop).len(), 5);
        assert!(serde_json::from_str::<Wish>(&format!("{text},\"more\":1}}")).is_err());
        assert!(
            serde_json::from_str::<Wish>(&format!("{}}}", text.replace(":9", ":900"))).is_err()
        );
    }
}
