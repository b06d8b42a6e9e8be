//! `flash-rate`: general and red flashes in any one second.
//!
//! After WCAG 2.2, success criterion 2.3.1: a general flash is a pair of opposing changes in relative
//! luminance of a tenth or more of the maximum, the darker state below 0.80; a red flash is a pair of
//! opposing changes to or from a saturated red (R/(R+G+B) ≥ 0.8) whose CIE 1976 u′v′ differ by more
//! than 0.2. Not more than three flashes in any second. Those figures are for screens: here full drive
//! stands for the maximum and the mean of all pixels for the flashing area, which is an analogy.
//!
//! The red figure knows no least light: by it, one step of an 8-bit drive level between two nearly dark
//! states is a flash, since the rounding alone moves u′v′ that far. A change counts here only if the
//! brighter of its two states reaches [`RED_FLOOR`]; red to black and back counts from there on.
//!
//! After ITU-R BT.1702-3 (as quoted by others), where a diffuser's lit width is stated and so a luminance
//! is known: a change counts from 20 cd/m² while the darker state is below 160 cd/m². A bright prop on a
//! dark stage passes that far sooner than a tenth of its maximum.
//!
//! Both exempt small areas (WCAG: 0.006 sr within any 10° of view). No credit is taken for that: how near
//! a face comes to a prop is not known. The distance from which it would hold is given.

use super::Check;
use crate::build::prop::Prop;
use crate::profile::circuit::Subject;
use crate::profile::figures::{Figures, Light, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;
use crate::units::math;
use crate::units::Quantity;
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
/// The same in cd/m² after ITU-R BT.1702-3.
const CHANGE_CD_M2: f64 = 20.0;
const DARKER_BELOW_CD_M2: f64 = 160.0;
const SOURCE_ABSOLUTE: &str =
    "ITU-R BT.1702-3 (11/2023) as quoted by others: 20 cd/m², darker state below 160 cd/m²";
/// Area that WCAG 2.2 exempts, steradian.
const EXEMPT_SR: f64 = 0.006;
/// Least share of red of a saturated red.
const RED_SHARE: f64 = 0.8;
/// Least distance in CIE 1976 u′v′ of a red flash.
const RED_DISTANCE: f64 = 0.2;

/// Least share of full red that the brighter state of a red flash has: below a mean of four steps of an
/// 8-bit drive level, rounding by half a step can move u′v′ by tenths. Our own choice: the standard has no such floor.
const RED_FLOOR: f64 = 4.0 / 255.0;

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
    fn next(&mut self, level: f64, change: f64, darker_below: f64) -> bool {
        let rises = |low: f64| level - low >= change && low < darker_below;
        let falls = |high: f64| high - level >= change && level < darker_below;
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

/// Distance from which a lit area seen face on fills no more than what WCAG 2.2 exempts, metres.
fn exempt_from_m(area_m2: f64) -> f64 {
    (area_m2 / EXEMPT_SR).sqrt()
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
    if from.rgb.iter().chain(&to.rgb).all(|c| *c < RED_FLOOR) {
        return false;
    }
    // Black has no colour of its own: taken as white, the background that gives the larger distance.
    let white = (0.1978, 0.4683);
    let (a, b) = (
        chromaticity(from.rgb).unwrap_or(white),
        chromaticity(to.rgb).unwrap_or(white),
    );
    math::hypot(a.0 - b.0, a.1 - b.1) > RED_DISTANCE
}

/// Luminance of the whole prop behind its diffuser.
struct Absolute {
    /// Luminance of each colour at full drive of every pixel, cd/m².
    full_cd_m2: [f64; 3],
    /// Distance from which the lit area is below what WCAG exempts, metres.
    exempt_from_m: f64,
    turns: Turns,
    count: Second,
    worst: Worst,
}

impl Absolute {
    /// Where the build states a diffuser's width, every pitch, and intensities of pixels without white.
    fn of(prop: &Prop) -> Option<Self> {
        let diffuser = prop.diffuser.as_ref()?;
        let width_m = diffuser.width?.si();
        let (mut cd, mut length_m) = ([0.0; 3], 0.0);
        for (_, strip) in prop.strips().filter(|(_, s)| s.pixels > 1) {
            if strip.pixel.has_white() {
                return None;
            }
            length_m += strip.pitch?.si() * f64::from(strip.pixels);
            for (sum, channel) in cd.iter_mut().zip(&strip.pixel.channels) {
                *sum += channel.intensity.as_ref()?.si() * f64::from(strip.pixels);
            }
        }
        let area_m2 = length_m * width_m;
        (area_m2 > 0.0).then(|| Self {
            full_cd_m2: cd.map(|cd| cd * diffuser.transmission.si() / area_m2),
            exempt_from_m: exempt_from_m(area_m2),
            turns: Turns::Start,
            count: Second::default(),
            worst: Worst::new(Side::AtMost),
        })
    }

    fn see(&mut self, light: &Light, moment: &Moment) {
        let parts = light.rgb.iter().zip(&self.full_cd_m2);
        let luminance: f64 = parts.map(|(share, full)| share * full).sum();
        let turned = self.turns.next(luminance, CHANGE_CD_M2, DARKER_BELOW_CD_M2);
        let changes = self.count.count(moment.time_s, turned);
        self.worst.see((changes / 2) as f64, moment);
    }
}

/// The check by itself: it needs the light of the frames alone.
pub(in crate::study) struct FlashRate {
    absolute: Option<Absolute>,
    turns: Turns,
    general: Second,
    red: Second,
    red_from: Option<Light>,
    worst_general: Worst,
    worst_red: Worst,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    Box::new(FlashRate::of(subject.prop))
}

impl FlashRate {
    /// For a prop.
    pub(in crate::study) fn of(prop: &Prop) -> Self {
        Self::new(Absolute::of(prop))
    }

    fn new(absolute: Option<Absolute>) -> Self {
        Self {
            absolute,
            turns: Turns::Start,
            general: Second::default(),
            red: Second::default(),
            red_from: None,
            worst_general: Worst::new(Side::AtMost),
            worst_red: Worst::new(Side::AtMost),
        }
    }

    /// Takes the light of the next frame.
    pub(in crate::study) fn see(&mut self, light: &Light, moment: &Moment) {
        let turned = self.turns.next(light.luminance, CHANGE, DARKER_BELOW);
        let changes = self.general.count(moment.time_s, turned);
        self.worst_general.see((changes / 2) as f64, moment);
        if let Some(absolute) = &mut self.absolute {
            absolute.see(light, moment);
        }
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
        let area = self.absolute.as_ref().map_or(String::new(), |a| {
            format!(
                ", no credit for a small area, which would hold from {:.1} m",
                a.exempt_from_m
            )
        });
        let why = format!("flashes in the worst second, mean light of all pixels taken as one flashing area{area} (an analogy: the figures are for screens); flashing light can harm even where this holds");
        let result = |worst: &Worst, kind: &str, source: &str| {
            Some(
                worst
                    .judge(ID, PROTECTS, "1/s", LIMIT)?
                    .part(kind)
                    .source(source)
                    .why(&why),
            )
        };
        [
            result(&self.worst_general, "general", SOURCE),
            result(&self.worst_red, "red", SOURCE),
            self.absolute
                .as_ref()
                .and_then(|a| result(&a.worst, "general, by luminance", SOURCE_ABSOLUTE)),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// General and red flashes in the worst second of a sequence of light with its times in seconds.
#[cfg(feature = "proptest")]
pub fn worst_flashes(lights: impl Iterator<Item = (f64, Light)>) -> (u32, u32) {
    let mut check = FlashRate::new(None);
    for (frame, (time_s, light)) in (0..).zip(lights) {
        let moment = Moment::at(frame, time_s);
        check.see(&light, &moment);
    }
    // A count, or none where there was no frame.
    let count = |worst: &Worst| worst.figure().unwrap_or(0.0) as u32;
    (count(&check.worst_general), count(&check.worst_red))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Relative luminance of a square wave between two levels, `hertz` full cycles a second at 60
    /// frames a second, and the worst count of general flashes found.
    fn flashes(low: f64, high: f64, hertz: f64) -> f64 {
        let mut check = FlashRate::new(None);
        for frame in 0..600_u64 {
            let time_s = frame as f64 / 60.0;
            let on = (time_s * hertz).fract() < 0.5;
            let y = if on { high } else { low };
            let moment = Moment::at(frame, time_s);
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

    /// Counts of a light that goes between two states, held for `frames` frames each.
    fn alternating(
        states: [[f64; 3]; 2],
        frames: u64,
        absolute: Option<Absolute>,
    ) -> (f64, f64, f64) {
        let mut check = FlashRate::new(absolute);
        for frame in 0..600 {
            let rgb = states[usize::from(frame / frames % 2 == 1)];
            let luminance = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
            let moment = Moment::at(frame, frame as f64 / 60.0);
            check.see(&Light { rgb, luminance }, &moment);
        }
        let of = |w: &Worst| w.figure().unwrap_or(f64::NAN);
        let by_luminance = check.absolute.as_ref().map_or(f64::NAN, |a| of(&a.worst));
        (of(&check.worst_general), of(&check.worst_red), by_luminance)
    }

    fn grey(y: f64) -> [f64; 3] {
        [y; 3]
    }

    /// Hand-made sequences just on each side of every figure of WCAG 2.2.
    #[test]
    fn sequences_on_both_sides_of_each_threshold() {
        // Ten frames each way are three flashes a second, seven are four.
        let rate = |frames| alternating([grey(0.0), grey(1.0)], frames, None).0;
        assert_eq!((rate(10), rate(7)), (3.0, 4.0));
        // The change: a tenth.
        let change = |to| alternating([grey(0.2), grey(to)], 3, None).0;
        assert!(change(0.2999) == 0.0 && change(0.3001) > 3.0);
        // The darker state: below 0.80.
        let darker = |from| alternating([grey(from), grey(1.0)], 3, None).0;
        assert!(darker(0.7999) > 3.0 && darker(0.8001) == 0.0);
        // Saturated red: from a share of 0.8. Of equal green and blue the rest.
        let red = |share: f64| {
            let rest = (1.0 - share) / 2.0 / share * 0.1;
            alternating([[0.1, rest, rest], [0.0, 0.1, 0.1]], 3, None).1
        };
        assert!(
            red(0.801) > 3.0 && red(0.799) == 0.0,
            "{} {}",
            red(0.801),
            red(0.799)
        );
        // Distance in u′v′: 0.2. Towards white, u′v′ of the mixture by the definition of CIE 1976.
        let mixed = |white: f64| [0.1 + white, white, white];
        let at = |w: f64| {
            let (a, b) = (chromaticity([0.1, 0.0, 0.0]), chromaticity(mixed(w)));
            let ((u, v), (x, y)) = (a.unwrap_or_default(), b.unwrap_or_default());
            (u - x).hypot(v - y)
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            *(if at(middle) > RED_DISTANCE {
                &mut high
            } else {
                &mut low
            }) = middle;
        }
        let reds = |w: f64| alternating([[0.1, 0.0, 0.0], mixed(w)], 3, None).1;
        assert!(reds(low * 0.999) == 0.0 && reds(high * 1.001) > 3.0);
    }

    // WCAG 2.2 exempts a quarter of any 10° of the visual field, 0.006 sr; a lit face of 0.9 m by 25 mm fills that from
    // 1.94 m away (solid angle of a 10° cone: 2π·(1 − cos 5°) = 0.02391 sr).
    #[test]
    fn the_exempt_area_is_a_quarter_of_a_ten_degree_cone() {
        let cone = 2.0 * std::f64::consts::PI * (1.0 - 5.0_f64.to_radians().cos());
        assert!((cone - 0.02391).abs() < 5e-6 && (cone / 4.0 - EXEMPT_SR).abs() < 5e-5);
        assert!((exempt_from_m(0.9 * 0.025) - 1.94).abs() < 5e-3);
    }

    #[test]
    fn red_flicker_of_a_few_drive_steps_does_not_count_and_red_from_black_does() {
        let step = 1.0 / 255.0;
        let reds = |low: [f64; 3], high: f64| alternating([low, [high, 0.0, 0.0]], 3, None).1;
        assert_eq!(reds([step; 3], 2.0 * step), 0.0);
        assert!(reds([step; 3], 4.1 * step) > 3.0);
        assert!(reds([0.0; 3], 4.1 * step) > 3.0);
    }

    #[test]
    fn by_luminance_a_change_counts_from_twenty_and_below_a_hundred_and_sixty() {
        let absolute = || {
            Some(Absolute {
                full_cd_m2: [250.0, 500.0, 250.0],
                exempt_from_m: 1.0,
                turns: Turns::Start,
                count: Second::default(),
                worst: Worst::new(Side::AtMost),
            })
        };
        let count = |from: f64, to: f64| {
            alternating([grey(from / 1000.0), grey(to / 1000.0)], 3, absolute()).2
        };
        assert!(count(0.0, 19.9) == 0.0 && count(0.0, 20.1) > 3.0);
        assert!(count(159.9, 400.0) > 3.0 && count(160.1, 400.0) == 0.0);
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
