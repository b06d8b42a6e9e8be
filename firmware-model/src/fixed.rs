//! Fixed-point arithmetic on 16-bit fractions: 0 is 0, 65535 is 1.

use serde::{Deserialize, Serialize};

/// A share of a whole: 0 is nothing, 65535 everything.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Share(
    /// 65535 times the share.
    pub u16,
);

impl Share {
    /// Nothing.
    pub const NONE: Share = Share(0);
    /// Half, to the nearest step.
    pub const HALF: Share = Share(32768);
    /// Everything.
    pub const FULL: Share = Share(65535);

    /// A share in per cent, rounded to the nearest step; above 100 counts as 100.
    #[must_use]
    pub const fn from_percent(percent: u8) -> Share {
        let percent = if percent > 100 { 100 } else { percent as u32 };
        Share(((percent * 65535 + 50) / 100) as u16)
    }
}

/// A size along a strip in sixteenths of a pixel pitch, 0..=4095.9 pixels.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Length(
    /// Sixteen times the size in pixel pitches.
    pub u16,
);

impl Length {
    /// A size in whole pixels; above 4095 counts as 4095.
    #[must_use]
    pub const fn from_pixels(pixels: u16) -> Length {
        Length(if pixels > 4095 { 4095 } else { pixels } * 16)
    }
}

/// A signed angle: 1 is 180°/32768, so −32768 is minus half a turn.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Angle(
    /// 32768 times the angle in half turns.
    pub i16,
);

impl Angle {
    /// An angle in degrees, −180..=180; outside counts as the nearer bound. +180° is rounded down
    /// to the largest angle there is.
    #[must_use]
    pub const fn from_degrees(degrees: i16) -> Angle {
        let degrees = match degrees {
            ..=-180 => -180,
            180.. => 180,
            _ => degrees,
        };
        let raw = degrees as i32 * 32768 / 180;
        Angle(if raw > 32767 { 32767 } else { raw as i16 })
    }

    /// The angle either way, as a share of half a turn.
    #[must_use]
    pub const fn magnitude(self) -> Share {
        let double = self.0.unsigned_abs() as u32 * 2;
        Share(if double > 65534 { 65535 } else { double as u16 })
    }

    /// Where the angle lies between minus half a turn (0) and plus half a turn (full).
    #[must_use]
    pub const fn place(self) -> Share {
        Share((self.0 as u16) ^ 0x8000)
    }
}

/// Whether the machine is a host with vector units, that works on a group of pixels at a time, with
/// products in two halves of 16 bits. A small core works faster pixel by pixel and with all 32 bits.
/// The values are the same.
pub(crate) const VECTORS: bool = cfg!(target_pointer_width = "64");

/// The upper and lower half of `a · b`.
#[inline(always)]
const fn product(a: u16, b: u16) -> (u16, u16) {
    // Two products, not one taken apart: that is the pair of instructions a vector unit has.
    ((((a as u32) * (b as u32)) >> 16) as u16, a.wrapping_mul(b))
}

/// `n / 65535` to the nearest, for `n` up to 65535².
#[inline(always)]
const fn unit(n: u32) -> u16 {
    let n = n + 0x8000;
    ((n + (n >> 16)) >> 16) as u16
}

/// The same, for `n` in two halves.
#[inline(always)]
const fn unit_of_halves(high: u16, low: u16) -> u16 {
    // Add 0x8000 to the lower half, then the upper half to the lower, with the carries.
    let high = high.wrapping_add(low >> 15);
    let low = low ^ 0x8000;
    high.wrapping_add((low.wrapping_add(high) < high) as u16)
}

/// `a · b` of two fractions, rounded to the nearest step. Full times `a` is `a`, zero times `a` is
/// zero, and the product is monotone in both.
#[inline(always)]
#[must_use]
pub const fn scale(a: u16, b: u16) -> u16 {
    if VECTORS {
        let (high, low) = product(a, b);
        unit_of_halves(high, low)
    } else {
        unit(a as u32 * b as u32)
    }
}

/// `a · b / 65536`, rounded to the nearest: cheaper than [`scale`], and less than it by up to one
/// step.
#[inline(always)]
pub(crate) const fn scale_65536(a: u16, b: u16) -> u16 {
    if VECTORS {
        let (high, low) = product(a, b);
        high.wrapping_add(low >> 15)
    } else {
        // At most 65535² + 0x8000, which fits.
        ((a as u32 * b as u32 + 0x8000) >> 16) as u16
    }
}

/// From `a` (at `t` = 0) to `b` (at `t` = 65535), rounded to the nearest step. Exact at both ends,
/// monotone in `t`, and `lerp(a, a, t)` is `a`.
#[inline(always)]
#[must_use]
pub const fn lerp(a: u16, b: u16, t: u16) -> u16 {
    if VECTORS {
        let (high_a, low_a) = product(a, !t);
        let (high_b, low_b) = product(b, t);
        let low = low_a.wrapping_add(low_b);
        let carry = (low < low_a) as u16;
        unit_of_halves(high_a.wrapping_add(high_b).wrapping_add(carry), low)
    } else {
        Way::new(a, b).at(t)
    }
}

/// A way from one value to another, set up once so that each place on it costs one multiplication.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Way {
    /// 65535 times the start.
    start: u32,
    /// From start to end, modulo 2³².
    step: u32,
}

impl Way {
    #[inline(always)]
    pub(crate) const fn new(from: u16, to: u16) -> Way {
        Way {
            start: ((from as u32) << 16) - from as u32,
            step: (to as u32).wrapping_sub(from as u32),
        }
    }

    /// [`lerp`] from the start to the end.
    #[inline(always)]
    pub(crate) const fn at(self, t: u16) -> u16 {
        // a·(65535 − t) + b·t, which is at most 65535².
        unit(self.start.wrapping_add(self.step.wrapping_mul(t as u32)))
    }
}

/// `3t² − 2t³`: a ramp that starts and ends level. Exact at both ends, symmetric, within 2 steps
/// of the formula.
#[inline(always)]
#[must_use]
pub const fn smoothstep(t: u16) -> u16 {
    // As a blend of t² and 1 − (1 − t)², which cannot overflow whatever the rounding.
    lerp(scale_65536(t, t), !scale_65536(!t, !t), t)
}

/// `(1 − cos 2πp) / 2`: a sine between 0 and 65535 that starts at its lowest point, for a phase
/// `p` of which 65536 is one turn.
///
/// Half a turn up and half a turn down, each by the polynomial
/// `sin(πx/2) ≈ x·(a − b·x² + c·x⁴)`; within 12 steps of 65535 of the true value (tested).
#[inline(always)]
#[must_use]
pub const fn wave_sine(phase: u16) -> u16 {
    let up = wave_triangle(phase);
    // Distance from the middle, as a fraction of half the height; sign kept apart.
    let above = up >= 0x8000;
    let x = (if above { up - 0x8000 } else { 0x7fff - up }) << 1 | 1;
    let half = quarter_sine(x) >> 1;
    if above {
        0x8000 + half
    } else {
        0x7fff - half
    }
}

/// `sin(πx/2)` for a fraction `x`.
#[inline(always)]
const fn quarter_sine(x: u16) -> u16 {
    // sin(πx/2) = x·(π/2 − x²·(π³/48 − x²·c)), with c set so that sin(π/2) = 1 and the middle
    // coefficient shifted for the least error: a = 1.570 602, b = 0.643 240, c = 0.072 614.
    const A_LESS_1: u16 = 37395; // 0.570602
    const B: u16 = 42155; // 0.643240
    const C: u16 = 4759; // 0.072614
    let square = scale_65536(x, x);
    let inner = B.wrapping_sub(scale_65536(square, C));
    let less = scale_65536(x, scale_65536(square, inner));
    // The sum with `x` is below 1: the coefficients together are 0.999 98.
    x.wrapping_add(scale_65536(x, A_LESS_1).wrapping_sub(less))
}

/// Up from 0 to 65535 in the first half turn, down again in the second; 65536 is one turn.
#[inline(always)]
#[must_use]
pub const fn wave_triangle(phase: u16) -> u16 {
    // The sign bit as a mask that turns the second half round: no branch.
    let fold = ((phase as i16) >> 15) as u16;
    let up = phase ^ fold; // 0..=32767
    up << 1 | up >> 14
}

/// `part / whole` as a fraction, rounded down; full if `part` is `whole` or more, or `whole` is 0.
/// Wholes above 65535 lose their lowest bits.
#[must_use]
pub const fn fraction(part: u32, whole: u32) -> u16 {
    if part >= whole {
        return u16::MAX;
    }
    let drop = 16u32.saturating_sub(whole.leading_zeros());
    match ((part >> drop) << 16).checked_div(whole >> drop) {
        Some(share) if share <= 65535 => share as u16,
        _ => u16::MAX,
    }
}

/// The phase of something that repeats every `period`, after `elapsed` (same unit): 65536 is one
/// turn. A period of 0 stands still at 0.
#[must_use]
pub const fn phase(elapsed: u32, period: u32) -> u16 {
    match elapsed.checked_rem(period) {
        Some(rest) => fraction(rest, period),
        None => 0,
    }
}

/// A straight ramp from 0 at 0 to full at `width` and beyond, set up once so that each value costs
/// one multiplication.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ramp {
    width: u16,
    gain: u16,
    shift: u8,
}

impl Ramp {
    /// A step: 0 at 0, full from 1.
    pub(crate) const STEP: Ramp = Ramp::new(0);

    /// A ramp of that width; a width of 0 is a step: 0 at 0, full from 1.
    #[must_use]
    pub const fn new(width: u16) -> Ramp {
        let width = if width == 0 { 1 } else { width };
        let shift = width.leading_zeros() as u8;
        // 32768..=65535; the highest bit is set already, and so the compiler knows it too.
        let tall = (width << shift) as u32 | 0x8000;
        Ramp {
            width,
            gain: ((65535 << 15) / tall) as u16, // 32768..=65535
            shift,
        }
    }

    /// What [`Ramp::with_slope`] needs besides the width: it is kept where memory is short.
    pub(crate) const fn slope(self) -> (u16, u8) {
        (self.gain, self.shift)
    }

    /// The ramp of that width whose slope was worked out before.
    #[inline(always)]
    pub(crate) const fn with_slope(width: u16, (gain, shift): (u16, u8)) -> Ramp {
        let width = if width == 0 { 1 } else { width };
        // The shift of a width of 16 bits is below 16.
        let shift = shift & 15;
        Ramp { width, gain, shift }
    }

    /// The value at a distance: `distance / width`, within 2 steps below, monotone.
    #[inline(always)]
    #[must_use]
    pub const fn at(self, distance: u16) -> u16 {
        let inside = if distance < self.width { distance } else { 0 };
        let rise = (((inside << self.shift) as u32 * self.gain as u32) >> 15) as u16;
        if distance < self.width {
            rise
        } else {
            65535
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::f64::consts::PI;

    /// A spread of values that holds the ends and no short cycle.
    fn spread() -> impl Iterator<Item = u16> + Clone {
        (0..=65535u16)
            .step_by(509)
            .chain([1, 2, 32767, 32768, 65533, 65534, 65535])
    }

    #[test]
    fn products_are_rounded_to_the_nearest() {
        for a in 0..=65535u16 {
            for b in [0u16, 1, 2, 255, 32767, 32768, 40503, 65534, 65535] {
                let exact = (u64::from(a) * u64::from(b) * 2 + 65535) / (2 * 65535);
                assert_eq!(u64::from(scale(a, b)), exact, "{a} {b}");
            }
        }
    }

    #[test]
    fn both_ways_from_value_to_value_agree() {
        for a in spread().step_by(3) {
            for b in spread().step_by(3) {
                for t in spread() {
                    assert_eq!(Way::new(a, b).at(t), lerp(a, b, t), "{a} {b} {t}");
                }
            }
        }
    }

    #[test]
    fn both_ways_to_round_a_product_agree() {
        for a in spread() {
            for b in 0..=65535u16 {
                let (high, low) = product(a, b);
                assert_eq!(unit_of_halves(high, low), unit(u32::from(a) * u32::from(b)));
            }
        }
        // Every upper half, and the lower halves about each carry.
        for high in 0..=65534u16 {
            for low in [
                0,
                1,
                0x7fff,
                0x8000,
                0x8001,
                0xfffe,
                0xffff,
                !high,
                !high ^ 0x8000,
            ] {
                let n = u32::from(high) << 16 | u32::from(low);
                if n <= 65535 * 65535 {
                    assert_eq!(unit_of_halves(high, low), unit(n), "{high} {low}");
                }
            }
        }
    }

    #[test]
    fn lerp_is_rounded_to_the_nearest_and_exact_at_its_ends() {
        for a in spread() {
            for b in spread() {
                assert_eq!(lerp(a, b, 0), a);
                assert_eq!(lerp(a, b, 65535), b);
                assert_eq!(lerp(a, a, b), a);
                for t in spread() {
                    let n = u64::from(a) * u64::from(65535 - t) + u64::from(b) * u64::from(t);
                    assert_eq!(u64::from(lerp(a, b, t)), (n * 2 + 65535) / (2 * 65535));
                }
            }
        }
    }

    #[test]
    fn smoothstep_is_near_its_formula_and_symmetric() {
        for t in 0..=65535u16 {
            let x = f64::from(t) / 65535.0;
            let exact = (3.0 * x * x - 2.0 * x * x * x) * 65535.0;
            assert!((f64::from(smoothstep(t)) - exact).abs() <= 2.0, "{t}");
            assert_eq!(smoothstep(!t), !smoothstep(t), "{t}");
        }
        assert_eq!((smoothstep(0), smoothstep(65535)), (0, 65535));
    }

    #[test]
    fn sine_is_within_its_stated_error() {
        let mut worst = 0.0f64;
        for p in 0..=65535u16 {
            // A phase step stands for its own middle, so that the wave is symmetric.
            let x = (f64::from(p) + 0.5) / 65536.0;
            let exact = (1.0 - (2.0 * PI * x).cos()) / 2.0 * 65535.0;
            worst = worst.max((f64::from(wave_sine(p)) - exact).abs());
        }
        assert!(worst <= 12.0, "{worst}");
        std::println!("sine: worst error {worst:.2} steps of 65535");
        assert!(wave_sine(0) < 12 && wave_sine(32768) > 65523);
    }

    #[test]
    fn triangle_goes_up_and_down_without_a_jump() {
        assert_eq!((wave_triangle(0), wave_triangle(65535)), (0, 0));
        for p in 0..65535u16 {
            assert!(wave_triangle(p).abs_diff(wave_triangle(p + 1)) <= 3, "{p}");
        }
        assert!(wave_triangle(32767) >= 65534 && wave_triangle(32768) >= 65534);
    }

    #[test]
    fn fractions_and_phases() {
        assert_eq!(fraction(0, 1000), 0);
        assert_eq!(fraction(500, 1000), 32768);
        assert_eq!(fraction(1000, 1000), 65535);
        assert_eq!(fraction(0, 0), 65535);
        for whole in [1u32, 3, 65535, 65536, 65537, 3_600_000, 1 << 30] {
            let mut before = 0;
            for k in 0..=1000 {
                let part = (u64::from(whole) * k / 1000) as u32;
                let got = fraction(part, whole);
                let exact = u64::from(part) * 65536 / u64::from(whole);
                assert!(
                    u64::from(got).abs_diff(exact) <= 2,
                    "{part}/{whole}: {got} {exact}"
                );
                assert!(got >= before);
                before = got;
            }
        }
        assert_eq!(phase(2500, 1000), 32768);
        assert_eq!(phase(2500, 0), 0);
    }

    #[test]
    fn ramps_are_straight_monotone_and_reach_both_ends() {
        for width in spread() {
            let ramp = Ramp::new(width);
            let w = width.max(1);
            assert_eq!(ramp.at(0), 0);
            assert_eq!(ramp.at(w), 65535);
            assert_eq!(ramp.at(65535), 65535);
            let mut before = 0;
            for d in (0..w).step_by(usize::from(w / 256).max(1)) {
                let exact = u32::from(d) * 65535 / u32::from(w);
                let got = u32::from(ramp.at(d));
                assert!(got <= exact && exact <= got + 2, "{d}/{w}: {got} {exact}");
                assert!(got >= before);
                before = got;
            }
        }
    }

    #[test]
    fn units_convert() {
        assert_eq!(Share::from_percent(100), Share::FULL);
        assert_eq!(Share::from_percent(50), Share::HALF);
        assert_eq!(Length::from_pixels(3), Length(48));
        assert_eq!(Length::from_pixels(5000), Length(65520));
        assert_eq!(Angle::from_degrees(90), Angle(16384));
        assert_eq!(Angle::from_degrees(400), Angle(32767));
        assert_eq!(Angle::from_degrees(-400), Angle(-32768));
    }
}
