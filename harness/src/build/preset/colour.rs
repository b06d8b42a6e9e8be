//! Colours: from `"#rrggbb"` or channel shares to the model's 16-bit values and back.
//!
//! `"#rrggbb"` is a colour of IEC 61966-2-1 (sRGB): each pair of digits is decoded to linear light,
//! and the channel gives that share of its full light, whatever the preset's transfer. With the
//! linear transfer the model's value is that light; with the lightness transfer it is the CIE 1976
//! lightness of that light (ISO/CIE 11664-4), which the engine turns back into the light. So the
//! transfer changes how colours mix and fade, not what a colour looks like by itself.
//!
//! The primaries of a strip are not those of sRGB and nothing is converted between them: a colour
//! looks more saturated on the strip than on a screen, and its white is the strip's own.

use super::value::share;
use crate::units::light::{lightness, srgb_to_light};
use lampwright_model::curve::Transfer;
use lampwright_model::Color;

/// The model's value of two hex digits.
pub(super) fn channel(byte: u8, transfer: Transfer) -> u16 {
    let light = srgb_to_light(f64::from(byte) / 255.0);
    let value = match transfer {
        Transfer::Linear => light,
        Transfer::Lightness => lightness(light) / 100.0,
    };
    (value * 65535.0).round() as u16
}

/// The two hex digits that stand for exactly this value.
fn byte_of(value: u16, transfer: Transfer) -> Option<u8> {
    (0..=u8::MAX).find(|b| channel(*b, transfer) == value)
}

/// Reads `"#rrggbb"`.
pub(super) fn parse_hex(text: &str, transfer: Transfer) -> Result<Color, String> {
    let Some(digits) = text.strip_prefix('#') else {
        return Err("a colour starts with #".into());
    };
    if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(match digits.len() {
            3 => "write each digit twice: six hex digits after the #".into(),
            8 => "six hex digits after the #; how much of the layer shows is its `opacity`".into(),
            _ => "not six hex digits after the #".into(),
        });
    }
    let value = u32::from_str_radix(digits, 16).map_err(|e| e.to_string())?;
    let [_, r, g, b] = value.to_be_bytes();
    Ok(Color::rgb(
        channel(r, transfer),
        channel(g, transfer),
        channel(b, transfer),
    ))
}

/// A colour as a TOML value; reads back exactly.
pub(super) fn write(color: Color, transfer: Transfer) -> String {
    let bytes = [color.r, color.g, color.b].map(|v| byte_of(v, transfer));
    let hex = match bytes {
        [Some(r), Some(g), Some(b)] => Some(format!("\"#{r:02x}{g:02x}{b:02x}\"")),
        _ => None,
    };
    match (hex, color.w) {
        (Some(hex), 0) => hex,
        (Some(hex), w) => format!("{{ rgb = {hex}, white = \"{}\" }}", share(w)),
        (None, w) => {
            let [r, g, b] = [color.r, color.g, color.b].map(share);
            let white = match w {
                0 => String::new(),
                w => format!(", white = \"{}\"", share(w)),
            };
            format!("{{ red = \"{r}\", green = \"{g}\", blue = \"{b}\"{white} }}")
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use lampwright_model::curve::lightness_to_light;

    #[test]
    fn hex_follows_iec_61966_2_1() {
        // Worked values of the standard's decoding formula: 0x80 -> 0.2158605, 0x0a -> 0.0030353,
        // 0xbc -> 0.5028865 (from memory; the formula is in IEC 61966-2-1, 5.2).
        let light = |b| f64::from(channel(b, Transfer::Linear)) / 65535.0;
        assert!((light(0x80) - 0.215_860_5).abs() < 1e-5);
        assert!((light(0x0a) - 0.003_035_3).abs() < 1e-5);
        assert!((light(0xbc) - 0.502_886_5).abs() < 1e-5);
        assert_eq!(channel(0, Transfer::Linear), 0);
        assert_eq!(channel(255, Transfer::Linear), 65535);
        assert_eq!(channel(255, Transfer::Lightness), 65535);
    }

    #[test]
    fn a_hex_colour_gives_the_same_light_under_both_transfers() {
        for byte in 0..=u8::MAX {
            let linear = channel(byte, Transfer::Linear);
            let through = lightness_to_light(channel(byte, Transfer::Lightness));
            assert!(linear.abs_diff(through) <= 4, "{byte}: {linear} {through}");
        }
    }

    #[test]
    fn every_byte_is_found_again() {
        for transfer in [Transfer::Linear, Transfer::Lightness] {
            for byte in 0..=u8::MAX {
                assert_eq!(byte_of(channel(byte, transfer), transfer), Some(byte));
            }
        }
    }

    #[test]
    fn bad_colours_say_why() {
        let says = |t| parse_hex(t, Transfer::Linear).unwrap_err();
        assert!(says("ff8800").contains("starts with #"));
        assert!(says("#f80").contains("twice"));
        assert!(says("#ff8800ff").contains("opacity"));
        assert!(says("#ff88zz").contains("hex digits"));
        assert!(says("#éééé").contains("hex digits"));
    }
}
