//! A small SVG writer.
//!
//! It writes what these pictures need: rectangles, lines, polylines, paths, circles, text, images and groups
//! with a title. Every number has at most two decimals and no exponent, so equal input gives equal bytes. An
//! element with a coordinate that is not finite is left out: a number that does not exist has no place in a
//! picture.

use std::fmt::Write as _;

use super::theme::{Theme, FONT_FAMILY, SIZE_NAME, SIZE_SMALL};

/// Which point of a text lies at its x.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// The two weights of the shipped font.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Running text.
    Regular,
    /// Names and headings.
    SemiBold,
}

/// A line style.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke<'a> {
    /// `#rrggbb`.
    pub colour: &'a str,
    /// Width in px.
    pub width: f64,
    /// SVG dash array, empty for a solid line.
    pub dash: &'a str,
}

impl<'a> Stroke<'a> {
    /// A solid line.
    pub fn solid(colour: &'a str, width: f64) -> Self {
        Self {
            colour,
            width,
            dash: "",
        }
    }
}

/// A line of text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Label<'a> {
    /// What it says.
    pub text: &'a str,
    /// Anchor point, px.
    pub x: f64,
    /// Baseline, px.
    pub y: f64,
    /// Which point of the text lies at `x`.
    pub anchor: Anchor,
    /// Font size, px.
    pub size: f64,
    /// Font weight.
    pub weight: Weight,
    /// `#rrggbb`.
    pub colour: &'a str,
}

impl<'a> Label<'a> {
    /// Secondary text: axis numbers, details.
    pub fn small(text: &'a str, x: f64, y: f64, anchor: Anchor) -> Self {
        Self {
            text,
            x,
            y,
            anchor,
            size: SIZE_SMALL,
            weight: Weight::Regular,
            colour: Theme::MUTED,
        }
    }

    /// A name or heading.
    pub fn name(text: &'a str, x: f64, y: f64, anchor: Anchor) -> Self {
        Self {
            size: SIZE_NAME,
            weight: Weight::SemiBold,
            colour: Theme::INK,
            ..Self::small(text, x, y, anchor)
        }
    }
}

/// A PNG placed in the picture, stretched to its box without smoothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Image<'a> {
    /// Left, px.
    pub x: f64,
    /// Top, px.
    pub y: f64,
    /// Width, px.
    pub width: f64,
    /// Height, px.
    pub height: f64,
    /// The PNG file's bytes.
    pub png: &'a [u8],
    /// What it shows, for those who cannot see it.
    pub alt: &'a str,
}

/// An SVG being written.
#[derive(Debug, Clone)]
pub struct Svg {
    body: String,
    depth: usize,
}

impl Svg {
    /// A picture of `width` × `height` px with a white ground; `title` and `description` are read out by
    /// screen readers. A size that is not finite or not positive becomes 1 px.
    pub fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        let size = |v: f64| if v.is_finite() { v.max(1.0) } else { 1.0 };
        let (w, h) = (num(size(width)), num(size(height)));
        let mut svg = Self {
            body: String::new(),
            depth: 0,
        };
        let _ = writeln!(
            svg.body,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
             width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{}\" \
             font-family=\"{}\">",
            escape(title),
            escape(FONT_FAMILY),
        );
        svg.depth = 1;
        svg.element(&format!("<title>{}</title>", escape(title)));
        if !description.is_empty() {
            svg.element(&format!("<desc>{}</desc>", escape(description)));
        }
        svg.element(&format!(
            "<rect width=\"{w}\" height=\"{h}\" fill=\"{}\"/>",
            Theme::PAPER
        ));
        svg
    }

    /// A filled rectangle. Nothing is drawn for a negative size.
    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, fill: &str) {
        if finite(&[x, y, width, height]) && width >= 0.0 && height >= 0.0 {
            self.element(&format!(
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\"/>",
                num(x),
                num(y),
                num(width),
                num(height),
                escape(fill)
            ));
        }
    }

    /// A rectangle's outline.
    pub fn outline(&mut self, x: f64, y: f64, width: f64, height: f64, stroke: Stroke<'_>) {
        if finite(&[x, y, width, height]) && width >= 0.0 && height >= 0.0 {
            self.element(&format!(
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"none\"{}/>",
                num(x),
                num(y),
                num(width),
                num(height),
                stroke_attributes(stroke)
            ));
        }
    }

    /// A straight line.
    pub fn line(&mut self, x1: f64, y1: f64, x2: f64, y2: f64, stroke: Stroke<'_>) {
        if finite(&[x1, y1, x2, y2]) {
            self.element(&format!(
                "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"{}/>",
                num(x1),
                num(y1),
                num(x2),
                num(y2),
                stroke_attributes(stroke)
            ));
        }
    }

    /// A line through `points`; a point that is not finite breaks it in two. A lone point becomes a dot.
    pub fn polyline(&mut self, points: &[(f64, f64)], stroke: Stroke<'_>) {
        for run in points.split(|&(x, y)| !finite(&[x, y])) {
            match run {
                [] => {}
                [(x, y)] => self.circle(*x, *y, stroke.width, stroke.colour),
                _ => {
                    let list: Vec<String> = run
                        .iter()
                        .map(|&(x, y)| format!("{},{}", num(x), num(y)))
                        .collect();
                    self.element(&format!(
                        "<polyline points=\"{}\" fill=\"none\" stroke-linejoin=\"round\"{}/>",
                        list.join(" "),
                        stroke_attributes(stroke)
                    ));
                }
            }
        }
    }

    /// A filled polygon; left out if a point is not finite.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: &str, opacity: f64) {
        if points.len() < 3 || !points.iter().all(|&(x, y)| finite(&[x, y])) {
            return;
        }
        let list: Vec<String> = points
            .iter()
            .map(|&(x, y)| format!("{},{}", num(x), num(y)))
            .collect();
        let opacity = if opacity < 1.0 {
            format!(" fill-opacity=\"{}\"", num(opacity.max(0.0)))
        } else {
            String::new()
        };
        self.element(&format!(
            "<polygon points=\"{}\" fill=\"{}\"{opacity}/>",
            list.join(" "),
            escape(fill)
        ));
    }

    /// A path of straight pieces and curves in SVG path syntax, unfilled. The caller writes the numbers with
    /// [`num`].
    pub fn path(&mut self, data: &str, stroke: Stroke<'_>) {
        self.element(&format!(
            "<path d=\"{}\" fill=\"none\" stroke-linejoin=\"round\"{}/>",
            escape(data),
            stroke_attributes(stroke)
        ));
    }

    /// A filled circle.
    pub fn circle(&mut self, x: f64, y: f64, radius: f64, fill: &str) {
        if finite(&[x, y, radius]) && radius >= 0.0 {
            self.element(&format!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"/>",
                num(x),
                num(y),
                num(radius),
                escape(fill)
            ));
        }
    }

    /// A ring: a circle with a filled inside.
    pub fn ring(&mut self, x: f64, y: f64, radius: f64, fill: &str, stroke: Stroke<'_>) {
        if finite(&[x, y, radius]) && radius >= 0.0 {
            self.element(&format!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"{}/>",
                num(x),
                num(y),
                num(radius),
                escape(fill),
                stroke_attributes(stroke)
            ));
        }
    }

    /// A line of text; nothing is written for an empty one.
    pub fn text(&mut self, label: Label<'_>) {
        self.text_with_title(label, "");
    }

    /// A line of text with a longer wording that shows when pointed at (for shortened names).
    pub fn text_with_title(&mut self, label: Label<'_>, title: &str) {
        if label.text.is_empty() || !finite(&[label.x, label.y, label.size]) {
            return;
        }
        let anchor = match label.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = match label.weight {
            Weight::Regular => "",
            Weight::SemiBold => " font-weight=\"600\"",
        };
        let title = if title.is_empty() || title == label.text {
            String::new()
        } else {
            format!("<title>{}</title>", escape(title))
        };
        self.element(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{weight} fill=\"{}\">{title}{}</text>",
            num(label.x),
            num(label.y),
            num(label.size),
            escape(label.colour),
            escape(label.text)
        ));
    }

    /// A PNG, embedded.
    pub fn image(&mut self, image: Image<'_>) {
        use base64::Engine as _;
        if !finite(&[image.x, image.y, image.width, image.height]) {
            return;
        }
        let data = base64::engine::general_purpose::STANDARD.encode(image.png);
        // `xlink:href` is what older print programs read; browsers read it too.
        self.element(&format!(
            "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" \
             style=\"image-rendering:pixelated\" aria-label=\"{}\" \
             xlink:href=\"data:image/png;base64,{data}\"/>",
            num(image.x),
            num(image.y),
            num(image.width),
            num(image.height),
            escape(image.alt)
        ));
    }

    /// A group named by `class`, filled by `fill`.
    pub fn group(&mut self, class: &str, fill: impl FnOnce(&mut Self)) {
        self.element(&format!("<g class=\"{}\">", escape(class)));
        self.depth += 1;
        fill(self);
        self.depth -= 1;
        self.element("</g>");
    }

    /// The finished picture.
    pub fn finish(mut self) -> String {
        self.body.push_str("</svg>\n");
        self.body
    }

    fn element(&mut self, text: &str) {
        for _ in 0..self.depth {
            self.body.push(' ');
        }
        self.body.push_str(text);
        self.body.push('\n');
    }
}

fn stroke_attributes(stroke: Stroke<'_>) -> String {
    let dash = if stroke.dash.is_empty() {
        String::new()
    } else {
        format!(" stroke-dasharray=\"{}\"", escape(stroke.dash))
    };
    format!(
        " stroke=\"{}\" stroke-width=\"{}\"{dash}",
        escape(stroke.colour),
        num(stroke.width)
    )
}

fn finite(values: &[f64]) -> bool {
    values.iter().all(|v| v.is_finite())
}

/// A number with at most two decimals, no trailing zeros, no exponent and no minus zero; `0` if not finite.
pub fn num(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let mut text = format!("{value:.2}");
    while text.ends_with('0') {
        text.pop();
    }
    if text.ends_with('.') {
        text.pop();
    }
    if text == "-0" {
        text = "0".to_owned();
    }
    text
}

/// Text safe in XML content and attributes; characters that XML 1.0 forbids become U+FFFD, line breaks and
/// tabs become spaces.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for ch in text.chars() {
        match ch {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' | '\r' | '\t' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            _ => out.push(ch),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_in_exponent_form() {
        assert_eq!(num(1.0), "1");
        assert_eq!(num(-0.001), "0");
        assert_eq!(num(10.0), "10");
        assert_eq!(num(100.50), "100.5");
        assert_eq!(num(1e-9), "0");
        assert_eq!(num(1e15), "1000000000000000");
        assert_eq!(num(f64::NAN), "0");
    }

    #[test]
    fn markup_and_forbidden_characters_are_escaped() {
        assert_eq!(escape("a<b> & \"c\""), "a&lt;b&gt; &amp; &quot;c&quot;");
        assert_eq!(escape("x\u{0}\u{1b}[31m\ny"), "x\u{fffd}\u{fffd}[31m y");
    }

    #[test]
    fn elements_with_missing_numbers_are_left_out() {
        let mut svg = Svg::new(10.0, 10.0, "t", "");
        let before = svg.body.len();
        svg.line(0.0, f64::NAN, 1.0, 1.0, Stroke::solid("#000000", 1.0));
        svg.rect(0.0, 0.0, f64::INFINITY, 1.0, "#000000");
        svg.circle(f64::NAN, 0.0, 1.0, "#000000");
        svg.polyline(&[(f64::NAN, 0.0)], Stroke::solid("#000000", 1.0));
        assert_eq!(svg.body.len(), before);
    }

    #[test]
    fn a_missing_point_breaks_a_polyline() {
        let mut svg = Svg::new(10.0, 10.0, "t", "");
        let points = [
            (0.0, 0.0),
            (1.0, 1.0),
            (2.0, f64::NAN),
            (3.0, 1.0),
            (4.0, 2.0),
        ];
        svg.polyline(&points, Stroke::solid("#000000", 1.0));
        assert_eq!(svg.finish().matches("<polyline").count(), 2);
    }
}
