//! One plot of series over time with its limits, axis and labels.

use super::axes::{self, Frame};
use super::envelope::Sample;
use super::gutter::{self, Entry, Swatch};
use super::scale::{nice_ticks, number, prefix, widened, Scale, Ticks, TimeStyle};
use super::series::{Draw, Limit, Series, Worst};
use super::svg::{Anchor, Label, Stroke, Svg};
use super::theme::{series_style, SeriesStyle, Theme, LIMIT_DASH};

/// A plot of series that share a unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Panel<'a> {
    /// Heading.
    pub(crate) name: &'a str,
    /// Base unit of the values (A, V).
    pub(crate) unit: &'a str,
    /// The series, at most as many as there are styles to be told apart.
    pub(crate) series: &'a [Series],
    /// The limits.
    pub(crate) limits: &'a [Limit],
    /// Whether the axis begins at zero (currents) or near the data (voltages).
    pub(crate) from_zero: bool,
    /// How times are written.
    pub(crate) time: TimeStyle,
}

/// A limit more than this many times the greatest value is named, but not drawn: it would flatten the data.
const FARTHEST_LIMIT: f64 = 2.5;

/// Most ticks of a value axis.
const TICKS: usize = 7;

/// A panel's value axis: its range in the base unit, its ticks in the shown unit.
struct ValueAxis {
    domain: (f64, f64),
    ticks: Ticks,
    factor: f64,
    unit: String,
}

impl Panel<'_> {
    /// Height that the labels beside the plot need, px.
    pub(crate) fn label_height(&self) -> f64 {
        let frame = Frame {
            x: 0.0,
            y: 0.0,
            width: 1.0,
            height: 100.0,
        };
        let axis = self.axis();
        gutter::height(&self.entries(frame.up(axis.domain), &axis))
    }

    /// Draws the plot; shades and grid of time lie below it already.
    pub(crate) fn draw(&self, svg: &mut Svg, frame: Frame, times: Scale) {
        let axis = self.axis();
        let values = frame.up(axis.domain);
        let shown = frame.up((axis.domain.0 * axis.factor, axis.domain.1 * axis.factor));
        svg.group("panel", |svg| {
            axes::heading(svg, frame, self.name, &format!("in {}", axis.unit));
            axes::value_axis(svg, frame, shown, &axis.ticks);
            self.draw_limits(svg, frame, values);
            // The first series is the one to read first, so it is drawn last, on top.
            for (index, series) in self.series.iter().enumerate().rev() {
                draw_series(svg, frame, times, values, series, series_style(index));
            }
            self.draw_worst(svg, times, values);
            if self.series.iter().all(|s| s.values.highest().is_none()) {
                draw_no_values(svg, frame);
            }
            let entries = self.entries(values, &axis);
            gutter::draw(
                svg,
                frame.right(),
                frame.y - 6.0,
                frame.bottom() + 6.0,
                &entries,
            );
        });
    }

    fn data_range(&self) -> Option<(f64, f64)> {
        let lows = self.series.iter().filter_map(|s| s.values.lowest());
        let highs = self.series.iter().filter_map(|s| s.values.highest());
        let low = lows.map(|s| s.value).reduce(f64::min)?;
        let high = highs.map(|s| s.value).reduce(f64::max)?;
        Some((low, high))
    }

    /// Whether a limit is near enough to the data to be drawn.
    fn is_near(&self, limit: &Limit) -> bool {
        let size = self
            .data_range()
            .map_or(0.0, |(low, high)| low.abs().max(high.abs()));
        limit.value.is_finite()
            && (!self.from_zero || size == 0.0 || limit.value.abs() <= FARTHEST_LIMIT * size)
    }

    fn axis(&self) -> ValueAxis {
        let limits = self
            .limits
            .iter()
            .filter(|l| self.is_near(l))
            .map(|l| l.value);
        let (data_low, data_high) = self.data_range().unzip();
        let all = || limits.clone().chain(data_low).chain(data_high);
        let low = all().reduce(f64::min).unwrap_or(0.0);
        let high = all().reduce(f64::max).unwrap_or(1.0);
        let (low, high) = if self.from_zero {
            (low.min(0.0), high.max(0.0))
        } else {
            (low, high)
        };
        // A little air, so that no line lies on the frame.
        let air = (high - low) * 0.04;
        let floor = if low >= 0.0 { 0.0 } else { f64::NEG_INFINITY };
        let low = if self.from_zero && low == 0.0 {
            low
        } else {
            (low - air).max(floor)
        };
        let domain = widened(low, high + air);
        let (factor, prefix) = prefix(domain.0.abs().max(domain.1.abs()));
        ValueAxis {
            domain,
            ticks: nice_ticks(domain.0 * factor, domain.1 * factor, TICKS),
            factor,
            unit: format!("{prefix}{}", self.unit),
        }
    }

    fn entries(&self, values: Scale, axis: &ValueAxis) -> Vec<Entry> {
        let say = |value: f64| {
            let decimals = (axis.ticks.decimals + 1).max(if axis.factor == 1.0 { 2 } else { 0 });
            format!("{} {}", number(value * axis.factor, decimals), axis.unit)
        };
        let mut entries: Vec<Entry> = Vec::new();
        for (index, series) in self.series.iter().enumerate() {
            let last = series.values.last().map(|s| s.value);
            entries.push(Entry {
                y: values.at(last.unwrap_or(axis.domain.0)),
                body_y: values.at(series.worst_sample().map_or(axis.domain.0, |s| s.value)),
                leader: last.is_some(),
                swatch: Swatch::Series(series_style(index)),
                name: series.name.clone(),
                detail: match (series.worst, series.worst_sample()) {
                    (_, None) if last.is_none() => "no values".to_owned(),
                    (_, None) | (Worst::Unmarked, _) => String::new(),
                    (Worst::Highest, Some(s)) => self.at(&format!("max {}", say(s.value)), s),
                    (Worst::Lowest, Some(s)) => self.at(&format!("min {}", say(s.value)), s),
                },
            });
        }
        for limit in self.limits {
            let near = self.is_near(limit);
            let detail = match limit.value {
                v if !v.is_finite() => "no value".to_owned(),
                v if near => say(v),
                v => {
                    // Far from the data, so it is said in a unit of its own size.
                    let (factor, prefix) = prefix(v);
                    format!(
                        "{} {prefix}{}, off the scale",
                        number(v * factor, 2),
                        self.unit
                    )
                }
            };
            let y = values.at(if near { limit.value } else { axis.domain.1 });
            entries.push(Entry {
                y,
                body_y: y,
                leader: near,
                swatch: Swatch::Limit,
                name: limit.name.clone(),
                detail,
            });
        }
        entries
    }

    fn at(&self, what: &str, sample: Sample) -> String {
        format!("{what} at {}", self.time.say(sample.t_s))
    }

    fn draw_limits(&self, svg: &mut Svg, frame: Frame, values: Scale) {
        for limit in self.limits.iter().filter(|l| self.is_near(l)) {
            let y = values.at(limit.value);
            let stroke = Stroke {
                colour: Theme::LIMIT,
                width: 1.1,
                dash: LIMIT_DASH,
            };
            svg.line(frame.x, y, frame.right(), y, stroke);
        }
    }

    fn draw_worst(&self, svg: &mut Svg, times: Scale, values: Scale) {
        for (index, series) in self.series.iter().enumerate().rev() {
            if let Some(sample) = series.worst_sample() {
                let colour = series_style(index).colour;
                svg.ring(
                    times.at_clamped(sample.t_s),
                    values.at(sample.value),
                    3.2,
                    Theme::PAPER,
                    Stroke::solid(colour, 1.6),
                );
            }
        }
    }
}

fn draw_no_values(svg: &mut Svg, frame: Frame) {
    let (x, y) = (frame.x + frame.width / 2.0, frame.y + frame.height / 2.0);
    svg.rect(x - 40.0, y - 15.0, 80.0, 21.0, Theme::PAPER);
    svg.text(Label::small("no values", x, y, Anchor::Middle));
}

/// Px between samples below which a held value's steps could not be seen.
const VISIBLE_STEP: f64 = 3.0;

/// Draws a series, at most two points a px column.
pub(crate) fn draw_series(
    svg: &mut Svg,
    frame: Frame,
    times: Scale,
    values: Scale,
    series: &Series,
    style: SeriesStyle,
) {
    let stroke = Stroke {
        colour: style.colour,
        width: style.width,
        dash: style.dash,
    };
    let columns = frame.width.max(1.0) as usize;
    let step_px = series
        .values
        .step_s()
        .map_or(f64::INFINITY, |step| times.at(step) - times.at(0.0));
    for run in series.values.resampled(columns).runs() {
        let at = |s: &Sample| (times.at_clamped(s.t_s), values.at(s.value));
        let points: Vec<(f64, f64)> = if series.draw == Draw::Held && step_px >= VISIBLE_STEP {
            steps(&run, step_px, frame.right(), at)
        } else {
            run.iter().map(at).collect()
        };
        svg.polyline(&points, stroke);
    }
}

/// Each value held until the next, the last one for one step.
fn steps(
    run: &[Sample],
    step_px: f64,
    right: f64,
    at: impl Fn(&Sample) -> (f64, f64),
) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(run.len() * 2);
    for sample in run {
        let (x, y) = at(sample);
        if let Some(&(_, before)) = points.last() {
            points.push((x, before));
        }
        points.push((x, y));
    }
    if let (Some(&(x, y)), true) = (points.last(), step_px.is_finite()) {
        points.push(((x + step_px).min(right), y));
    }
    points
}
