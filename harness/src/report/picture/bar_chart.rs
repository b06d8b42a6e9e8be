//! Signed horizontal bars: margins, sensitivities, shares.

use super::axes::{self, centred, Frame, BOTTOM_AXIS_HEIGHT, HEADING_HEIGHT};
use super::page::{self, Footer, MARGIN};
use super::scale::{nice_ticks, number, widened, Scale};
use super::svg::{Anchor, Label, Stroke, Svg, Weight};
use super::text::{shorten, width_px};
use super::theme::{Theme, SIZE_NAME, SIZE_SMALL};

/// What a bar's colour and sign say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tone {
    /// Safe.
    Good,
    /// Close to its limit.
    Tight,
    /// Beyond its limit.
    Bad,
    /// Neither.
    #[default]
    Neutral,
}

impl Tone {
    fn colour(self) -> &'static str {
        match self {
            Self::Good => Theme::GOOD,
            Self::Tight => Theme::TIGHT,
            Self::Bad => Theme::BAD,
            Self::Neutral => Theme::NEUTRAL,
        }
    }

    /// The sign before the name, so that nothing depends on colour alone.
    fn sign(self) -> &'static str {
        match self {
            Self::Good => "✓",
            Self::Tight => "!",
            Self::Bad => "✗",
            Self::Neutral => "",
        }
    }
}

/// One bar.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bar {
    /// What it stands for.
    pub name: String,
    /// Its length, signed; `None` when there is no value.
    pub value: Option<f64>,
    /// What is said at its right; may be empty. For a bar without a value: why there is none.
    pub detail: String,
    /// Its tone.
    pub tone: Tone,
}

/// In which order bars stand, from the top.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BarOrder {
    /// As given.
    #[default]
    Given,
    /// Least value first (margins: the worst on top).
    Ascending,
    /// Greatest value first.
    Descending,
    /// Greatest absolute value first (sensitivities).
    Magnitude,
}

/// Signed horizontal bars.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BarChart {
    /// What is shown.
    pub title: String,
    /// Of what, and how it came about.
    pub subtitle: String,
    /// What the values are.
    pub value_name: String,
    /// Unit written after each value; may be empty.
    pub unit: String,
    /// Decimals of the values.
    pub decimals: usize,
    /// The bars.
    pub bars: Vec<Bar>,
    /// Their order; bars without a value always come last.
    pub order: BarOrder,
    /// What the reader must beware of.
    pub caution: String,
    /// The conditions the values hold under.
    pub conditions: String,
    /// Name and version of the tool.
    pub tool: String,
}

const WIDTH: f64 = 1000.0;
const ROW: f64 = 27.0;
const BAR: f64 = 15.0;
/// Most room for names and for details, px.
const MOST_NAME: f64 = 270.0;
const MOST_DETAIL: f64 = 250.0;
/// Room for the sign before a name, px.
const SIGN: f64 = 20.0;

impl BarChart {
    /// The picture as SVG, 1000 px wide; its height grows with the bars.
    pub fn to_svg(&self) -> String {
        let footer = Footer {
            caution: &self.caution,
            conditions: &self.conditions,
            tool: &self.tool,
        };
        let bars = self.ordered();
        let frame = self.frame(&bars);
        let footer_top = frame.bottom() + BOTTOM_AXIS_HEIGHT + 4.0;
        let height = footer_top + footer.height(WIDTH);
        let mut svg = Svg::new(WIDTH, height, &self.title, &self.subtitle);
        page::header(&mut svg, WIDTH, &self.title, &self.subtitle);
        let scale = self.scale(frame, &bars);
        let (low, high) = scale.domain();
        let target = ((frame.width / 70.0) as usize).clamp(2, 8);
        let ticks = nice_ticks(low, high, target);
        axes::vertical_grid(&mut svg, frame, scale, &ticks);
        let unit = if self.unit.is_empty() {
            String::new()
        } else {
            format!("in {}", self.unit)
        };
        axes::heading(&mut svg, frame, &self.value_name, &unit);
        for (row, bar) in bars.iter().enumerate() {
            self.draw_bar(&mut svg, frame, scale, row, bar);
        }
        let zero = scale.at_clamped(0.0);
        let stroke = Stroke::solid(Theme::INK, 1.2);
        svg.line(zero, frame.y, zero, frame.bottom(), stroke);
        axes::bottom_axis(&mut svg, frame, scale, &ticks, "");
        footer.draw(&mut svg, WIDTH, footer_top);
        svg.finish()
    }

    /// The bars in order; a value that is not finite counts as missing.
    fn ordered(&self) -> Vec<&Bar> {
        let mut bars: Vec<&Bar> = self.bars.iter().collect();
        let key = |bar: &Bar| {
            let value = finite(bar)?;
            Some(match self.order {
                BarOrder::Given => 0.0,
                BarOrder::Ascending => value,
                BarOrder::Descending => -value,
                BarOrder::Magnitude => -value.abs(),
            })
        };
        // A stable sort keeps the given order among equals.
        bars.sort_by(|a, b| match (key(a), key(b)) {
            (Some(a), Some(b)) => a.total_cmp(&b),
            (a, b) => b.is_some().cmp(&a.is_some()),
        });
        bars
    }

    fn frame(&self, bars: &[&Bar]) -> Frame {
        let widest = |text: fn(&Bar) -> &str, size, weight| {
            let widths = bars.iter().map(|b| width_px(text(b), size, weight));
            widths.fold(0.0, f64::max)
        };
        let names = widest(|b| &b.name, SIZE_NAME, Weight::SemiBold).min(MOST_NAME);
        let details = widest(|b| &b.detail, SIZE_SMALL, Weight::Regular).min(MOST_DETAIL);
        let left = MARGIN + SIGN + names + 14.0;
        let right = WIDTH - MARGIN - details - if details > 0.0 { 14.0 } else { 0.0 };
        Frame {
            x: left,
            y: page::header_height(WIDTH, &self.subtitle) + HEADING_HEIGHT - 8.0,
            width: right - left,
            height: bars.len().max(1) as f64 * ROW + 8.0,
        }
    }

    /// Zero is always on the axis, and both ends leave room for the values' text.
    fn scale(&self, frame: Frame, bars: &[&Bar]) -> Scale {
        let values = || bars.iter().filter_map(|bar| finite(bar));
        let low = values().fold(0.0, f64::min);
        let high = values().fold(0.0, f64::max);
        let room = |sign: fn(f64) -> bool| {
            let texts = values().filter(|&v| sign(v)).map(|v| self.say(v));
            let widths = texts.map(|t| width_px(&t, SIZE_SMALL, Weight::Regular) + 10.0);
            widths.fold(6.0, f64::max)
        };
        let (before, after) = (room(|v| v < 0.0), room(|v| v >= 0.0));
        let (low, high) = widened(low, high);
        let per_px = (high - low) / (frame.width - before - after).max(1.0);
        frame.across((low - before * per_px, high + after * per_px))
    }

    fn say(&self, value: f64) -> String {
        let sign = if value > 0.0 { "+" } else { "" };
        format!("{sign}{} {}", number(value, self.decimals), self.unit)
            .trim_end()
            .to_owned()
    }

    fn draw_bar(&self, svg: &mut Svg, frame: Frame, scale: Scale, row: usize, bar: &Bar) {
        let middle = frame.y + 4.0 + (row as f64 + 0.5) * ROW;
        let (y_small, y_name) = (centred(middle, SIZE_SMALL), centred(middle, SIZE_NAME));
        svg.group("bar", |svg| {
            svg.text(Label {
                size: SIZE_NAME + 1.0,
                colour: bar.tone.colour(),
                ..Label::name(
                    bar.tone.sign(),
                    MARGIN + SIGN / 2.0 - 4.0,
                    y_name,
                    Anchor::Middle,
                )
            });
            let room = frame.x - 12.0 - MARGIN - SIGN;
            let name = shorten(&bar.name, SIZE_NAME, Weight::SemiBold, room);
            let label = Label::name(&name, MARGIN + SIGN, y_name, Anchor::Start);
            svg.text_with_title(label, &bar.name);
            let zero = scale.at_clamped(0.0);
            if let Some(value) = finite(bar) {
                let end = scale.at(value);
                let (left, right) = (zero.min(end), zero.max(end));
                let fill = bar.tone.colour();
                svg.rect(left, middle - BAR / 2.0, right - left, BAR, fill);
                let (x, anchor) = if value < 0.0 {
                    (end - 6.0, Anchor::End)
                } else {
                    (end + 6.0, Anchor::Start)
                };
                svg.text(Label {
                    colour: Theme::INK,
                    ..Label::small(&self.say(value), x, y_small, anchor)
                });
            } else {
                svg.text(Label::small("no value", zero + 6.0, y_small, Anchor::Start));
            }
            let room = WIDTH - MARGIN - frame.right() - 12.0;
            let detail = shorten(&bar.detail, SIZE_SMALL, Weight::Regular, room);
            let label = Label::small(&detail, frame.right() + 14.0, y_small, Anchor::Start);
            svg.text_with_title(label, &bar.detail);
        });
    }
}

fn finite(bar: &Bar) -> Option<f64> {
    bar.value.filter(|v| v.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(order: BarOrder) -> Vec<String> {
        let bar = |name: &str, value| Bar {
            name: name.to_owned(),
            value,
            ..Bar::default()
        };
        let chart = BarChart {
            bars: vec![
                bar("a", Some(1.0)),
                bar("b", None),
                bar("c", Some(-3.0)),
                bar("d", Some(f64::NAN)),
                bar("e", Some(2.0)),
            ],
            order,
            ..BarChart::default()
        };
        chart.ordered().iter().map(|b| b.name.clone()).collect()
    }

    #[test]
    fn bars_are_ordered_and_missing_ones_come_last() {
        assert_eq!(names(BarOrder::Given), ["a", "c", "e", "b", "d"]);
        assert_eq!(names(BarOrder::Ascending), ["c", "a", "e", "b", "d"]);
        assert_eq!(names(BarOrder::Descending), ["e", "a", "c", "b", "d"]);
        assert_eq!(names(BarOrder::Magnitude), ["c", "e", "a", "b", "d"]);
    }
}
