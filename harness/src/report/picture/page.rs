//! What every picture has around its plots: title and subtitle above, caution and conditions below.

use super::svg::{Anchor, Label, Svg, Weight};
use super::text::{shorten, width_px, wrap};
use super::theme::{Theme, SIZE_NAME, SIZE_SMALL, SIZE_SUBTITLE, SIZE_TITLE};

/// Space between the picture's edge and what it holds, px.
pub(crate) const MARGIN: f64 = 28.0;

/// Draws title and subtitle; gives the y below them.
pub(crate) fn header(svg: &mut Svg, width: f64, title: &str, subtitle: &str) -> f64 {
    let room = width - 2.0 * MARGIN;
    let mut y = MARGIN + 15.0;
    let shown = shorten(title, SIZE_TITLE, Weight::SemiBold, room);
    svg.text_with_title(
        line(&shown, MARGIN, y, SIZE_TITLE, Weight::SemiBold, Theme::INK),
        title,
    );
    for part in subtitle_lines(subtitle, room) {
        y += 21.0;
        svg.text(line(
            &part,
            MARGIN,
            y,
            SIZE_SUBTITLE,
            Weight::Regular,
            Theme::MUTED,
        ));
    }
    y + 18.0
}

/// Height that [`header`] takes, px.
pub(crate) fn header_height(width: f64, subtitle: &str) -> f64 {
    let lines = subtitle_lines(subtitle, width - 2.0 * MARGIN).len();
    MARGIN + 33.0 + 21.0 * lines as f64
}

fn subtitle_lines(subtitle: &str, room: f64) -> Vec<String> {
    wrap(subtitle, SIZE_SUBTITLE, Weight::Regular, room, 2)
}

/// What stands below the plots.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Footer<'a> {
    /// What the reader must beware of; empty for none.
    pub(crate) caution: &'a str,
    /// Under which conditions the values hold.
    pub(crate) conditions: &'a str,
    /// Name and version of the tool.
    pub(crate) tool: &'a str,
}

const FOOTER_LINE: f64 = 17.0;
/// Space that the caution's sign takes, px.
const SIGN: f64 = 22.0;
/// Lines that caution and conditions may take each.
const MOST_LINES: usize = 4;

impl Footer<'_> {
    fn caution_lines(&self, room: f64) -> Vec<String> {
        wrap(
            self.caution,
            SIZE_NAME,
            Weight::Regular,
            room - SIGN,
            MOST_LINES,
        )
    }

    fn condition_lines(&self, room: f64) -> Vec<String> {
        let tool = width_px(self.tool, SIZE_SMALL, Weight::Regular);
        let room = (room - tool - 24.0).max(room / 2.0);
        wrap(
            self.conditions,
            SIZE_SMALL,
            Weight::Regular,
            room,
            MOST_LINES,
        )
    }

    /// Height it takes on a picture of this width, px.
    pub(crate) fn height(&self, width: f64) -> f64 {
        let room = width - 2.0 * MARGIN;
        let caution = self.caution_lines(room).len() as f64 * FOOTER_LINE;
        let gap = if caution > 0.0 { 5.0 } else { 0.0 };
        let conditions = self.condition_lines(room).len();
        let tool = usize::from(!self.tool.is_empty());
        caution + gap + conditions.max(tool) as f64 * FOOTER_LINE + MARGIN - 6.0
    }

    /// Draws it below `top`.
    pub(crate) fn draw(&self, svg: &mut Svg, width: f64, top: f64) {
        let room = width - 2.0 * MARGIN;
        let mut y = top + 10.0;
        svg.group("footer", |svg| {
            for (i, part) in self.caution_lines(room).iter().enumerate() {
                if i == 0 {
                    sign(svg, MARGIN, y);
                }
                let label = line(
                    part,
                    MARGIN + SIGN,
                    y,
                    SIZE_NAME,
                    Weight::Regular,
                    Theme::INK,
                );
                svg.text(label);
                y += FOOTER_LINE;
            }
            if !self.caution.is_empty() {
                y += 5.0;
            }
            let tool = shorten(self.tool, SIZE_SMALL, Weight::Regular, room / 2.0 - 24.0);
            svg.text(Label {
                anchor: Anchor::End,
                ..line(
                    &tool,
                    width - MARGIN,
                    y,
                    SIZE_SMALL,
                    Weight::Regular,
                    Theme::MUTED,
                )
            });
            for part in self.condition_lines(room) {
                svg.text(line(
                    &part,
                    MARGIN,
                    y,
                    SIZE_SMALL,
                    Weight::Regular,
                    Theme::MUTED,
                ));
                y += FOOTER_LINE;
            }
        });
    }
}

/// A warning triangle left of a line of text.
fn sign(svg: &mut Svg, x: f64, baseline: f64) {
    let (left, top, side) = (x, baseline - 11.0, 15.0);
    svg.polygon(
        &[
            (left, top + 13.0),
            (left + side / 2.0, top),
            (left + side, top + 13.0),
        ],
        Theme::LIMIT,
        1.0,
    );
    svg.rect(left + side / 2.0 - 0.8, top + 4.2, 1.6, 4.4, Theme::PAPER);
    svg.rect(left + side / 2.0 - 0.8, top + 9.6, 1.6, 1.6, Theme::PAPER);
}

fn line<'a>(
    text: &'a str,
    x: f64,
    y: f64,
    size: f64,
    weight: Weight,
    colour: &'a str,
) -> Label<'a> {
    Label {
        text,
        x,
        y,
        anchor: Anchor::Start,
        size,
        weight,
        colour,
    }
}
