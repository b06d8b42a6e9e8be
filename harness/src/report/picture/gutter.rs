//! Labels in the margin right of a plot: each stands as near as it can to the line it names, none overlaps
//! another, and none lies over data.

use super::svg::{Anchor, Label, Stroke, Svg, Weight};
use super::text::{shorten, wrap};
use super::theme::{SeriesStyle, Theme, LIMIT_DASH, SIZE_NAME, SIZE_SMALL};

/// Room the labels need right of the plot, px.
pub(crate) const WIDTH: f64 = 214.0;

const LEADER: f64 = 16.0;
const SWATCH: f64 = 26.0;
const TEXT_X: f64 = LEADER + SWATCH + 8.0;
const TEXT_ROOM: f64 = WIDTH - TEXT_X - 2.0;
const LINE: f64 = 15.0;
const GAP: f64 = 5.0;
/// Lines that a long name may take.
const NAME_LINES: usize = 2;

/// What stands before a label's text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Swatch {
    /// A piece of a series' line.
    Series(SeriesStyle),
    /// A piece of a limit line.
    Limit,
}

/// A label to be placed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Entry {
    /// Where the line it names ends, px.
    pub(crate) y: f64,
    /// Whether a leader joins the label to that place.
    pub(crate) leader: bool,
    /// The sample of line before the text.
    pub(crate) swatch: Swatch,
    /// The name.
    pub(crate) name: String,
    /// What is said below the name; may be empty.
    pub(crate) detail: String,
}

impl Entry {
    fn lines(&self) -> Vec<String> {
        wrap(
            &self.name,
            SIZE_NAME,
            Weight::SemiBold,
            TEXT_ROOM,
            NAME_LINES,
        )
    }

    fn height(&self) -> f64 {
        let detail = usize::from(!self.detail.is_empty());
        (self.lines().len().max(1) + detail) as f64 * LINE + GAP
    }
}

/// Height that all labels together need, px.
pub(crate) fn height(entries: &[Entry]) -> f64 {
    entries.iter().map(Entry::height).sum()
}

/// Draws the labels right of `x`, within `top..=bottom` where they fit.
pub(crate) fn draw(svg: &mut Svg, x: f64, top: f64, bottom: f64, entries: &[Entry]) {
    let mut order: Vec<&Entry> = entries.iter().collect();
    order.sort_by(|a, b| a.y.total_cmp(&b.y));
    let wanted: Vec<(f64, f64)> = order.iter().map(|e| (e.y, e.height())).collect();
    let middles = spread(&wanted, top, bottom);
    svg.group("labels", |svg| {
        for (entry, middle) in order.iter().zip(middles) {
            draw_entry(svg, x, middle, entry);
        }
    });
}

fn draw_entry(svg: &mut Svg, x: f64, middle: f64, entry: &Entry) {
    let lines = entry.lines();
    let first = middle - entry.height() / 2.0 + GAP / 2.0 + LINE / 2.0;
    let (stroke, ink) = match entry.swatch {
        Swatch::Series(style) => (
            Stroke {
                colour: style.colour,
                width: style.width + 0.4,
                dash: style.dash,
            },
            Theme::INK,
        ),
        Swatch::Limit => (
            Stroke {
                colour: Theme::LIMIT,
                width: 1.4,
                dash: LIMIT_DASH,
            },
            Theme::LIMIT,
        ),
    };
    if entry.leader {
        let points = [
            (x + 1.0, entry.y),
            (x + 4.0, entry.y),
            (x + LEADER - 3.0, first),
            (x + LEADER, first),
        ];
        svg.polyline(&points, Stroke::solid(Theme::AXIS, 0.8));
    }
    svg.line(x + LEADER, first, x + LEADER + SWATCH, first, stroke);
    for (i, line) in lines.iter().enumerate() {
        svg.text_with_title(
            Label {
                text: line,
                x: x + TEXT_X,
                y: first + i as f64 * LINE + 4.3,
                anchor: Anchor::Start,
                size: SIZE_NAME,
                weight: Weight::SemiBold,
                colour: ink,
            },
            if i == 0 { &entry.name } else { "" },
        );
    }
    let detail = shorten(&entry.detail, SIZE_SMALL, Weight::Regular, TEXT_ROOM);
    svg.text(Label {
        text: &detail,
        x: x + TEXT_X,
        y: first + lines.len().max(1) as f64 * LINE + 4.0,
        anchor: Anchor::Start,
        size: SIZE_SMALL,
        weight: Weight::Regular,
        colour: Theme::MUTED,
    });
}

/// Middles for boxes of the given (wanted middle, height), sorted by wanted middle, so that none overlap, the
/// sum of squared moves is least, and all stay within `top..=bottom` if they fit there at all (else they run on
/// below it).
///
/// Taking the heights away turns this into a least-squares fit of an ascending sequence, which pooling adjacent
/// violators solves exactly (Ayer, Brunk, Ewing, Reid and Silverman, 1955).
pub(crate) fn spread(wanted: &[(f64, f64)], top: f64, bottom: f64) -> Vec<f64> {
    let mut offset = 0.0;
    let mut offsets = Vec::with_capacity(wanted.len());
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for &(middle, height) in wanted {
        let middle = if middle.is_finite() { middle } else { top };
        offsets.push(offset + height / 2.0);
        pools.push((middle - offset - height / 2.0, 1));
        offset += height;
        while let [.., (left, m), (right, n)] = pools[..] {
            if left <= right {
                break;
            }
            pools.pop();
            pools.pop();
            let mean = (left * m as f64 + right * n as f64) / (m + n) as f64;
            pools.push((mean, m + n));
        }
    }
    let highest = (bottom - offset).max(top);
    let placed = pools
        .iter()
        .flat_map(|&(at, count)| std::iter::repeat_n(at.clamp(top, highest), count));
    placed
        .zip(offsets)
        .map(|(at, offset)| at + offset)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn labels_with_room_stay_where_they_are_wanted() {
        let middles = spread(&[(20.0, 10.0), (60.0, 10.0)], 0.0, 100.0);
        assert_eq!(middles, [20.0, 60.0]);
    }

    #[test]
    fn equal_wishes_share_the_move() {
        let middles = spread(&[(50.0, 10.0), (50.0, 10.0), (50.0, 10.0)], 0.0, 100.0);
        assert_eq!(middles, [40.0, 50.0, 60.0]);
        let middles = spread(&[(98.0, 10.0), (98.0, 10.0)], 0.0, 100.0);
        assert_eq!(middles, [85.0, 95.0]);
    }

    proptest! {
        #[test]
        fn labels_never_overlap_and_stay_inside_if_they_fit(
            mut wanted in prop::collection::vec((-50.0..250.0f64, 5.0..20.0f64), 0..9),
        ) {
            wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
            let middles = spread(&wanted, 0.0, 200.0);
            prop_assert_eq!(middles.len(), wanted.len());
            for i in 1..middles.len() {
                let least = (wanted[i - 1].1 + wanted[i].1) / 2.0;
                prop_assert!(middles[i] - middles[i - 1] >= least - 1e-9);
            }
            for (middle, (_, height)) in middles.iter().zip(&wanted) {
                prop_assert!(middle - height / 2.0 >= -1e-9 && middle + height / 2.0 <= 200.0 + 1e-9);
            }
        }
    }
}
