//! What a frame of drive levels draws: average, coincidence peak, aligned worst case, RMS.
//!
//! # Derivation
//! A drive level `d` is a duty cycle: the channel draws `I` for the share `d` of the PWM period and
//! 0 otherwise. Seen at a random moment its current is `I·B` with `B` 1 with probability `d`:
//! mean `d·I`, mean square `d·I²`, hence variance `d(1−d)·I²`, third central moment
//! `d(1−d)(1−2d)·I³`. Pixels run from oscillators of their own, so at a random moment their phases
//! are independent; means, variances and third moments add.
//!
//! - **average** `Σ d·I` + dark current: charge, heat sources that follow the mean.
//! - **RMS** `√(mean² + variance)`: heat in a resistance.
//! - **aligned** `Σ I` over channels with `d > 0` + dark current: every pixel switched on together.
//!   It bounds every moment.
//! - **coincidence peak** at quantile `q`: `mean + z(q)·σ` with the normal quantile `z`, since the
//!   sum of many independent parts is nearly normal; never above *aligned*.
//!
//! # Limits
//! With few lit channels at low drive the sum is skewed and the normal quantile is too low;
//! [`PwmFigures::peak_skew_corrected_a`] adds the first Cornish-Fisher term
//! `σ·γ·(z²−1)/6` (Cornish and Fisher, Rev. Inst. Int. Stat. 5, 1938). The channels of *one* pixel
//! share a counter in parts known to us (common practice; no data sheet says whether they switch on
//! together or one after the other). Together is the unfavourable case, up to three times the
//! variance for a white of three channels, and nothing rules it out: frames are judged by
//! [`PwmFigures::of_levels_in_phase`]. [`PwmFigures::of_levels`] is the case of channels that do not know
//! of each other. Channels that are shifted on purpose draw smoother than either. The quantile is of moments, not of frames: the value is exceeded for the
//! share `1−q` of the time. All figures are at the set currents; a pixel starved of supply draws
//! less.

use super::pixel::{PixelLaw, MAX_CHANNELS};
use crate::units::math;

/// Quantile of the coincidence peak unless another is stated.
pub const DEFAULT_PEAK_QUANTILE: f64 = 0.9999;

/// Pairs of channels; those of a pixel with fewer channels come first.
pub const PAIRS: [(usize, usize); 6] = [(0, 1), (0, 2), (1, 2), (0, 3), (1, 3), (2, 3)];

/// Current figures of a frame of one or more strips. Add figures of several strips with `+`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PwmFigures {
    /// Average current with dark current, in ampere.
    pub mean_a: f64,
    /// Variance of the momentary current, in ampere squared.
    pub variance_a2: f64,
    /// Third central moment of the momentary current, in ampere cubed.
    pub third_a3: f64,
    /// Current if everything lit is on together, with dark current, in ampere.
    pub aligned_a: f64,
}

impl std::ops::Add for PwmFigures {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            mean_a: self.mean_a + other.mean_a,
            variance_a2: self.variance_a2 + other.variance_a2,
            third_a3: self.third_a3 + other.third_a3,
            aligned_a: self.aligned_a + other.aligned_a,
        }
    }
}

impl std::iter::Sum for PwmFigures {
    fn sum<I: Iterator<Item = Self>>(figures: I) -> Self {
        figures.fold(Self::default(), |a, b| a + b)
    }
}

/// Sums over the pixels of a strip. Whole numbers: exact whatever the order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LevelSums {
    /// For each channel the sums of `d`, `d²` and `d³` (drive levels 0..255), and how many pixels light it.
    pub channels: [[u64; 4]; MAX_CHANNELS],
    /// For each of the [`PAIRS`] of channels the sum of `255·min(d_a, d_b) − d_a·d_b`.
    pub pairs: [u64; PAIRS.len()],
}

impl PwmFigures {
    /// Figures of a strip that shows `levels` (pixel by pixel, channel by channel), all channels
    /// independent. A tail shorter than one pixel is ignored.
    pub fn of_levels<L: PixelLaw>(law: &L, levels: &[u8]) -> Self {
        let pixels = levels.len() / law.channels();
        Self::of_sums(law, pixels, &Self::sums(law, levels))
    }

    /// Sums of drive levels for [`of_sums`](Self::of_sums).
    pub fn sums<L: PixelLaw>(law: &L, levels: &[u8]) -> LevelSums {
        let mut sums = LevelSums::default();
        for pixel in levels.chunks_exact(law.channels()) {
            for (sum, level) in sums.channels.iter_mut().zip(pixel) {
                let d = u64::from(*level);
                sum[0] += d;
                sum[1] += d * d;
                sum[2] += d * d * d;
                sum[3] += u64::from(d > 0);
            }
            for (sum, (a, b)) in sums.pairs.iter_mut().zip(pairs(law.channels())) {
                let (x, y) = (u32::from(pixel[*a]), u32::from(pixel[*b]));
                *sum += u64::from(255 * x.min(y) - x * y);
            }
        }
        sums
    }

    /// Figures from sums over the levels of so many pixels.
    pub fn of_sums<L: PixelLaw>(law: &L, pixels: usize, sums: &LevelSums) -> Self {
        let dark = law.dark_a() * pixels as f64;
        let mut figures = Self {
            mean_a: dark,
            aligned_a: dark,
            ..Self::default()
        };
        for (c, [d1, d2, d3, lit]) in sums.channels.iter().enumerate().take(law.channels()) {
            let i = law.full_a(c);
            let (d1, d2, d3) = (
                *d1 as f64 / 255.0,
                *d2 as f64 / 65_025.0,
                *d3 as f64 / 16_581_375.0,
            );
            figures.mean_a += i * d1;
            figures.variance_a2 += i * i * (d1 - d2);
            // d(1−d)(1−2d) = d − 3d² + 2d³
            figures.third_a3 += i * i * i * (d1 - 3.0 * d2 + 2.0 * d3);
            figures.aligned_a += i * *lit as f64;
        }
        figures
    }

    /// The same if the channels of one pixel switch on together and each pixel on its own.
    ///
    /// Two channels of a pixel that switch on together are both on for the smaller of their duties, so
    /// their currents have the covariance `I_a·I_b·(min(d_a, d_b) − d_a·d_b)`, which comes on top of
    /// the variances. The third moment is left at that of independent channels.
    pub fn of_levels_in_phase<L: PixelLaw>(law: &L, levels: &[u8]) -> Self {
        let pixels = levels.len() / law.channels();
        Self::of_sums_in_phase(law, pixels, &Self::sums(law, levels))
    }

    /// The same from sums over the levels of so many pixels.
    pub fn of_sums_in_phase<L: PixelLaw>(law: &L, pixels: usize, sums: &LevelSums) -> Self {
        let mut figures = Self::of_sums(law, pixels, sums);
        for (sum, (a, b)) in sums.pairs.iter().zip(pairs(law.channels())) {
            figures.variance_a2 += 2.0 * law.full_a(*a) * law.full_a(*b) * *sum as f64 / 65_025.0;
        }
        figures
    }

    /// Root mean square of the momentary current, in ampere.
    pub fn rms_a(&self) -> f64 {
        (self.mean_a * self.mean_a + self.variance_a2).sqrt()
    }

    /// Coincidence peak at a quantile (0.5 ≤ q < 1; else the aligned current), in ampere.
    pub fn peak_a(&self, quantile: f64) -> f64 {
        self.peak_at(normal_quantile(quantile))
    }

    /// Coincidence peak `z` standard deviations above the mean, in ampere. For many frames: take
    /// `z` from [`normal_quantile`] once.
    pub fn peak_at(&self, z: f64) -> f64 {
        let peak = self.mean_a + z * self.variance_a2.max(0.0).sqrt();
        if peak < self.aligned_a {
            peak
        } else {
            self.aligned_a
        }
    }

    /// Coincidence peak corrected for skew upwards, never below [`peak_a`](Self::peak_a).
    pub fn peak_skew_corrected_a(&self, quantile: f64) -> f64 {
        let z = normal_quantile(quantile);
        let spread = self.variance_a2.max(0.0).sqrt();
        if spread == 0.0 {
            return self.peak_at(z);
        }
        let skew = (self.third_a3 / (self.variance_a2 * spread)).max(0.0);
        let peak = self.mean_a + spread * (z + skew * (z * z - 1.0) / 6.0);
        if peak < self.aligned_a {
            peak
        } else {
            self.aligned_a
        }
    }
}

/// The pairs among so many channels.
fn pairs(channels: usize) -> &'static [(usize, usize)] {
    &PAIRS[..channels * channels.saturating_sub(1) / 2]
}

/// The `z` with which a standard normal variable is at most `z` with probability `q`, for
/// 0.5 ≤ q < 1; infinite otherwise. By Newton's method on the complementary error function.
pub fn normal_quantile(q: f64) -> f64 {
    if !(0.5..1.0).contains(&q) {
        return f64::INFINITY;
    }
    let tail = 1.0 - q;
    let mut z = 0.0_f64;
    // ln of the tail is concave in z: after the first step the iteration falls to the root from
    // above without overshoot.
    for _ in 0..80 {
        let upper = 0.5 * libm::erfc(z / std::f64::consts::SQRT_2);
        let density = math::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
        let step = math::log(upper / tail) * upper / density;
        z += step;
        if step.abs() < 1e-14 * (1.0 + z) {
            break;
        }
    }
    z
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::pixel::{Channel, PixelType, Ramp};

    fn white(full_a: f64, dark_a: f64) -> PixelType {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        PixelType::new(&[Channel { full_a, ramp }; 3], dark_a, ramp).unwrap()
    }

    // SciPy's norm.ppf of the same quantiles.
    #[test]
    fn quantile_equals_the_general_purpose_library() {
        for (q, z) in [
            (0.5, 0.0),
            (0.975, 1.959963984540054),
            (0.9999, 3.719016485455709),
        ] {
            assert!(
                (normal_quantile(q) - z).abs() < 1e-12,
                "{q}: {}",
                normal_quantile(q)
            );
        }
        assert_eq!(normal_quantile(1.0), f64::INFINITY);
        assert_eq!(normal_quantile(f64::NAN), f64::INFINITY);
    }

    #[test]
    fn figures_equal_the_sums_over_channels() {
        let law = white(0.012, 0.0005);
        let levels: Vec<u8> = (0..90u8).map(|i| i.wrapping_mul(37)).collect();
        let f = PwmFigures::of_levels(&law, &levels);
        let (mut mean, mut variance, mut aligned) = (0.0005 * 30.0, 0.0, 0.0005 * 30.0);
        for level in &levels {
            let d = f64::from(*level) / 255.0;
            mean += d * 0.012;
            variance += d * (1.0 - d) * 0.012 * 0.012;
            aligned += if *level > 0 { 0.012 } else { 0.0 };
        }
        assert!((f.mean_a - mean).abs() < 1e-14 && (f.variance_a2 - variance).abs() < 1e-16);
        assert!((f.aligned_a - aligned).abs() < 1e-14);
        assert!((f.peak_a(0.9999) - (mean + 3.719016485455709 * variance.sqrt())).abs() < 1e-12);
        assert!((f.rms_a() - (mean * mean + variance).sqrt()).abs() < 1e-14);
    }

    #[test]
    fn full_on_has_no_ripple_and_dark_draws_the_dark_current() {
        let law = white(0.012, 0.0005);
        let full = PwmFigures::of_levels(&law, &[255; 30]);
        assert!(full.variance_a2.abs() < 1e-18);
        assert!((full.peak_a(0.9999) - full.aligned_a).abs() < 1e-9);
        let dark = PwmFigures::of_levels(&law, &[0; 30]);
        assert!((dark.aligned_a - 0.005).abs() < 1e-15 && (dark.mean_a - 0.005).abs() < 1e-15);
    }

    // A sum of equal independent channels is binomial: its exact quantile lies between the normal
    // one (too low when skewed) and the aligned worst case, close to the corrected one.
    #[test]
    fn skew_correction_reaches_the_exact_binomial_quantile() {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        let law = PixelType::new(&[Channel { full_a: 1.0, ramp }], 0.0, ramp).unwrap();
        for (n, level) in [(144usize, 20u8), (60, 51), (144, 128), (30, 10)] {
            let d = f64::from(level) / 255.0;
            let exact = binomial_quantile(n, d, 0.9999);
            let f = PwmFigures::of_levels(&law, &vec![level; n]);
            assert!(
                f.peak_skew_corrected_a(0.9999) >= exact - 0.75,
                "{n} {level}: {exact} {f:?}"
            );
            assert!(
                f.peak_skew_corrected_a(0.9999) <= exact + 1.5,
                "{n} {level}: {exact} {f:?}"
            );
            assert!(f.peak_a(0.9999) <= f.peak_skew_corrected_a(0.9999));
        }
    }

    fn binomial_quantile(n: usize, p: f64, q: f64) -> f64 {
        let mut term = (1.0 - p).powi(n as i32);
        let mut sum = term;
        let mut k = 0;
        while sum < q {
            term *= (n - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
            k += 1;
            sum += term;
        }
        k as f64
    }

    // Against the sum over the moments of a PWM period, counted out step by step for each pixel.
    #[test]
    fn channels_in_phase_equal_a_count_over_the_period() {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        let amps = [0.012, 0.011, 0.013, 0.018];
        for channels in 1..=4usize {
            let list: Vec<Channel> = amps[..channels]
                .iter()
                .map(|full_a| Channel {
                    full_a: *full_a,
                    ramp,
                })
                .collect();
            let law = PixelType::new(&list, 0.0, ramp).unwrap();
            let levels: Vec<u8> = (0..20 * channels).map(|i| (i * 89 % 256) as u8).collect();
            let mut variance = 0.0;
            for pixel in levels.chunks_exact(channels) {
                let at = |step: u16| -> f64 {
                    let on = |(l, a): (&u8, &f64)| if u16::from(*l) > step { *a } else { 0.0 };
                    pixel.iter().zip(&amps).map(on).sum()
                };
                let mean = (0..255).map(at).sum::<f64>() / 255.0;
                variance += (0..255).map(|s| (at(s) - mean).powi(2)).sum::<f64>() / 255.0;
            }
            let found = PwmFigures::of_levels_in_phase(&law, &levels).variance_a2;
            assert!((found / variance - 1.0).abs() < 1e-9, "{found} {variance}");
        }
    }

    #[test]
    fn channels_in_phase_have_three_times_the_spread_of_a_grey() {
        let law = white(0.01, 0.0);
        let apart = PwmFigures::of_levels(&law, &[100; 300]);
        let together = PwmFigures::of_levels_in_phase(&law, &[100; 300]);
        assert!((together.mean_a - apart.mean_a).abs() < 1e-12);
        assert!((together.variance_a2 / apart.variance_a2 - 3.0).abs() < 1e-9);
        assert!((together.aligned_a - apart.aligned_a).abs() < 1e-12);
    }
}
