//! The frame of a plot: grid, ticks, axis numbers and titles.

use super::scale::{Scale, Ticks};
use super::svg::{Anchor, Label, Stroke, Svg, Weight};
use super::text::{width_px, CAP_HEIGHT};
use super::theme::{Theme, SIZE_NAME, SIZE_SMALL};

/// A plot's area, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Frame {
    /// Left.
    pub(crate) x: f64,
    /// Top.
    pub(crate) y: f64,
    /// Width.
    pub(crate) width: f64,
    /// Height.
    pub(crate) height: f64,
}

impl Frame {
    /// Right edge, px.
    pub(crate) fn right(&self) -> f64 {
        self.x + self.width
    }

    /// Bottom edge, px.
    pub(crate) fn bottom(&self) -> f64 {
        self.y + self.height
    }

    /// A scale across the frame.
    pub(crate) fn across(&self, from: (f64, f64)) -> Scale {
        Scale::new(from, (self.x, self.right()))
    }

    /// A scale up the frame.
    pub(crate) fn up(&self, from: (f64, f64)) -> Scale {
        Scale::new(from, (self.bottom(), self.y))
    }
}

/// Baseline that centres small text on `y`.
pub(crate) fn centred(y: f64, size: f64) -> f64 {
    y + CAP_HEIGHT * size / 2.0
}

/// Horizontal grid lines with their numbers left of the frame.
pub(crate) fn value_axis(svg: &mut Svg, frame: Frame, scale: Scale, ticks: &Ticks) {
    svg.group("value-axis", |svg| {
        for (&value, label) in ticks.values.iter().zip(&ticks.labels) {
            let y = scale.at(value);
            let colour = if value == 0.0 {
                Theme::AXIS
            } else {
                Theme::GRID
            };
            svg.line(frame.x, y, frame.right(), y, Stroke::solid(colour, 1.0));
            svg.text(axis_number(
                label,
                frame.x - 8.0,
                centred(y, SIZE_SMALL),
                Anchor::End,
            ));
        }
    });
}

/// Vertical grid lines, without numbers.
pub(crate) fn vertical_grid(svg: &mut Svg, frame: Frame, scale: Scale, ticks: &Ticks) {
    svg.group("grid", |svg| {
        for &value in &ticks.values {
            let x = scale.at(value);
            svg.line(
                x,
                frame.y,
                x,
                frame.bottom(),
                Stroke::solid(Theme::GRID, 1.0),
            );
        }
    });
}

/// Height of the numbers and the title below a frame, px.
pub(crate) const BOTTOM_AXIS_HEIGHT: f64 = 40.0;

/// Ticks and numbers below the frame and the title under them. A number that would touch the one before it is
/// left out.
pub(crate) fn bottom_axis(svg: &mut Svg, frame: Frame, scale: Scale, ticks: &Ticks, title: &str) {
    svg.group("bottom-axis", |svg| {
        let y = frame.bottom();
        svg.line(
            frame.x,
            y,
            frame.right(),
            y,
            Stroke::solid(Theme::AXIS, 1.0),
        );
        let mut free_from = f64::NEG_INFINITY;
        for (&value, label) in ticks.values.iter().zip(&ticks.labels) {
            let x = scale.at(value);
            svg.line(x, y, x, y + 4.0, Stroke::solid(Theme::AXIS, 1.0));
            let half = width_px(label, SIZE_SMALL, Weight::Regular) / 2.0;
            if x - half < free_from {
                continue;
            }
            free_from = x + half + 6.0;
            svg.text(axis_number(label, x, y + 17.0, Anchor::Middle));
        }
        svg.text(Label {
            text: title,
            x: frame.x + frame.width / 2.0,
            y: y + 34.0,
            anchor: Anchor::Middle,
            size: SIZE_SMALL,
            weight: Weight::Regular,
            colour: Theme::MUTED,
        });
    });
}

/// Height of a heading above a frame, px.
pub(crate) const HEADING_HEIGHT: f64 = 26.0;

/// The name of what a frame shows and its unit, above its left end.
pub(crate) fn heading(svg: &mut Svg, frame: Frame, name: &str, unit: &str) {
    let y = frame.y - 9.0;
    svg.text(Label {
        text: name,
        x: frame.x,
        y,
        anchor: Anchor::Start,
        size: SIZE_NAME,
        weight: Weight::SemiBold,
        colour: Theme::INK,
    });
    let after = frame.x + width_px(name, SIZE_NAME, Weight::SemiBold) + 6.0;
    svg.text(Label {
        text: unit,
        x: after,
        y,
        anchor: Anchor::Start,
        size: SIZE_NAME,
        weight: Weight::Regular,
        colour: Theme::MUTED,
    });
}

fn axis_number(text: &str, x: f64, y: f64, anchor: Anchor) -> Label<'_> {
    Label {
        text,
        x,
        y,
        anchor,
        size: SIZE_SMALL,
        weight: Weight::Regular,
        colour: Theme::MUTED,
    }
}
