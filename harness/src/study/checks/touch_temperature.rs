//! `touch-temperature`: the outside of each tube against what skin bears.

use super::tube_heat::TubeHeats;
use super::Check;
use crate::build::parts::{Feel, Touch};
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::units::{Quantity, Temperature};

const ID: &str = "touch-temperature";
const PROTECTS: &str = "the hand that holds the prop";
const SOURCE: &str = "IEC 62368-1 Table 38, class TS1 (from memory; plastic touched for seconds, 77 °C, as quoted on the IEEE product-safety list). The standard tests at 25 °C: the nominal figure is that test";

struct Surface {
    name: String,
    limit_c: f64,
    touch: Touch,
}

struct TouchTemperature {
    surfaces: Vec<Surface>,
    heats: Option<TubeHeats>,
    surroundings_c: f64,
}

/// Highest temperature of a surface, °C, by how long it is touched and how it feels.
fn limit_c(touch: Touch, feel: Feel) -> f64 {
    match (touch, feel) {
        (Touch::Held, _) => 48.0,
        (Touch::Handled, Feel::Metal) => 51.0,
        (Touch::Handled, Feel::Glass) => 56.0,
        (Touch::Handled, Feel::Plastic | Feel::Wood) => 60.0,
        (Touch::Touched, Feel::Metal) => 60.0,
        (Touch::Touched, Feel::Glass) => 71.0,
        (Touch::Touched, Feel::Plastic) => 77.0,
        (Touch::Touched, Feel::Wood) => 107.0,
    }
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let surfaces = subject.prop.enclosure.iter().map(|t| Surface {
        name: t.name.clone(),
        limit_c: limit_c(t.touch, t.material.feel),
        touch: t.touch,
    });
    Box::new(TouchTemperature {
        surfaces: surfaces.collect(),
        heats: TubeHeats::new(subject),
        surroundings_c: subject.circuit.condition.temperature_k - Temperature::OFFSET,
    })
}

impl Check for TouchTemperature {
    fn observe(&mut self, figures: &Figures) {
        if let Some(heats) = &mut self.heats {
            heats.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let not = |why| vec![CheckResult::not_checked(ID, PROTECTS, "°C", why)];
        let Some(heats) = &self.heats else {
            return not("no tube is described: add [enclosure.NAME] with material, outer-diameter, wall, length and touch");
        };
        if !heats.seen() {
            return not("no frame has an operating point");
        }
        let each = self.surfaces.iter().enumerate();
        each.filter_map(|(i, s)| self.result(heats, i, s)).collect()
    }
}

impl TouchTemperature {
    fn result(&self, heats: &TubeHeats, tube: usize, surface: &Surface) -> Option<CheckResult> {
        let celsius = heats.warmest(tube)?.outside_k - Temperature::OFFSET;
        let how = match surface.touch {
            Touch::Held => "held for a minute or longer",
            Touch::Handled => "handled for up to a minute",
            Touch::Touched => "touched for seconds",
        };
        let mut why = format!(
            "estimate for a trace played on and on: {:.1} W in the tube, {:.1} K above {:.0} °C at its warmest, in still air with no hand on it, within a fifth of the rise; {how}",
            heats.total_w(tube),
            celsius - self.surroundings_c,
            self.surroundings_c
        );
        if let Some(kelvin) = heats.pixels_k(tube) {
            let pixels = kelvin - Temperature::OFFSET;
            why.push_str(&format!("; its pixels reach about {pixels:.0} °C"));
        }
        let judged =
            CheckResult::judged(ID, PROTECTS, "°C", Side::AtMost, surface.limit_c, celsius);
        Some(judged.part(&surface.name).source(SOURCE).why(why))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO 13732-1:2006, burn thresholds (from memory): 1 min 51 °C uncoated metal, 56 °C glass, 60 °C plastic and wood;
    // 10 min 48 °C whatever the surface. What is handled or held may not exceed them.
    #[test]
    fn no_limit_lies_above_the_threshold_of_a_burn() {
        for (feel, minute) in [
            (Feel::Metal, 51.0),
            (Feel::Glass, 56.0),
            (Feel::Plastic, 60.0),
            (Feel::Wood, 60.0),
        ] {
            assert!(limit_c(Touch::Handled, feel) <= minute, "{feel:?}");
            assert!(limit_c(Touch::Held, feel) <= 48.0, "{feel:?}");
        }
    }

    #[test]
    fn the_longer_the_touch_and_the_better_the_conductor_the_lower_the_limit() {
        let feels = [Feel::Metal, Feel::Glass, Feel::Plastic, Feel::Wood];
        for pair in feels.windows(2) {
            for (_, touch) in Touch::NAMES {
                assert!(limit_c(touch, pair[0]) <= limit_c(touch, pair[1]));
            }
        }
        for feel in feels {
            let [held, handled, touched] = Touch::NAMES.map(|(_, t)| limit_c(t, feel));
            assert!(held < handled && handled < touched, "{feel:?}");
        }
    }
}
