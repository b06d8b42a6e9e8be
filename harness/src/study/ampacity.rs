//! How much current a wire may carry.

use crate::electrical::wire::awg_area_mm2;
use crate::units::math;
use crate::units::{Gauge, Quantity};

/// Where the ratings come from.
pub const AMPACITY_SOURCE: &str = "NASA EEE-INST-002 section W1, bundle column (from memory; 200 °C wire, 70 °C, vacuum, so cautious in air), scaled for the insulation";

/// Bundled-wire rating: AWG number and amperes. NASA EEE-INST-002 section W1 (same values as MIL-STD-975M), from memory.
const BUNDLE: [(i32, f64); 10] = [
    (30, 0.7),
    (28, 1.0),
    (26, 1.4),
    (24, 2.0),
    (22, 2.5),
    (20, 3.7),
    (18, 5.0),
    (16, 6.5),
    (14, 8.5),
    (12, 11.5),
];

/// Share of the rating that insulation of a lower temperature class leaves: kelvin and share, from memory.
const INSULATION: [(f64, f64); 4] = [(378.15, 0.5), (408.15, 0.7), (423.15, 0.8), (473.15, 1.0)];

/// Rating of a bundled wire, amperes. Between and beyond the table's gauges the rating goes with a power
/// of the cross-section; insulation whose temperature is not stated counts as the lowest class.
pub fn ampacity_a(gauge: Gauge, insulation_max_k: Option<f64>) -> f64 {
    let area = match gauge {
        Gauge::Awg(n) => awg_area_mm2(n),
        Gauge::Metric(a) => a.si() * 1e6,
    };
    let points: Vec<(f64, f64)> = BUNDLE
        .iter()
        .map(|(n, a)| (math::log(awg_area_mm2(*n)), math::log(*a)))
        .collect();
    let rating = math::exp(line_through(&points, math::log(area)));
    let share = insulation_max_k.map_or(INSULATION[0].1, insulation_share);
    rating * share
}

fn insulation_share(kelvin: f64) -> f64 {
    let steps = INSULATION.iter().rev();
    // A class counts once it is reached; below the lowest there is no figure, so it counts as the lowest halved.
    steps
        .into_iter()
        .find(|(k, _)| kelvin + 0.5 >= *k)
        .map_or(INSULATION[0].1 / 2.0, |(_, s)| *s)
}

/// Straight lines through rising points, the end pieces going on.
fn line_through(points: &[(f64, f64)], x: f64) -> f64 {
    let last = points.len().saturating_sub(1);
    let above = points
        .iter()
        .position(|(px, _)| *px >= x)
        .unwrap_or(last)
        .clamp(1, last.max(1));
    match (points.get(above - 1), points.get(above)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_met_at_its_gauges() {
        for (n, a) in BUNDLE {
            assert!(
                (ampacity_a(Gauge::Awg(n), Some(473.15)) - a).abs() < 1e-9,
                "{n} AWG"
            );
        }
    }

    #[test]
    fn thicker_wire_and_better_insulation_carry_more() {
        let mut last = 0.0;
        for n in (10..=34).rev() {
            let a = ampacity_a(Gauge::Awg(n), None);
            assert!(a > last);
            assert!(ampacity_a(Gauge::Awg(n), Some(473.15)) > a);
            last = a;
        }
    }
}
