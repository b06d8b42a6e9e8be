//! Text widths from the metrics of the shipped font, and shortening and wrapping by them.

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::svg::Weight;

/// The regular face, as shipped (see `assets/fonts/README.md`).
pub(crate) const REGULAR: &[u8] = include_bytes!("../../../assets/fonts/Inter-Regular-subset.otf");
/// The semi-bold face.
pub(crate) const SEMI_BOLD: &[u8] =
    include_bytes!("../../../assets/fonts/Inter-SemiBold-subset.otf");

/// Share of the font size above the baseline that capitals and digits reach (Inter's cap height, rounded up).
pub(crate) const CAP_HEIGHT: f64 = 0.73;

/// Width of a character that the font lacks, in font sizes: wide enough for most scripts.
const UNKNOWN_EM: f64 = 1.0;

/// Width of `text` in px at `size` px.
///
/// The sum of the advance widths, without kerning. Characters outside the shipped font count a full font
/// size each, so that their space is over- rather than under-estimated.
pub fn width_px(text: &str, size: f64, weight: Weight) -> f64 {
    let bytes = match weight {
        Weight::Regular => REGULAR,
        Weight::SemiBold => SEMI_BOLD,
    };
    let Ok(font) = FontRef::new(bytes) else {
        return text.chars().count() as f64 * UNKNOWN_EM * size;
    };
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let map = font.charmap();
    let ems: f64 = text
        .chars()
        .map(|ch| {
            map.map(ch)
                .and_then(|glyph| metrics.advance_width(glyph))
                .map_or(UNKNOWN_EM, f64::from)
        })
        .sum();
    ems * size
}

/// `text` if it fits `room` px, else its beginning with an ellipsis; empty if not even that fits.
pub fn shorten(text: &str, size: f64, weight: Weight, room: f64) -> String {
    if width_px(text, size, weight) <= room {
        return text.to_owned();
    }
    let chars: Vec<char> = text.chars().collect();
    // Widths grow with length, so the longest prefix that fits is found by bisection.
    let (mut fits, mut too_long) = (0, chars.len());
    while too_long - fits > 1 {
        let middle = (fits + too_long) / 2;
        if width_px(&with_ellipsis(&chars[..middle]), size, weight) <= room {
            fits = middle;
        } else {
            too_long = middle;
        }
    }
    if fits == 0 {
        return String::new();
    }
    with_ellipsis(&chars[..fits])
}

fn with_ellipsis(chars: &[char]) -> String {
    let mut text: String = chars.iter().collect::<String>().trim_end().to_owned();
    text.push('…');
    text
}

/// `text` broken at spaces into at most `max_lines` lines of at most `room` px; what is left over is cut with
/// an ellipsis on the last line.
pub fn wrap(text: &str, size: f64, weight: Weight, room: f64, max_lines: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut rest: Vec<&str> = text.split_whitespace().collect();
    while !rest.is_empty() && lines.len() < max_lines {
        let last_line = lines.len() + 1 == max_lines;
        let mut taken = 1;
        while taken < rest.len() && width_px(&rest[..=taken].join(" "), size, weight) <= room {
            taken += 1;
        }
        let line = if last_line {
            taken = rest.len();
            rest.join(" ")
        } else {
            rest[..taken].join(" ")
        };
        lines.push(shorten(&line, size, weight, room));
        rest.drain(..taken);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_are_readable_and_bold_is_wider() {
        let regular = width_px("Current 0.123 A", 12.0, Weight::Regular);
        let bold = width_px("Current 0.123 A", 12.0, Weight::SemiBold);
        assert!(regular > 60.0 && regular < 120.0, "{regular}");
        assert!(bold > regular);
        assert!(FontRef::new(REGULAR).is_ok() && FontRef::new(SEMI_BOLD).is_ok());
    }

    #[test]
    fn every_sign_that_reports_use_is_in_the_font() {
        for bytes in [REGULAR, SEMI_BOLD] {
            let map = FontRef::new(bytes).map(|font| font.charmap());
            let map = map.unwrap_or_else(|error| unreachable!("{error}"));
            for ch in "Ωµμ²³°−±×≥≤≈·→←↑↓Δ–—…✓✗⚠αβ½éüñçß".chars()
            {
                assert!(map.map(ch).is_some(), "{ch} is missing");
            }
        }
    }

    #[test]
    fn shortening_keeps_short_text_and_fits_long_text() {
        assert_eq!(shorten("cell", 12.0, Weight::Regular, 100.0), "cell");
        let short = shorten("a very long name of a strip", 12.0, Weight::Regular, 80.0);
        assert!(short.ends_with('…') && short.starts_with("a very"));
        assert!(width_px(&short, 12.0, Weight::Regular) <= 80.0);
        assert_eq!(shorten("abc", 12.0, Weight::Regular, 1.0), "");
    }

    #[test]
    fn wrapping_keeps_every_word_until_lines_run_out() {
        let text = "State of charge 100 % to 20 %, 0 °C and 40 °C, aged cell";
        let lines = wrap(text, 12.0, Weight::Regular, 150.0, 9);
        assert_eq!(lines.join(" "), text);
        assert!(lines.len() > 1);
        let two = wrap(text, 12.0, Weight::Regular, 150.0, 2);
        assert_eq!(two.len(), 2);
        assert!(two[1].ends_with('…'));
        assert!(wrap("", 12.0, Weight::Regular, 150.0, 2).is_empty());
    }
}
