//! The two standard curves between light and what a screen or an eye makes of it.

use crate::units::math;

/// Relative light of an sRGB value, both 0..1: IEC 61966-2-1, decoding.
pub fn srgb_to_light(value: f64) -> f64 {
    if value <= 0.04045 {
        value / 12.92
    } else {
        math::pow((value + 0.055) / 1.055, 2.4)
    }
}

/// The sRGB value of relative light, both 0..1: IEC 61966-2-1, encoding.
pub fn light_to_srgb(light: f64) -> f64 {
    if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * math::pow(light, 1.0 / 2.4) - 0.055
    }
}

/// CIE 1976 lightness L*, 0..100, of relative luminance, 0..1 (ISO/CIE 11664-4).
pub fn lightness(relative: f64) -> f64 {
    if relative > math::powi(6.0_f64 / 29.0, 3) {
        116.0 * math::cbrt(relative) - 16.0
    } else {
        math::powi(29.0_f64 / 3.0, 3) * relative.max(0.0)
    }
}
