//! The transfer curve: from the values a preset works in to the drive level of a channel.
//!
//! A drive level is a duty cycle, and the light of an LED channel is its duty cycle times its full
//! light: the light of a pixel is linear in its drive level. The eye is not: equal steps of
//! lightness need small steps of light when dark and large ones when bright.

use serde::{Deserialize, Serialize};

use crate::fixed::scale_65536;

/// What the values of a preset mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Transfer {
    /// Values are light: half is half the light and half the drive level.
    Linear,
    /// Values are CIE 1976 lightness of the channel against its own full light (65535 is
    /// L\* = 100): half looks half as bright and is 18.4 % of the light.
    #[default]
    Lightness,
}

impl Transfer {
    /// Drive level 0..=65535 for a value 0..=65535. Monotone; 0 gives 0, 65535 gives 65535.
    #[inline(always)]
    #[must_use]
    pub const fn drive(self, value: u16) -> u16 {
        match self {
            Transfer::Linear => value,
            Transfer::Lightness => lightness_to_light(value),
        }
    }
}

/// Relative luminance Y/Yn of a lightness, both as fractions.
///
/// ISO/CIE 11664-4: `Y/Yn = ((L* + 16) / 116)³` above L\* = 8, `L* · (3/29)³` below. Within 3 steps
/// of 65535 of the formula (tested).
#[inline(always)]
#[must_use]
pub const fn lightness_to_light(lightness: u16) -> u16 {
    // L* = 8 is where the straight piece meets the cube.
    const KNEE: u16 = 5243; // 8/100 · 65535, rounded
    const SIXTEEN_OF_116: u16 = 9039; // 16/116 · 65535, rounded down
    const HUNDRED_OF_116: u16 = 56497; // 100/116 · 65536, rounded up
    const SLOPE: u16 = 7255; // 100 · (3/29)³ · 65536
    let root = SIXTEEN_OF_116.wrapping_add(scale_65536(lightness, HUNDRED_OF_116));
    let cube = scale_65536(scale_65536(root, root), root);
    // Each product is of 65536 instead of 65535; this makes up for it.
    let cube = cube.saturating_add(1 + (cube >> 15));
    let straight = scale_65536(lightness, SLOPE);
    if lightness > KNEE {
        cube
    } else {
        straight
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO/CIE 11664-4, in floating point and written out anew.
    fn reference(l_star: f64) -> f64 {
        if l_star > 8.0 {
            let root = (l_star + 16.0) / 116.0;
            root * root * root
        } else {
            l_star * 27.0 / 24389.0
        }
    }

    #[test]
    fn lightness_follows_the_standard_at_every_value() {
        for value in 0..=65535u16 {
            let exact = reference(f64::from(value) / 65535.0 * 100.0) * 65535.0;
            let got = f64::from(lightness_to_light(value));
            assert!((got - exact).abs() <= 3.0, "{value}: {got} {exact}");
        }
    }

    #[test]
    fn middle_lightness_is_18_percent_of_the_light() {
        // L* = 50 is Y = 18.42 %: the well-known middle grey (CIE 15, tables; from memory).
        let share = f64::from(lightness_to_light(32768)) / 65535.0;
        assert!((share - 0.1842).abs() < 0.0001, "{share}");
    }

    #[test]
    fn curves_are_monotone_and_reach_both_ends() {
        for curve in [Transfer::Linear, Transfer::Lightness] {
            assert_eq!(curve.drive(0), 0);
            assert_eq!(curve.drive(65535), 65535);
            for value in 0..65535u16 {
                assert!(curve.drive(value) <= curve.drive(value + 1), "{value}");
            }
        }
    }
}
