//! The largest coincidence peak of a frame at this or any dimmer setting.
//!
//! # Derivation
//! Dimming a frame scales every level by the same share `ρ ≤ 1` and rounds. In whole numbers aside, mean and
//! variance of a strip's momentary current (channels of a pixel in phase) become `ρ·a` and `ρ·α − ρ²·β` with
//! `α = Σ I_a·I_b·min(d_a, d_b)` and `β = Σ I_a·I_b·d_a·d_b` over the channels of each pixel, pairs included. The
//! variance is largest at `ρ = α/2β`; where that lies within reach it is `α²/4β` there, else that of `ρ = 1`. For
//! levels that are all alike this is `d(1−d)` held at ¼ above one half. The frame's own variance is `α − β`, and by
//! Cauchy's inequality `β ≤ (Σ I_c·√Σd_c²)²`; the bound grows with `β`, so that it holds with this in place of it.
//!
//! Rounding moves each level by less than two steps against the scaled one. `min(x, y) − x·y` moves by no more
//! than its arguments do, so that a pixel's variance moves by at most the square of its lit channels' current times
//! that share of a level; of `n` lit channels that square is at most `n·Σ I²`.
//!
//! The mean falls with every level, and so does the aligned current, which bounds every peak. Hence the bound: this
//! mean, plus the quantile times the root of the largest variance with its rounding, at most the aligned current.

use super::pixel::PixelLaw;
use super::pwm::{LevelSums, PwmFigures};

/// By how much a rounded level can differ from a scaled rounded one, drive levels: half a step each way without, a
/// whole one with temporal dithering or rounding down, for both of the two.
const ROUNDING: f64 = 2.0;

/// The largest coincidence peak, `z` standard deviations above the mean, of frames that are this one dimmed, amperes.
pub fn dimmed_peak_a<L: PixelLaw>(law: &L, pixels: usize, sums: &LevelSums, z: f64) -> f64 {
    let own = PwmFigures::of_sums_in_phase(law, pixels, sums);
    let (mut root, mut rounding) = (0.0, 0.0);
    for (c, [_, squares, _, lit]) in sums.channels.iter().enumerate().take(law.channels()) {
        let full_a = law.full_a(c);
        root += full_a * (*squares as f64).sqrt() / 255.0;
        rounding += full_a * full_a * *lit as f64;
    }
    rounding *= law.channels() as f64 * ROUNDING / 255.0;
    let (variance, beta) = (own.variance_a2.max(0.0), root * root);
    let largest = if beta > variance {
        (variance + beta).powi(2) / (4.0 * beta)
    } else {
        variance
    };
    let peak = own.mean_a + z * (largest + rounding).sqrt();
    peak.min(own.aligned_a)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::pixel::{Channel, PixelType, Ramp};
    use lampwright_model::limiter::cap_levels;

    fn law(amps: &[f64]) -> PixelType {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        let list: Vec<Channel> = amps
            .iter()
            .map(|full_a| Channel {
                full_a: *full_a,
                ramp,
            })
            .collect();
        PixelType::new(&list, 0.0005, ramp).unwrap()
    }

    /// Every dimmer cap of frames of all kinds, against the peak that is judged.
    #[test]
    fn no_dimmer_cap_has_a_larger_peak() {
        let z = 3.719_016_485_455_709;
        let mut tightest = f64::INFINITY;
        for (seed, channels) in (0..400u32).zip([1, 3, 4].into_iter().cycle()) {
            let law = law(&[0.012, 0.011, 0.013, 0.018][..channels]);
            let pixels = 1 + seed as usize % 40;
            let bright = (seed * 37 % 256) as u8;
            let mut state = seed.wrapping_mul(2_654_435_761) | 1;
            let mut next = || {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 24) as u8
            };
            // Now all alike, now scattered, now some full among dim ones.
            let levels: Vec<u8> = (0..pixels * channels)
                .map(|i| match seed % 4 {
                    0 => bright,
                    1 => next(),
                    // Ten full ones beside dim ones: the case in which a little less has the higher peak.
                    2 => [255, 4][usize::from(i >= 10)],
                    _ if i % 5 == 0 => 255,
                    _ => next() % 20,
                })
                .collect();
            let bound = dimmed_peak_a(&law, pixels, &PwmFigures::sums(&law, &levels), z);
            let mut largest: f64 = 0.0;
            for cap in 0..=255 {
                let mut dimmed = levels.clone();
                cap_levels(&mut dimmed, cap);
                largest = largest.max(PwmFigures::of_levels_in_phase(&law, &dimmed).peak_at(z));
            }
            assert!(
                largest <= bound * (1.0 + 1e-12),
                "{levels:?}: {largest} {bound}"
            );
            tightest = tightest.min(bound / largest);
        }
        // It is a bound and not merely large.
        assert!(tightest < 1.01, "{tightest}");
    }
}
