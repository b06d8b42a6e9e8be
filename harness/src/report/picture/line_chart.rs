//! Several curves over a common axis, each with an uncertainty band if it has one.

use super::axes::{self, Frame, BOTTOM_AXIS_HEIGHT, HEADING_HEIGHT};
use super::envelope::Envelope;
use super::gutter::{self, Entry, Swatch};
use super::page::{self, Footer, MARGIN};
use super::scale::{nice_ticks, number, widened, Scale};
use super::series::Limit;
use super::svg::{Stroke, Svg};
use super::theme::{series_style, SeriesStyle, Theme, LIMIT_DASH};

/// A curve: values over ascending x, each with the ends of its uncertainty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BandSeries {
    /// What it is, in field terms.
    pub name: String,
    /// What is said below its name in the key; may be empty.
    pub detail: String,
    /// Points as (x, value), x ascending; a value that is not finite leaves a gap.
    pub points: Vec<(f64, f64)>,
    /// Bands as (x, low, high), x ascending; may be empty.
    pub band: Vec<(f64, f64, f64)>,
}

/// Curves over a common axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineChart {
    /// What is shown.
    pub title: String,
    /// Of what, and how it came about.
    pub subtitle: String,
    /// Name of the horizontal axis, with its unit.
    pub x_name: String,
    /// Name of the vertical axis.
    pub y_name: String,
    /// Unit of the vertical axis; empty for plain numbers.
    pub y_unit: String,
    /// Whether the vertical axis begins at zero.
    pub from_zero: bool,
    /// The curves, the most important first.
    pub series: Vec<BandSeries>,
    /// Limits, in the unit of the vertical axis.
    pub limits: Vec<Limit>,
    /// What the reader must beware of.
    pub caution: String,
    /// The conditions the values hold under.
    pub conditions: String,
    /// Name and version of the tool.
    pub tool: String,
}

const WIDTH: f64 = 1000.0;
const LEFT: f64 = 52.0;
const PLOT_HEIGHT: f64 = 380.0;
/// Points up to which each is marked with a dot.
const MOST_DOTS: usize = 40;
/// Opacity of bands; two that overlap can still be told apart.
const BAND_OPACITY: f64 = 0.16;

impl LineChart {
    /// The picture as SVG, 1000 px wide.
    pub fn to_svg(&self) -> String {
        let footer = Footer {
            caution: &self.caution,
            conditions: &self.conditions,
            tool: &self.tool,
        };
        let top = page::header_height(WIDTH, &self.subtitle) + HEADING_HEIGHT;
        let y_domain = self.y_domain();
        let ticks = nice_ticks(y_domain.0, y_domain.1, 8);
        let unscaled = Scale::new(y_domain, (PLOT_HEIGHT, 0.0));
        let labels = gutter::height(&self.entries(unscaled, ticks.decimals));
        let frame = Frame {
            x: MARGIN + LEFT,
            y: top,
            width: WIDTH - 2.0 * MARGIN - LEFT - gutter::WIDTH,
            height: PLOT_HEIGHT.max(labels),
        };
        let footer_top = frame.bottom() + BOTTOM_AXIS_HEIGHT + 14.0;
        let height = footer_top + footer.height(WIDTH);
        let mut svg = Svg::new(WIDTH, height, &self.title, &self.subtitle);
        page::header(&mut svg, WIDTH, &self.title, &self.subtitle);

        let x_domain = self.x_domain();
        let (xs, ys) = (frame.across(x_domain), frame.up(y_domain));
        let x_ticks = nice_ticks(x_domain.0, x_domain.1, 9);
        axes::heading(&mut svg, frame, &self.y_name, &self.unit_text());
        axes::vertical_grid(&mut svg, frame, xs, &x_ticks);
        axes::value_axis(&mut svg, frame, ys, &ticks);
        self.draw_curves(&mut svg, frame, xs, ys);
        axes::bottom_axis(&mut svg, frame, xs, &x_ticks, &self.x_name);
        let entries = self.entries(ys, ticks.decimals);
        gutter::draw(&mut svg, frame.right(), frame.y, frame.bottom(), &entries);
        footer.draw(&mut svg, WIDTH, footer_top);
        svg.finish()
    }

    fn unit_text(&self) -> String {
        if self.y_unit.is_empty() {
            String::new()
        } else {
            format!("in {}", self.y_unit)
        }
    }

    fn x_domain(&self) -> (f64, f64) {
        let points = self
            .series
            .iter()
            .flat_map(|s| s.points.iter().map(|p| p.0));
        let bands = self.series.iter().flat_map(|s| s.band.iter().map(|p| p.0));
        range(points.chain(bands)).map_or((0.0, 1.0), |(low, high)| widened(low, high))
    }

    fn y_domain(&self) -> (f64, f64) {
        let points = self
            .series
            .iter()
            .flat_map(|s| s.points.iter().map(|p| p.1));
        let bands = self
            .series
            .iter()
            .flat_map(|s| s.band.iter().flat_map(|p| [p.1, p.2]));
        let limits = self.limits.iter().map(|l| l.value);
        let (low, high) = range(points.chain(bands).chain(limits)).unwrap_or((0.0, 1.0));
        let (low, high) = if self.from_zero {
            (low.min(0.0), high.max(0.0))
        } else {
            (low, high)
        };
        let (low, high) = widened(low, high);
        let air = (high - low) * 0.04;
        // Air must not push an axis of positive values below zero.
        let floor = if low >= 0.0 { 0.0 } else { f64::NEG_INFINITY };
        ((low - air).max(floor), high + air)
    }

    fn draw_curves(&self, svg: &mut Svg, frame: Frame, xs: Scale, ys: Scale) {
        svg.group("curves", |svg| {
            for limit in self.limits.iter().filter(|l| l.value.is_finite()) {
                let y = ys.at(limit.value);
                let stroke = Stroke {
                    colour: Theme::LIMIT,
                    width: 1.1,
                    dash: LIMIT_DASH,
                };
                svg.line(frame.x, y, frame.right(), y, stroke);
            }
            for (index, series) in self.series.iter().enumerate() {
                draw_band(svg, frame, xs, ys, series, series_style(index).colour);
            }
            for (index, series) in self.series.iter().enumerate().rev() {
                draw_curve(svg, frame, xs, ys, series, series_style(index));
            }
        });
    }

    fn entries(&self, ys: Scale, decimals: usize) -> Vec<Entry> {
        let (bottom, _) = ys.domain();
        let curves = self.series.iter().enumerate().map(|(index, series)| {
            let values = || series.points.iter().map(|p| p.1).filter(|v| v.is_finite());
            let last = values().next_back();
            let mean = values().sum::<f64>() / values().count().max(1) as f64;
            Entry {
                y: ys.at(last.unwrap_or(bottom)),
                body_y: ys.at(mean),
                // A curve that ends before the axis does is named without a leader.
                leader: last.is_some() && self.ends_at_the_right(series),
                swatch: Swatch::Series(series_style(index)),
                name: series.name.clone(),
                detail: if last.is_none() {
                    "no values".to_owned()
                } else {
                    series.detail.clone()
                },
            }
        });
        let limits = self.limits.iter().map(|limit| {
            let known = limit.value.is_finite();
            let y = ys.at(if known { limit.value } else { bottom });
            let detail = if known {
                format!("{} {}", number(limit.value, decimals + 1), self.y_unit)
            } else {
                "no value".to_owned()
            };
            Entry {
                y,
                body_y: y,
                leader: known,
                swatch: Swatch::Limit,
                name: limit.name.clone(),
                detail: detail.trim_end().to_owned(),
            }
        });
        curves.chain(limits).collect()
    }

    fn ends_at_the_right(&self, series: &BandSeries) -> bool {
        let (low, high) = self.x_domain();
        let last = series.points.iter().rev().find(|p| p.1.is_finite());
        last.is_some_and(|p| p.0 >= high - (high - low) * 0.01)
    }
}

fn range(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.filter(|v| v.is_finite()).fold(None, |range, v| {
        Some(range.map_or((v, v), |(low, high): (f64, f64)| (low.min(v), high.max(v))))
    })
}

/// The values gathered to at most two points a px.
fn gathered(frame: Frame, xs: Scale, values: impl Iterator<Item = (f64, f64)>) -> Envelope {
    let (start, end) = xs.domain();
    let mut envelope = Envelope::with_columns(start, end, frame.width.max(1.0) as usize);
    for (x, value) in values {
        envelope.push(x, value);
    }
    envelope
}

fn draw_band(svg: &mut Svg, frame: Frame, xs: Scale, ys: Scale, series: &BandSeries, fill: &str) {
    // A band with one end missing is missing as a whole.
    let whole = |p: &(f64, f64, f64)| (p.1 + p.2).is_finite();
    let end = |pick: fn(&(f64, f64, f64)) -> f64| {
        let values = series.band.iter().map(move |p| {
            let value = if whole(p) { pick(p) } else { f64::NAN };
            (p.0, value)
        });
        gathered(frame, xs, values).runs()
    };
    let (lows, highs) = (end(|p| p.1.min(p.2)), end(|p| p.1.max(p.2)));
    for (low, high) in lows.iter().zip(&highs) {
        let points: Vec<(f64, f64)> = high
            .iter()
            .chain(low.iter().rev())
            .map(|s| (xs.at(s.t_s), ys.at(s.value)))
            .collect();
        svg.polygon(&points, fill, BAND_OPACITY);
    }
}

fn draw_curve(
    svg: &mut Svg,
    frame: Frame,
    xs: Scale,
    ys: Scale,
    series: &BandSeries,
    style: SeriesStyle,
) {
    let stroke = Stroke {
        colour: style.colour,
        width: style.width,
        dash: style.dash,
    };
    for run in gathered(frame, xs, series.points.iter().copied()).runs() {
        let points: Vec<(f64, f64)> = run.iter().map(|s| (xs.at(s.t_s), ys.at(s.value))).collect();
        svg.polyline(&points, stroke);
        if series.points.len() <= MOST_DOTS {
            for (x, y) in points {
                svg.circle(x, y, 2.4, style.colour);
            }
        }
    }
}
