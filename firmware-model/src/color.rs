//! Colour as 16-bit light values, and the white channel.

use serde::{Deserialize, Serialize};

use crate::fixed::{scale, Share};

/// The channels of a pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Channels {
    /// Red, green, blue.
    #[default]
    Rgb,
    /// Red, green, blue, white.
    Rgbw,
}

impl Channels {
    /// Number of channels, 3 or 4.
    #[must_use]
    pub const fn count(self) -> usize {
        match self {
            Channels::Rgb => 3,
            Channels::Rgbw => 4,
        }
    }
}

/// A colour: one value per channel, 0..=65535.
///
/// What a value means is set by the preset's [`Transfer`](crate::curve::Transfer): a share of the
/// channel's full light, or a share of its full lightness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Color {
    /// Red, 0..=65535.
    pub r: u16,
    /// Green, 0..=65535.
    pub g: u16,
    /// Blue, 0..=65535.
    pub b: u16,
    /// White, 0..=65535; must be 0 in a preset for RGB pixels.
    pub w: u16,
}

impl Color {
    /// No light.
    pub const BLACK: Color = Color::rgb(0, 0, 0);
    /// Red, green and blue full on.
    pub const WHITE: Color = Color::rgb(65535, 65535, 65535);

    /// A colour from red, green and blue, each 0..=65535.
    #[must_use]
    pub const fn rgb(r: u16, g: u16, b: u16) -> Self {
        Self { r, g, b, w: 0 }
    }

    /// A colour from all four channels, each 0..=65535.
    #[must_use]
    pub const fn rgbw(r: u16, g: u16, b: u16, w: u16) -> Self {
        Self { r, g, b, w }
    }

    /// A colour from 8-bit values, 255 being full.
    #[must_use]
    pub const fn from_bytes(r: u8, g: u8, b: u8, w: u8) -> Self {
        Self {
            r: r as u16 * 257,
            g: g as u16 * 257,
            b: b as u16 * 257,
            w: w as u16 * 257,
        }
    }

    /// The values in the order R, G, B, W.
    #[must_use]
    pub const fn to_array(self) -> [u16; 4] {
        [self.r, self.g, self.b, self.w]
    }

    /// A colour from values in the order R, G, B, W.
    #[must_use]
    pub const fn from_array([r, g, b, w]: [u16; 4]) -> Self {
        Self { r, g, b, w }
    }
}

/// Moves the part that red, green and blue have in common to the white channel.
///
/// With `m = min(R, G, B)` and `f` the share to move: `R, G, B -= f·m`, `W += f·m` up to full.
/// Where W would pass full, only what still fits is moved, so nothing is lost.
///
/// One unit of white stands for one unit each of red, green and blue. The colour temperature and
/// the efficacy of the white emitter are not modelled: a white of another tint shifts the colour,
/// and whoever wants the emitter alone sets `w` in the preset and moves nothing.
#[must_use]
pub fn extract_white([r, g, b, w]: [u16; 4], share: Share) -> [u16; 4] {
    let common = r.min(g).min(b);
    let moved = scale(common, share.0).min(u16::MAX - w);
    [r - moved, g - moved, b - moved, w + moved]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extraction_keeps_the_sum_of_each_primary_and_white() {
        for share in [0u16, 1, 20_000, 65_534, 65_535] {
            for color in [[65535, 30000, 100, 0], [9, 9, 9, 65530], [65535; 4], [0; 4]] {
                let out = extract_white(color, Share(share));
                for c in 0..3 {
                    let sum = |x: [u16; 4]| u32::from(x[c]) + u32::from(x[3]);
                    assert_eq!(sum(color), sum(out));
                }
            }
        }
    }

    #[test]
    fn full_extraction_leaves_one_primary_dark() {
        assert_eq!(
            extract_white([65535, 30000, 100, 0], Share::FULL),
            [65435, 29900, 0, 100]
        );
        // Neutral white needs the white emitter alone.
        assert_eq!(
            extract_white([5000, 5000, 5000, 0], Share::FULL),
            [0, 0, 0, 5000]
        );
        // A saturated colour has nothing in common.
        assert_eq!(
            extract_white([65535, 0, 9, 0], Share::FULL),
            [65535, 0, 9, 0]
        );
    }

    #[test]
    fn no_extraction_changes_nothing() {
        assert_eq!(extract_white([7, 8, 9, 10], Share(0)), [7, 8, 9, 10]);
    }
}
