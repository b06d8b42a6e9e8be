//! A row of pixels behind one or two diffusing layers: how uneven it looks, and what a denser row costs.
//!
//! # Model
//! A pixel is a small Lambertian source: it lights a parallel layer at distance `h`, `x` to the side, in
//! proportion to `h²/(h²+x²)²`. A layer that diffuses perfectly is a Lambertian source again wherever it
//! is lit. The row is taken as endless, with pixels `p` apart.
//!
//! # Closed form
//! With `a = 2πh/p` and `c = cos(2πx/p)`, the sum over the row is
//! `E(x) = −(h/2)·d/dh[(π/(p·h))·sinh a/(cosh a − c)]` (the sum of `1/(h²+(x−kp)²)` is a standard one).
//! Its Fourier coefficients are `(1 + a·m)·e^(−a·m)` against a mean of 1; a second layer at distance
//! `h₂` multiplies each by its own factor of the same form.
//!
//! # Limits
//! Pixels have a size, layers let some light through unscattered and reflect some back, tubes are
//! curved, and rows end. Real layers are between none and this one.

use crate::build::prop::Diffuser;
use crate::units::math;
use crate::units::Quantity;
use serde::Serialize;
use std::f64::consts::PI;

/// Unevenness that is just seen side by side, as a share (common practice, from 1 to 2 %).
pub const JUST_SEEN: f64 = 0.02;

/// Illuminance at `x` of an endless row at pitch `p` behind one layer at distance `h`, over its mean.
pub fn relative_illuminance(x: f64, pitch: f64, distance: f64) -> f64 {
    let (a, c) = (2.0 * PI * distance / pitch, math::cos(2.0 * PI * x / pitch));
    // For large a both sinh and cosh overflow, and the row has long been even.
    if a > 40.0 {
        return 1.0;
    }
    let (sinh, cosh) = (math::sinh(a), math::cosh(a));
    let d = cosh - c;
    // −(h/2)·dS/dh of S = (π/(p·h))·sinh a/(cosh a − c), over the mean π/(2·h·p).
    sinh / d - a * (1.0 - c * cosh) / (d * d)
}

/// Michelson contrast `(max − min)/(max + min)` behind layers at the given distances (from the row to the
/// first, from there to the second), 0 even to 1 separate dots.
pub fn unevenness(pitch: f64, distances: &[f64]) -> f64 {
    if let [one] = distances {
        let (max, min) = (
            relative_illuminance(0.0, pitch, *one),
            relative_illuminance(pitch / 2.0, pitch, *one),
        );
        return ((max - min) / (max + min)).clamp(0.0, 1.0);
    }
    let (mut even, mut odd) = (0.0, 0.0);
    for m in 1..100_000_u32 {
        let factor = |h: &f64| {
            let am = 2.0 * PI * h / pitch * f64::from(m);
            (1.0 + am) * math::exp(-am)
        };
        let amplitude: f64 = distances.iter().map(factor).product();
        *(if m % 2 == 0 { &mut even } else { &mut odd }) += amplitude;
        if amplitude < 1e-12 {
            break;
        }
    }
    // Maximum above a pixel: 1 + 2(even + odd); minimum half way: 1 + 2(even − odd).
    (2.0 * odd / (1.0 + 2.0 * even)).clamp(0.0, 1.0)
}

/// A row behind the diffuser, as drawn or denser.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Distance between pixels, metres.
    pub pitch_m: f64,
    /// Unevenness behind the diffuser, 0..1.
    pub unevenness: f64,
    /// Cap that gives the light of the row as drawn at its cap.
    pub cap_for_same_light: f64,
    /// Current with every pixel dark, amperes a metre.
    pub dark_a_per_m: f64,
    /// Current of full white at that cap, amperes a metre, dark current included.
    pub white_a_per_m: f64,
    /// Light of full white at that cap behind the diffuser, candela a metre; null without intensities.
    pub light_cd_per_m: Option<f64>,
}

/// The row of a strip and rows with two and three times the pixels that give the same light; `None` for a
/// strip without pitch.
pub fn rows(strip: &crate::build::parts::Strip, diffuser: &Diffuser, cap: u8) -> Option<Vec<Row>> {
    let pitch = strip.pitch?.si();
    let distances: Vec<f64> = diffuser.distances.iter().map(|d| d.si()).collect();
    let passes = diffuser.transmission.si();
    let full_a: f64 = strip.pixel.channels.iter().map(|c| c.current.si()).sum();
    let full_cd: Option<f64> = strip
        .pixel
        .channels
        .iter()
        .map(|c| c.intensity.as_ref().map(|i| i.si()))
        .sum();
    let row = |factor: f64| {
        let (pitch_m, cap_for_same_light) = (pitch / factor, f64::from(cap) / factor);
        let share = cap_for_same_light / 255.0;
        let dark = strip.pixel.dark.si() / pitch_m;
        Row {
            pitch_m,
            unevenness: unevenness(pitch_m, &distances),
            cap_for_same_light,
            dark_a_per_m: dark,
            white_a_per_m: dark + full_a * share / pitch_m,
            light_cd_per_m: full_cd.map(|cd| cd * share * passes / pitch_m),
        }
    };
    Some([1.0, 2.0, 3.0].map(row).to_vec())
}

/// Distance of a single layer at which the dots of a row are just no longer seen, metres.
pub fn distance_for_even(pitch: f64) -> f64 {
    let (mut low, mut high) = (0.0, 4.0 * pitch);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if unevenness(pitch, &[middle]) > JUST_SEEN {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sources summed one by one.
    fn summed(x: f64, pitch: f64, h: f64) -> f64 {
        let sum: f64 = (-4000..=4000)
            .map(|k| {
                let d = x - f64::from(k) * pitch;
                h * h / (h * h + d * d).powi(2)
            })
            .sum();
        sum / (PI / (2.0 * h * pitch))
    }

    #[test]
    fn the_closed_form_is_the_sum_over_the_row() {
        for (pitch, h) in [(1.0, 0.1), (1.0, 0.3), (1.0, 1.0), (16.6, 12.0), (6.9, 3.0)] {
            for share in [0.0, 0.1, 0.25, 0.5] {
                let (x, expected) = (share * pitch, summed(share * pitch, pitch, h));
                let found = relative_illuminance(x, pitch, h);
                assert!(
                    (found - expected).abs() < 1e-6 * (1.0 + expected),
                    "{pitch} {h} {x}: {found} {expected}"
                );
            }
        }
    }

    #[test]
    fn one_layer_by_harmonics_is_the_closed_form() {
        for h in [0.05, 0.2, 0.5, 1.0, 2.0] {
            // A second layer at no distance changes nothing.
            let (closed, series) = (unevenness(1.0, &[h]), unevenness(1.0, &[h, 0.0]));
            assert!((closed - series).abs() < 1e-9, "{h}: {closed} {series}");
        }
    }

    #[test]
    fn a_second_layer_is_the_first_ones_light_spread_again() {
        // The light on the first layer, each bit of it a line source, summed on the second.
        let (pitch, h1, h2) = (1.0, 0.3, 0.25);
        let steps = 400;
        let second = |x: f64| -> f64 {
            (-20 * steps..20 * steps)
                .map(|k| {
                    let at = f64::from(k) / f64::from(steps);
                    let d = x - at;
                    relative_illuminance(at, pitch, h1) * h2 * h2 / (h2 * h2 + d * d).powi(2)
                })
                .sum()
        };
        let (max, min) = (second(0.0), second(0.5));
        let numeric = (max - min) / (max + min);
        let found = unevenness(pitch, &[h1, h2]);
        assert!((numeric - found).abs() < 1e-4, "{numeric} {found}");
    }

    #[test]
    fn dots_fade_with_distance_and_with_density() {
        assert!(unevenness(1.0, &[0.05]) > 0.98);
        assert!(unevenness(1.0, &[0.5]) > unevenness(1.0, &[1.0]));
        assert!(unevenness(0.5, &[0.5]) < unevenness(1.0, &[0.5]));
        assert!(unevenness(1.0, &[50.0]) < 1e-9);
        // Common practice has it that a layer one pitch away hides the dots, give or take.
        let even = distance_for_even(1.0);
        assert!((0.8..1.3).contains(&even), "{even}");
    }
}
