//! A value over two axes, as coloured cells with their numbers.

use super::axes::{self, centred, Frame};
use super::page::{self, Footer, MARGIN};
use super::scale::{nice_ticks, number, widened};
use super::svg::{Anchor, Label, Stroke, Svg, Weight};
use super::text::{shorten, width_px, wrap};
use super::theme::{contrast, rgb_of, Theme, SIZE_NAME, SIZE_SMALL};

/// One cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cell {
    /// Its value; `None` when there is none.
    pub value: Option<f64>,
    /// What is said below the number where it fits (which check binds); may be empty.
    pub note: String,
}

/// A value over two axes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatMap {
    /// What is shown.
    pub title: String,
    /// Of what, and how it came about.
    pub subtitle: String,
    /// What the value is, with its unit.
    pub value_name: String,
    /// Decimals of the numbers.
    pub decimals: usize,
    /// Name of the horizontal axis, with its unit.
    pub x_name: String,
    /// Labels of the columns, from the left.
    pub x_labels: Vec<String>,
    /// Name of the vertical axis, with its unit.
    pub y_name: String,
    /// Labels of the rows, from the top.
    pub y_labels: Vec<String>,
    /// The cells, row by row from the top. A row that is too short ends in missing cells.
    pub cells: Vec<Vec<Cell>>,
    /// Cells below this value get a corner mark, explained by the text.
    pub mark_below: Option<(f64, String)>,
    /// What the reader must beware of.
    pub caution: String,
    /// The conditions the values hold under.
    pub conditions: String,
    /// Name and version of the tool.
    pub tool: String,
}

const WIDTH: f64 = 1000.0;
/// Most room for row labels, px.
const MOST_LABEL: f64 = 160.0;
/// Room for the colour bar and its numbers, px.
const BAR_ROOM: f64 = 104.0;
/// Height of a row, px: a number and a note.
const ROW: f64 = 42.0;
const NOTE_SIZE: f64 = 10.5;
/// Size of the corner mark, px.
const MARK: f64 = 9.0;
/// Height of column labels and axis name below the cells, px.
const BELOW: f64 = 40.0;

/// Colours from least to most: one hue, lightness falling all the way, so it keeps its order in greyscale.
const RAMP: [&str; 4] = ["#f4f1e4", "#a9cfd3", "#3f8fb0", "#123a66"];

/// The colour at `share` (0..1) of the ramp.
fn ramp(share: f64) -> [u8; 3] {
    let place = share.clamp(0.0, 1.0) * (RAMP.len() - 1) as f64;
    let index = (place as usize).min(RAMP.len() - 2);
    let rest = place - index as f64;
    let (from, to) = (rgb_of(RAMP[index]), rgb_of(RAMP[index + 1]));
    let mut out = [0; 3];
    for (out, (from, to)) in out.iter_mut().zip(from.into_iter().zip(to)) {
        *out = (f64::from(from) + (f64::from(to) - f64::from(from)) * rest).round() as u8;
    }
    out
}

/// Black or white, whichever reads better on `ground`.
fn ink_on(ground: [u8; 3]) -> &'static str {
    if contrast(ground, [0; 3]) >= contrast(ground, [255; 3]) {
        "#000000"
    } else {
        "#ffffff"
    }
}

fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

impl HeatMap {
    /// The picture as SVG, 1000 px wide; its height grows with the rows.
    pub fn to_svg(&self) -> String {
        let footer = Footer {
            caution: &self.caution,
            conditions: &self.conditions,
            tool: &self.tool,
        };
        let labels = self
            .y_labels
            .iter()
            .map(|l| width_px(l, SIZE_SMALL, Weight::Regular))
            .fold(0.0, f64::max)
            .min(MOST_LABEL);
        let left = MARGIN + labels + 12.0;
        let frame = Frame {
            x: left,
            y: page::header_height(WIDTH, &self.subtitle) + 26.0,
            width: WIDTH - MARGIN - BAR_ROOM - left,
            height: self.rows().max(1) as f64 * ROW,
        };
        let key = if self.mark_below.is_some() { 20.0 } else { 0.0 };
        let footer_top = frame.bottom() + BELOW + key + 14.0;
        let height = footer_top + footer.height(WIDTH);
        let mut svg = Svg::new(WIDTH, height, &self.title, &self.subtitle);
        page::header(&mut svg, WIDTH, &self.title, &self.subtitle);
        let range = self.range();
        self.draw_cells(&mut svg, frame, range);
        self.draw_labels(&mut svg, frame);
        self.draw_mark_key(&mut svg, frame);
        self.draw_bar(&mut svg, frame, range);
        footer.draw(&mut svg, WIDTH, footer_top);
        svg.finish()
    }

    fn rows(&self) -> usize {
        self.y_labels.len().max(self.cells.len())
    }

    fn columns(&self) -> usize {
        let longest = self.cells.iter().map(Vec::len).max().unwrap_or(0);
        self.x_labels.len().max(longest).max(1)
    }

    fn value(&self, row: usize, column: usize) -> Option<f64> {
        self.cell(row, column)?.value.filter(|v| v.is_finite())
    }

    fn cell(&self, row: usize, column: usize) -> Option<&Cell> {
        self.cells.get(row)?.get(column)
    }

    fn range(&self) -> (f64, f64) {
        let values = || {
            let all = self.cells.iter().flatten();
            all.filter_map(|c| c.value).filter(|v| v.is_finite())
        };
        match (values().reduce(f64::min), values().reduce(f64::max)) {
            (Some(low), Some(high)) => widened(low, high),
            _ => (0.0, 1.0),
        }
    }

    fn draw_cells(&self, svg: &mut Svg, frame: Frame, range: (f64, f64)) {
        let width = frame.width / self.columns() as f64;
        svg.group("cells", |svg| {
            for row in 0..self.rows() {
                for column in 0..self.columns() {
                    let place = Frame {
                        x: frame.x + column as f64 * width,
                        y: frame.y + row as f64 * ROW,
                        width,
                        height: ROW,
                    };
                    self.draw_cell(svg, place, range, row, column);
                }
            }
        });
    }

    fn draw_cell(&self, svg: &mut Svg, place: Frame, range: (f64, f64), row: usize, column: usize) {
        // A px of paper between the cells.
        let (width, height) = (place.width - 1.5, place.height - 1.5);
        let middle_x = place.x + width / 2.0;
        let middle_y = place.y + height / 2.0;
        let Some(value) = self.value(row, column) else {
            svg.rect(place.x, place.y, width, height, Theme::SHADE_DARK);
            let y = centred(middle_y, SIZE_NAME);
            svg.text(Label::small("–", middle_x, y, Anchor::Middle));
            return;
        };
        let ground = ramp((value - range.0) / (range.1 - range.0));
        let ink = ink_on(ground);
        svg.rect(place.x, place.y, width, height, &hex(ground));
        let marked = self.mark_below.as_ref().is_some_and(|(at, _)| value < *at);
        if marked {
            corner(svg, place.x + width, place.y);
        }
        let text = number(value, self.decimals);
        let room = width - 4.0 - if marked { MARK } else { 0.0 };
        if width_px(&text, SIZE_NAME, Weight::SemiBold) > room {
            return;
        }
        let note = self.cell(row, column).map_or("", |c| c.note.as_str());
        let shows_note =
            !note.is_empty() && width_px(note, NOTE_SIZE, Weight::Regular) <= width - 6.0;
        let lift = if shows_note { 7.5 } else { 0.0 };
        let y = centred(middle_y - lift, SIZE_NAME);
        svg.text(Label {
            colour: ink,
            ..Label::name(&text, middle_x, y, Anchor::Middle)
        });
        if shows_note {
            let y = centred(middle_y + 9.0, NOTE_SIZE);
            svg.text(Label {
                size: NOTE_SIZE,
                colour: ink,
                ..Label::small(note, middle_x, y, Anchor::Middle)
            });
        }
    }

    fn draw_labels(&self, svg: &mut Svg, frame: Frame) {
        svg.group("axis-labels", |svg| {
            for (row, label) in self.y_labels.iter().enumerate() {
                let y = centred(frame.y + (row as f64 + 0.5) * ROW, SIZE_SMALL);
                let room = frame.x - 8.0 - MARGIN;
                let text = shorten(label, SIZE_SMALL, Weight::Regular, room);
                svg.text(Label::small(&text, frame.x - 8.0, y, Anchor::End));
            }
            let width = frame.width / self.columns() as f64;
            let mut free_from = f64::NEG_INFINITY;
            for (column, label) in self.x_labels.iter().enumerate() {
                let x = frame.x + (column as f64 + 0.5) * width;
                let half = width_px(label, SIZE_SMALL, Weight::Regular) / 2.0;
                if x - half < free_from {
                    continue;
                }
                free_from = x + half + 6.0;
                let y = frame.bottom() + 16.0;
                svg.text(Label::small(label, x, y, Anchor::Middle));
            }
            let middle = frame.x + frame.width / 2.0;
            let y = frame.bottom() + 34.0;
            svg.text(Label::small(&self.x_name, middle, y, Anchor::Middle));
            let heading = Frame { x: MARGIN, ..frame };
            axes::heading(svg, heading, "", &self.y_name);
        });
    }

    fn draw_mark_key(&self, svg: &mut Svg, frame: Frame) {
        if let Some((_, text)) = &self.mark_below {
            let y = frame.bottom() + BELOW + 16.0;
            corner(svg, frame.x + MARK, y - MARK);
            let x = frame.x + MARK + 7.0;
            let text = shorten(text, SIZE_SMALL, Weight::Regular, WIDTH - MARGIN - x);
            svg.text(Label {
                colour: Theme::INK,
                ..Label::small(&text, x, y, Anchor::Start)
            });
        }
    }

    /// The colour bar with its numbers, right of the cells.
    fn draw_bar(&self, svg: &mut Svg, frame: Frame, range: (f64, f64)) {
        let bar = Frame {
            x: frame.right() + 26.0,
            width: 14.0,
            height: frame.height.min(220.0),
            ..frame
        };
        let steps = 48;
        svg.group("colour-bar", |svg| {
            let step = bar.height / f64::from(steps);
            for i in 0..steps {
                let fill = hex(ramp((f64::from(i) + 0.5) / f64::from(steps)));
                let y = bar.bottom() - f64::from(i + 1) * step;
                // Half a px of overlap hides the seams.
                svg.rect(bar.x, y, bar.width, step + 0.5, &fill);
            }
            let outline = Stroke::solid(Theme::AXIS, 0.8);
            svg.outline(bar.x, bar.y, bar.width, bar.height, outline);
            let scale = bar.up(range);
            let ticks = nice_ticks(range.0, range.1, (bar.height / 34.0) as usize);
            for (&value, label) in ticks.values.iter().zip(&ticks.labels) {
                let y = scale.at(value);
                let right = bar.right();
                svg.line(right, y, right + 4.0, y, Stroke::solid(Theme::AXIS, 1.0));
                let room = WIDTH - 6.0 - right - 8.0;
                let text = shorten(label, SIZE_SMALL, Weight::Regular, room);
                let y = centred(y, SIZE_SMALL);
                svg.text(Label::small(&text, right + 8.0, y, Anchor::Start));
            }
            // The name ends at the margin, above the bar.
            let room = WIDTH - 2.0 * MARGIN - 220.0;
            let name = wrap(&self.value_name, SIZE_NAME, Weight::SemiBold, room, 1);
            let name = name.first().map_or("", String::as_str);
            svg.text(Label::name(name, WIDTH - MARGIN, bar.y - 9.0, Anchor::End));
        });
    }
}

/// A triangle in the corner that ends at (`right`, `top`).
fn corner(svg: &mut Svg, right: f64, top: f64) {
    let points = [(right - MARK, top), (right, top), (right, top + MARK)];
    svg.polygon(&points, Theme::LIMIT, 1.0);
}

#[cfg(test)]
mod tests {
    use super::super::theme::luminance;
    use super::*;

    #[test]
    fn the_ramp_darkens_all_the_way_and_numbers_read_on_every_step() {
        let steps: Vec<[u8; 3]> = (0..=200).map(|i| ramp(f64::from(i) / 200.0)).collect();
        for pair in steps.windows(2) {
            assert!(luminance(pair[1]) < luminance(pair[0]));
        }
        for ground in steps {
            let found = contrast(ground, rgb_of(ink_on(ground)));
            assert!(found >= 4.5, "{}: {found:.2}", hex(ground));
        }
    }
}
