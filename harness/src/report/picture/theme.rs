//! Colours, dash patterns and type sizes of every picture.
//!
//! Series colours are the darker members of the Okabe-Ito palette (Okabe and Ito, Color Universal Design,
//! 2008) and two darkened ones, so that each has at least 3:1 contrast on white (WCAG 2.2 SC 1.4.11); each
//! also has its own dash pattern, so that the picture can be read in greyscale. Text is at least 4.5:1
//! (WCAG 2.2 SC 1.4.3) on every background it is drawn on; a test computes both.

/// Family list of every text: the shipped font first, then wide-spread ones no wider than it.
pub(crate) const FONT_FAMILY: &str =
    "Inter, 'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif";

/// The named colours of a picture, as `#rrggbb`.
#[derive(Debug, Clone, Copy)]
pub struct Theme;

impl Theme {
    /// Background of the picture.
    pub const PAPER: &'static str = "#ffffff";
    /// Titles, names, values.
    pub const INK: &'static str = "#1b1f24";
    /// Secondary text: axis numbers, details, footers.
    pub const MUTED: &'static str = "#545c66";
    /// Grid lines.
    pub const GRID: &'static str = "#dde1e6";
    /// Axis lines, frames and leaders.
    pub const AXIS: &'static str = "#8c95a0";
    /// Limit lines and the text that names them.
    pub const LIMIT: &'static str = "#9b1238";
    /// Shade behind the time a prop is dark.
    pub const SHADE_DARK: &'static str = "#e6e9ed";
    /// Shade behind the time a prop is rising or falling.
    pub const SHADE_MOVING: &'static str = "#f3f5f7";
    /// Ground of a strip image: a pixel that is off.
    pub const UNLIT: &'static str = "#000000";
    /// Positive, safe.
    pub const GOOD: &'static str = "#0072b2";
    /// Close to its limit.
    pub const TIGHT: &'static str = "#b26b00";
    /// Beyond its limit.
    pub const BAD: &'static str = "#9b1238";
    /// Neither good nor bad.
    pub const NEUTRAL: &'static str = "#6a737d";
}

/// How one series is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SeriesStyle {
    /// `#rrggbb`.
    pub(crate) colour: &'static str,
    /// SVG dash array, empty for a solid line.
    pub(crate) dash: &'static str,
    /// Line width in px.
    pub(crate) width: f64,
}

/// The series styles in order of use.
pub(crate) const SERIES: [SeriesStyle; 6] = [
    SeriesStyle {
        colour: "#0072b2",
        dash: "",
        width: 1.8,
    },
    SeriesStyle {
        colour: "#d55e00",
        dash: "7 2.5",
        width: 1.5,
    },
    SeriesStyle {
        colour: "#4d4d4d",
        dash: "2 2",
        width: 1.3,
    },
    SeriesStyle {
        colour: "#008060",
        // Not that of limit lines.
        dash: "12 2 1.5 2 1.5 2",
        width: 1.6,
    },
    SeriesStyle {
        colour: "#a8478a",
        dash: "4.5 2",
        width: 1.5,
    },
    SeriesStyle {
        colour: "#8a6500",
        dash: "1.5 1.5",
        width: 1.8,
    },
];

/// The style of series number `index`; styles repeat after the last.
pub(crate) fn series_style(index: usize) -> SeriesStyle {
    SERIES[index % SERIES.len()]
}

/// Dash array of limit lines.
pub(crate) const LIMIT_DASH: &str = "10 3 2 3";

/// Picture title, px.
pub(crate) const SIZE_TITLE: f64 = 21.0;
/// Subtitle, px.
pub(crate) const SIZE_SUBTITLE: f64 = 13.5;
/// Panel headings and names, px.
pub(crate) const SIZE_NAME: f64 = 12.5;
/// Axis numbers, details, footers, px.
pub(crate) const SIZE_SMALL: f64 = 11.5;

/// Red, green, blue of a `#rrggbb` colour; black when it is not one.
pub(crate) fn rgb_of(hex: &str) -> [u8; 3] {
    let digits = hex.strip_prefix('#').unwrap_or(hex);
    let byte = |at: usize| {
        digits
            .get(at..at + 2)
            .and_then(|pair| u8::from_str_radix(pair, 16).ok())
            .unwrap_or(0)
    };
    [byte(0), byte(2), byte(4)]
}

/// Relative luminance of an sRGB colour, 0..1 (WCAG 2.2, "relative luminance").
pub(crate) fn luminance(rgb: [u8; 3]) -> f64 {
    let [r, g, b] = rgb.map(super::light::linear_from_srgb);
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// Contrast ratio of two sRGB colours, 1..21 (WCAG 2.2, "contrast ratio").
pub(crate) fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(a: &str, b: &str) -> f64 {
        contrast(rgb_of(a), rgb_of(b))
    }

    // Anchors of WCAG 2.2: black on white is 21:1, and #767676 is the lightest grey that reaches 4.5:1.
    #[test]
    fn contrast_matches_wcag_anchor_values() {
        assert!((ratio("#000000", "#ffffff") - 21.0).abs() < 1e-9);
        assert!(ratio("#767676", "#ffffff") >= 4.5);
        assert!(ratio("#777777", "#ffffff") < 4.5);
    }

    #[test]
    fn text_reaches_four_and_a_half_to_one_on_every_ground() {
        for ground in [Theme::PAPER, Theme::SHADE_DARK, Theme::SHADE_MOVING] {
            for text in [Theme::INK, Theme::MUTED, Theme::LIMIT] {
                let found = ratio(text, ground);
                assert!(found >= 4.5, "{text} on {ground}: {found:.2}");
            }
        }
    }

    #[test]
    fn lines_and_bars_reach_three_to_one_on_paper_and_shades() {
        let tones = [Theme::GOOD, Theme::TIGHT, Theme::BAD, Theme::NEUTRAL];
        for colour in SERIES.iter().map(|s| s.colour).chain(tones) {
            for ground in [Theme::PAPER, Theme::SHADE_DARK, Theme::SHADE_MOVING] {
                let found = ratio(colour, ground);
                assert!(found >= 3.0, "{colour} on {ground}: {found:.2}");
            }
        }
    }

    #[test]
    fn series_differ_in_dash_pattern() {
        for (i, a) in SERIES.iter().enumerate() {
            for b in &SERIES[i + 1..] {
                assert_ne!(a.dash, b.dash);
                assert_ne!(a.colour, b.colour);
            }
        }
    }
}
