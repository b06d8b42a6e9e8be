//! Predicted against measured: by state of the prop, and by steps in which the light stands still.

use super::frames::Frames;
use super::problem::{Predicted, Problem, Quantity};
use crate::profile::figures::Moment;
use lampwright_model::State;
use serde::Serialize;

/// Light that stands still at least this long is a step, seconds.
const LEAST_STEP_S: f64 = 0.2;
/// Most steps that are told one by one.
const MOST_STEPS: usize = 400;

/// A measured reading beside what the model says before and after calibration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Time in the play, seconds.
    pub time_s: f64,
    /// What was read.
    pub measured: f64,
    /// What the stated values give.
    pub before: f64,
    /// What the fitted values give.
    pub after: f64,
}

/// How well a model meets the readings of a group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Meeting {
    /// Mean of the predictions.
    pub mean: f64,
    /// Highest prediction.
    pub peak: f64,
    /// Mean of readings less predictions.
    pub offset: f64,
    /// Root mean square of readings less predictions, about that offset.
    pub spread: f64,
    /// 95 % of the readings lie this near to their predictions.
    pub within_95: f64,
}

/// A group of readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// The state, or the step in words.
    pub name: String,
    /// When a step begins in the play, seconds.
    pub time_s: Option<f64>,
    /// Number of readings.
    pub readings: usize,
    /// Mean of the readings.
    pub mean: f64,
    /// Highest reading.
    pub peak: f64,
    /// Against the stated values.
    pub before: Meeting,
    /// Against the fitted values.
    pub after: Meeting,
}

/// Agreement of one series.
#[derive(Debug, Clone, Serialize)]
pub struct Agreement {
    /// Which log.
    pub log: usize,
    /// "current" or "voltage".
    pub quantity: &'static str,
    /// Unit of every figure.
    pub unit: &'static str,
    /// The whole log.
    pub whole: Group,
    /// Dark, rising, lit, falling; those that occur.
    pub states: Vec<Group>,
    /// Steps in which the light stands still, in order.
    pub steps: Vec<Group>,
    /// Every pair, for pictures.
    #[serde(skip)]
    pub pairs: Vec<Pair>,
}

/// Compares every series with the predictions before and after.
pub fn agreements(
    problem: &Problem<'_>,
    before: &Predicted,
    after: &Predicted,
    x: &[f64],
) -> Vec<Agreement> {
    let each = problem.observed.iter().filter_map(|o| {
        let frames = problem.plays.get(o.play)?;
        let lag_s = problem.lag_s(o.log, x);
        let old = problem.read(o, before, x);
        let new = problem.read(o, after, x);
        let pieces = o.series.pieces.iter().zip(old.iter().zip(&new));
        let pairs: Vec<Pair> = pieces
            .map(|(p, (before, after))| Pair {
                time_s: p.time_s - lag_s,
                measured: p.value,
                before: *before,
                after: *after,
            })
            .collect();
        let (quantity, unit) = match o.quantity {
            Quantity::Current => ("current", "A"),
            _ => ("voltage", "V"),
        };
        Some(Agreement {
            log: o.log,
            quantity,
            unit,
            whole: group("whole log".to_owned(), None, pairs.iter())?,
            states: states(frames, &pairs),
            steps: steps(frames, &pairs, o.series.width_s),
            pairs,
        })
    });
    each.collect()
}

fn state_of(frames: &Frames, time_s: f64) -> Option<State> {
    let frame = frames.at(time_s)?;
    frames.moments.get(frame).and_then(|m: &Moment| m.state)
}

fn states(frames: &Frames, pairs: &[Pair]) -> Vec<Group> {
    let all = [
        (State::Dark, "dark"),
        (State::Rising, "rising"),
        (State::Lit, "lit"),
        (State::Falling, "falling"),
    ];
    let each = all.into_iter().filter_map(|(state, name)| {
        let own = pairs
            .iter()
            .filter(|p| state_of(frames, p.time_s) == Some(state));
        group(name.to_owned(), None, own)
    });
    each.collect()
}

/// Runs of frames with the same levels; a reading counts if it lies wholly within one.
fn steps(frames: &Frames, pairs: &[Pair], width_s: f64) -> Vec<Group> {
    let mut out = Vec::new();
    let mut first = 0;
    let mut next_pair = 0;
    while first < frames.len() && out.len() < MOST_STEPS {
        let levels = frames.levels_of(first);
        let mut end = first + 1;
        while end < frames.len() && frames.levels_of(end) == levels {
            end += 1;
        }
        let (from, to) = (first as f64 * frames.period_s, end as f64 * frames.period_s);
        while pairs
            .get(next_pair)
            .is_some_and(|p| p.time_s - width_s / 2.0 < from)
        {
            next_pair += 1;
        }
        if to - from >= LEAST_STEP_S {
            let rest = pairs.get(next_pair..).unwrap_or_default();
            let own = rest.iter().take_while(|p| p.time_s + width_s / 2.0 <= to);
            out.extend(group(step_name(levels, frames), Some(from), own));
        }
        first = end;
    }
    out
}

/// How many pixels are lit and how strongly, channel by channel.
fn step_name(levels: &[u8], frames: &Frames) -> String {
    let pixels = frames.pixels.max(1);
    let channels = (levels.len() / pixels).max(1);
    let lit = levels
        .chunks(channels)
        .filter(|p| p.iter().any(|l| *l > 0))
        .count();
    if lit == 0 {
        return "nothing lit".to_owned();
    }
    let letters = ["R", "G", "B", "W"];
    let each = (0..channels).filter_map(|c| {
        let own = levels.iter().skip(c).step_by(channels);
        let highest = own.copied().max().filter(|l| *l > 0)?;
        Some(format!("{} {highest}", letters.get(c).unwrap_or(&"?")))
    });
    let words: Vec<String> = each.collect();
    format!("{lit} px, {}", words.join(" "))
}

fn group<'a>(
    name: String,
    time_s: Option<f64>,
    pairs: impl Iterator<Item = &'a Pair>,
) -> Option<Group> {
    let own: Vec<&Pair> = pairs.collect();
    if own.is_empty() {
        return None;
    }
    let n = own.len() as f64;
    Some(Group {
        name,
        time_s,
        readings: own.len(),
        mean: own.iter().map(|p| p.measured).sum::<f64>() / n,
        peak: own
            .iter()
            .map(|p| p.measured)
            .fold(f64::NEG_INFINITY, f64::max),
        before: meeting(&own, |p| p.before),
        after: meeting(&own, |p| p.after),
    })
}

fn meeting(own: &[&Pair], of: impl Fn(&Pair) -> f64) -> Meeting {
    let n = own.len() as f64;
    let residuals: Vec<f64> = own.iter().map(|p| p.measured - of(p)).collect();
    let offset = residuals.iter().sum::<f64>() / n;
    let square: f64 = residuals.iter().map(|r| (r - offset).powi(2)).sum();
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let at = ((0.95 * n).ceil() as usize).clamp(1, sizes.len()) - 1;
    Meeting {
        mean: own.iter().map(|p| of(p)).sum::<f64>() / n,
        peak: own.iter().map(|p| of(p)).fold(f64::NEG_INFINITY, f64::max),
        offset,
        spread: (square / n).sqrt(),
        within_95: sizes.get(at).copied().unwrap_or(f64::NAN),
    }
}
