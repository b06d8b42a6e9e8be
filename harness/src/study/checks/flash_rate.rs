//! `flash-rate`: general and red flashes in any one second.
//!
//! After WCAG 2.2, success criterion 2.3.1: a general flash is a pair of opposing changes in relative
//! luminance of a tenth or more of the maximum, the darker state below 0.80; a red flash is a pair of
//! opposing changes to or from a saturated red (R/(R+G+B) ≥ 0.8) whose CIE 1976 u′v′ differ by more
//! than 0.2. Not more than three flashes in any second. Those figures are for screens: here full drive
//! stands for the maximum and the mean of all pixels for the flashing area, which is an analogy.

use super::Check;
use crate::profile::figures::{Figures, Light, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;
use std::collections::VecDeque;

const ID: &str = "flash-rate";
const PROTECTS: &str = "people with photosensitive epilepsy";
const SOURCE: &str = "W3C WCAG 2.2, success criterion 2.3.1, general and red flash thresholds";
/// Flashes allowed in one second.
const LIMIT: f64 = 3.0;
/// Least change of relative luminance.
const CHANGE: f64 = 0.1;
/// The darker state of a general flash lies below this.
const DARKER_BELOW: f64 = 0.8;
/// Least share of red of a saturated red.
const RED_SHARE: f64 = 0.8;
/// Least distance in CIE 1976 u′v′ of a red flash.
const RED_DISTANCE: f64 = 0.2;

/// Turns a level that goes up and down into opposing changes: it follows the level to its extreme, and
/// counts a change once the level has come back from there far enough.
#[derive(Debug, Clone, Copy)]
enum Turns {
    Start,
    /// No change yet: lowest and highest so far.
    Still(f64, f64),
    /// The last change went up; highest since.
    Up(f64),
    /// The last change went down; lowest since.
    Down(f64),
}

impl Turns {
    /// Takes the next level and says whether a change is complete with it.
    fn next(&mut self, level: f64) -> bool {
        let rises = |low: f64| level - low >= CHANGE && low < DARKER_BELOW;
        let falls = |high: f64| high - level >= CHANGE && level < DARKER_BELOW;
        let (next, turned) = match *self {
            Self::Start => (Self::Still(level, level), false),
            Self::Still(low, _) if rises(low) => (Self::Up(level), true),
            Self::Still(_, high) if falls(high) => (Self::Down(level), true),
            Self::Still(low, high) => (Self::Still(low.min(level), high.max(level)), false),
            Self::Up(high) if falls(high) => (Self::Down(level), true),
            Self::Up(high) => (Self::Up(high.max(level)), false),
            Self::Down(low) if rises(low) => (Self::Up(level), true),
            Self::Down(low) => (Self::Down(low.min(level)), false),
        };
        *self = next;
        turned
    }
}

/// Counts events in a sliding second.
#[derive(Debug, Clone, Default)]
struct Second(VecDeque<f64>);

impl Second {
    fn count(&mut self, time_s: f64, event: bool) -> usize {
        if event {
            self.0.push_back(time_s);
        }
        while self.0.front().is_some_and(|t| *t <= time_s - 1.0) {
            self.0.pop_front();
        }
        self.0.len()
    }
}

/// CIE 1976 u′v′ of linear sRGB; `None` for black.
fn chromaticity([r, g, b]: [f64; 3]) -> Option<(f64, f64)> {
    // IEC 61966-2-1 primaries.
    let x = 0.4124 * r + 0.3576 * g + 0.1805 * b;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = 0.0193 * r + 0.1192 * g + 0.9505 * b;
    let sum = x + 15.0 * y + 3.0 * z;
    (sum > 0.0).then(|| (4.0 * x / sum, 9.0 * y / sum))
}

fn is_red([r, g, b]: [f64; 3]) -> bool {
    let sum = r + g + b;
    sum > 0.0 && r / sum >= RED_SHARE
}

fn red_change(from: &Light, to: &Light) -> bool {
    if !is_red(from.rgb) && !is_red(to.rgb) {
        return false;
    }
    // Black has no colour of its own: taken as white, the background that gives the larger distance.
    let white = (0.1978, 0.4683);
    let (a, b) = (
        chromaticity(from.rgb).unwrap_or(white),
        chromaticity(to.rgb).unwrap_or(white),
    );
    (a.0 - b.0).hypot(a.1 - b.1) > RED_DISTANCE
}

struct FlashRate {
    turns: Turns,
    general: Second,
    red: Second,
    red_from: Option<Light>,
    worst_general: Worst,
    worst_red: Worst,
}

pub(super) fn check() -> Box<dyn Check> {
    Box::new(FlashRate {
        turns: Turns::Start,
        general: Second::default(),
        red: Second::default(),
        red_from: None,
        worst_general: Worst::new(Side::AtMost),
        worst_red: Worst::new(Side::AtMost),
    })
}

impl FlashRate {
    fn see(&mut self, light: &Light, moment: &Moment) {
        let turned = self.turns.next(light.luminance);
        let changes = self.general.count(moment.time_s, turned);
        self.worst_general.see((changes / 2) as f64, moment);
        let from = *self.red_from.get_or_insert(*light);
        let reddened = red_change(&from, light);
        if reddened {
            self.red_from = Some(*light);
        }
        let changes = self.red.count(moment.time_s, reddened);
        self.worst_red.see((changes / 2) as f64, moment);
    }
}

impl Check for FlashRate {
    fn observe(&mut self, figures: &Figures) {
        self.see(&figures.light, &figures.moment);
    }

    fn results(&self) -> Vec<CheckResult> {
        let why = "flashes in the worst second, mean light of all pixels taken as one flashing area (an analogy: the figures are for screens); flashing light can harm even where this holds";
        let result = |worst: &Worst, kind: &str| {
            Some(
                worst
                    .judge(ID, PROTECTS, "1/s", LIMIT)?
                    .part(kind)
                    .source(SOURCE)
                    .why(why),
            )
        };
        [
            result(&self.worst_general, "general"),
            result(&self.worst_red, "red"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Relative luminance of a square wave between two levels, `hertz` full cycles a second at 60
    /// frames a second, and the worst count of general flashes found.
    fn flashes(low: f64, high: f64, hertz: f64) -> f64 {
        let mut check = FlashRate {
            turns: Turns::Start,
            general: Second::default(),
            red: Second::default(),
            red_from: None,
            worst_general: Worst::new(Side::AtMost),
            worst_red: Worst::new(Side::AtMost),
        };
        for frame in 0..600_u64 {
            let time_s = frame as f64 / 60.0;
            let on = (time_s * hertz).fract() < 0.5;
            let y = if on { high } else { low };
            let moment = Moment {
                frame,
                time_s,
                state: None,
                layers: Default::default(),
                cue: None,
                new_cues: 0,
            };
            check.see(
                &Light {
                    rgb: [y; 3],
                    luminance: y,
                },
                &moment,
            );
        }
        check.worst_general.figure().unwrap()
    }

    #[test]
    fn three_flashes_a_second_hold_and_four_fail() {
        assert!(flashes(0.0, 1.0, 3.0) <= 3.0);
        assert!(flashes(0.0, 1.0, 4.0) > 3.0);
    }

    #[test]
    fn changes_below_a_tenth_or_between_bright_states_do_not_count() {
        // WCAG 2.2: a change of 10 % or more, the darker state below 0.80.
        assert_eq!(flashes(0.30, 0.39, 10.0), 0.0);
        assert!(flashes(0.30, 0.41, 10.0) > 3.0);
        assert_eq!(flashes(0.81, 1.0, 10.0), 0.0);
    }

    #[test]
    fn saturated_red_is_told_from_other_light() {
        // Worked value: sRGB (255, 64, 64) has R/(R+G+B) = 0.907 in linear light.
        let linear = |c: f64| ((c / 255.0 + 0.055) / 1.055).powf(2.4);
        let red = [1.0, linear(64.0), linear(64.0)];
        assert!((red[0] / red.iter().sum::<f64>() - 0.907).abs() < 1e-3);
        assert!(is_red(red));
        assert!(!is_red([1.0, 0.2, 0.1]));
        let light = |rgb| Light {
            rgb,
            luminance: 0.0,
        };
        assert!(red_change(&light([0.0; 3]), &light([1.0, 0.0, 0.0])));
        assert!(!red_change(
            &light([1.0, 0.0, 0.0]),
            &light([0.9, 0.0, 0.0])
        ));
        assert!(!red_change(
            &light([0.0, 0.0, 1.0]),
            &light([0.0, 1.0, 0.0])
        ));
    }
}
