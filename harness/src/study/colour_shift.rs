//! What a starved pixel does to a colour.
//!
//! The channels of a pixel lose current at different supplies: green and blue first, red last. What remains of a colour
//! that drives all lit channels alike is compared with that colour at ample supply: by the distance in the CIE 1976 u′v′
//! diagram, which is about hue alone, and by CIEDE2000, which counts the loss of light too.
//!
//! The channels are taken as the primaries of linear sRGB and white as all three together, as the flash check does: real
//! emitters are more saturated, so real shifts are somewhat larger.

use crate::units::math;
use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{FromColor, Lab, LinSrgb, Xyz};
use serde::Serialize;

/// Where along a strip a channel loses current.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelFall {
    /// The channel.
    pub channel: &'static str,
    /// First pixel, counted from 0, that does not get its full current; `None` where all do.
    pub from_pixel: Option<u32>,
    /// Last one that does not.
    pub to_pixel: Option<u32>,
    /// Share of its current that the worst pixel keeps, 0..1.
    pub kept: f64,
}

/// What a strip's supply does to its colour in one moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FallOff {
    /// Each lit channel.
    pub channels: Vec<ChannelFall>,
    /// Distance in the CIE 1976 u′v′ diagram between the colour at ample supply and at the worst pixel; `None` where
    /// nothing is left of it.
    pub delta_uv: Option<f64>,
    /// CIEDE2000 difference of the same.
    pub delta_e2000: f64,
}

/// Where a channel with these thresholds falls off along a strip.
pub fn channel_fall(
    channel: &'static str,
    off_v: f64,
    full_v: f64,
    supply_v: &[f64],
) -> ChannelFall {
    let starved = |v: &f64| *v < full_v;
    let worst = supply_v.iter().copied().fold(f64::INFINITY, f64::min);
    let pixel = |i: usize| u32::try_from(i).unwrap_or(u32::MAX);
    ChannelFall {
        channel,
        from_pixel: supply_v.iter().position(starved).map(pixel),
        to_pixel: supply_v.iter().rposition(starved).map(pixel),
        kept: ((worst - off_v) / (full_v - off_v)).clamp(0.0, 1.0),
    }
}

/// The shift of a colour that drives each of these channels fully, each keeping its share.
pub fn fall_off(channels: Vec<ChannelFall>) -> FallOff {
    let mix = |share: &dyn Fn(&ChannelFall) -> f64| {
        let mut rgb = [0.0; 3];
        for channel in &channels {
            let s = share(channel);
            match channel.channel {
                "red" => rgb[0] += s,
                "green" => rgb[1] += s,
                "blue" => rgb[2] += s,
                _ => rgb.iter_mut().for_each(|c| *c += s),
            }
        }
        rgb
    };
    let (full, left) = (mix(&|_| 1.0), mix(&|c| c.kept));
    let most = full.iter().copied().fold(0.0, f64::max).max(1e-12);
    let colour = |[r, g, b]: [f64; 3]| LinSrgb::new(r / most, g / most, b / most);
    let (full, left) = (colour(full), colour(left));
    let lab = |c: LinSrgb<f64>| Lab::<D65, f64>::from_color(c);
    let distance = match (chromaticity(full), chromaticity(left)) {
        (Some(a), Some(b)) => Some(math::hypot(a.0 - b.0, a.1 - b.1)),
        _ => None,
    };
    FallOff {
        delta_uv: distance,
        delta_e2000: lab(full).difference(lab(left)),
        channels,
    }
}

/// CIE 1976 u′ and v′ (ISO/CIE 11664-5): `u′ = 4X/(X+15Y+3Z)`, `v′ = 9Y/(X+15Y+3Z)`; `None` for black.
fn chromaticity(colour: LinSrgb<f64>) -> Option<(f64, f64)> {
    let xyz = Xyz::<D65, f64>::from_color(colour);
    let sum = xyz.x + 15.0 * xyz.y + 3.0 * xyz.z;
    (sum > 1e-9).then(|| (4.0 * xyz.x / sum, 9.0 * xyz.y / sum))
}

impl FallOff {
    /// In words, for a strip of so many pixels.
    pub fn words(&self, pixels: u32) -> String {
        let each: Vec<String> = self
            .channels
            .iter()
            .map(|c| match (c.from_pixel, c.to_pixel) {
                (Some(a), Some(b)) if a == b => format!("{} falls off at pixel {a}", c.channel),
                (Some(a), Some(b)) => format!("{} falls off from pixel {a} to {b}", c.channel),
                _ => format!("{} nowhere", c.channel),
            })
            .collect();
        let shift = match self.delta_uv {
            Some(d) => format!(
                "full drive there shifts by {d:.3} in u′v′ (0.004 is just seen, common practice) and {:.0} in CIEDE2000",
                self.delta_e2000
            ),
            None => "nothing is left of the colour there".to_owned(),
        };
        format!("of {pixels} pixels {}; {shift}", each.join(", "))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    // Chromaticities of the primaries and white of IEC 61966-2-1, x and y turned into u′v′: red 0.4507 0.5229, green
    // 0.1250 0.5625, blue 0.1754 0.1579, D65 0.1978 0.4683.
    #[test]
    fn chromaticities_are_those_of_the_standard() {
        for (rgb, u, v) in [
            ([1.0, 0.0, 0.0], 0.4507, 0.5229),
            ([0.0, 1.0, 0.0], 0.1250, 0.5625),
            ([0.0, 0.0, 1.0], 0.1754, 0.1579),
            ([1.0, 1.0, 1.0], 0.1978, 0.4683),
        ] {
            let (fu, fv) = chromaticity(LinSrgb::new(rgb[0], rgb[1], rgb[2])).unwrap();
            assert!((fu - u).abs() < 3e-4 && (fv - v).abs() < 3e-4, "{fu} {fv}");
        }
        assert!(chromaticity(LinSrgb::new(0.0, 0.0, 0.0)).is_none());
    }

    #[test]
    fn an_ample_supply_shifts_nothing_and_a_poor_one_turns_white_red() {
        let of = |supply: &[f64]| {
            fall_off(vec![
                channel_fall("red", 1.8, 2.4, supply),
                channel_fall("green", 2.6, 3.6, supply),
                channel_fall("blue", 2.6, 3.6, supply),
            ])
        };
        let ample = of(&[4.0, 3.9, 3.8]);
        assert!(ample.delta_uv.unwrap() < 1e-12 && ample.delta_e2000 < 1e-9);
        assert_eq!(ample.channels[1].from_pixel, None);
        let poor = of(&[3.8, 3.5, 3.1, 3.5]);
        assert_eq!(
            (poor.channels[1].from_pixel, poor.channels[1].to_pixel),
            (Some(1), Some(3))
        );
        assert!((poor.channels[1].kept - 0.5).abs() < 1e-12);
        assert_eq!(poor.channels[0].from_pixel, None);
        let worse = of(&[2.7]);
        assert!(worse.delta_uv.unwrap() > poor.delta_uv.unwrap());
        // Green and blue gone: what is left is the red primary, 0.2587 away from white.
        let red = of(&[2.55]);
        assert!((red.delta_uv.unwrap() - 0.2587).abs() < 1e-3);
        assert!(of(&[1.0]).delta_uv.is_none());
        assert!(poor.words(4).contains("green falls off from pixel 1 to 3"));
    }
}
