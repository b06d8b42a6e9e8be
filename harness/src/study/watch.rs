//! Playing frames under several conditions at once and letting the checks watch.

use super::checks::{all, Check};
use super::verdict::{CheckResult, Verdict};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::electrical::NetworkError;
use crate::profile::bench::Bench;
use crate::profile::condition::Condition;
use crate::profile::figures::Figures;
use crate::profile::{each_chunk, shown, Chunk, FrameStream, Shown};
use lampwright_model::Preset;
use rayon::prelude::*;

/// How many frames are rendered before every condition plays them: enough to keep the cores busy, few
/// enough to stay in the cache.
const CHUNK_FRAMES: usize = 512;

/// Why a study cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// The frames are wrong.
    #[error(transparent)]
    Input(#[from] InputErrors),
    /// The netlist cannot be solved; the wiring findings say why in the builder's words.
    #[error("the netlist cannot be solved: {0}")]
    Network(#[from] NetworkError),
}

/// One condition with every check watching.
pub(super) struct Watcher<'a> {
    bench: Bench<'a>,
    checks: Vec<Box<dyn Check>>,
    seen: Seen,
}

/// What the frames so far come to.
struct Seen {
    charge_c: f64,
    time_s: f64,
    least_cell_v: f64,
}

impl Seen {
    const NOTHING: Self = Self {
        charge_c: 0.0,
        time_s: 0.0,
        least_cell_v: f64::INFINITY,
    };

    /// Takes a frame and gives its cell current.
    fn take(&mut self, figures: &Figures) -> f64 {
        // Without an operating point the prop is off.
        let cell_a = if figures.cell_a.is_finite() {
            figures.cell_a
        } else {
            0.0
        };
        self.charge_c += cell_a * figures.period_s;
        self.time_s += figures.period_s;
        // A frame without an operating point has no voltage: below any cut-off.
        self.least_cell_v = match figures.cell_peak_v {
            v if v.is_nan() => f64::NEG_INFINITY,
            v => self.least_cell_v.min(v),
        };
        cell_a
    }
}

impl<'a> Watcher<'a> {
    pub(super) fn new(
        prop: &'a Prop,
        preset: Option<&Preset>,
        condition: Condition,
    ) -> Result<Self, NetworkError> {
        Ok(Self::with(Bench::new(prop, condition)?, preset))
    }

    fn with(bench: Bench<'a>, preset: Option<&Preset>) -> Self {
        let checks = all(bench.subject(), preset);
        Self {
            bench,
            checks,
            seen: Seen::NOTHING,
        }
    }

    /// Plays the frames of a chunk.
    pub(super) fn play(&mut self, prop: &Prop, chunk: &Chunk, period_s: f64) {
        self.play_frames(shown(prop, chunk, period_s), |_, _| ());
    }

    /// Plays frames and hands over each with its cell current, amperes; 0 where it has no operating point.
    pub(super) fn play_frames<'f>(
        &mut self,
        frames: impl Iterator<Item = Shown<'f>>,
        mut see: impl FnMut(&Shown<'f>, f64),
    ) {
        let (bench, seen, checks) = (&mut self.bench, &mut self.seen, &mut self.checks);
        bench.play(frames, |frame, figures| {
            see(frame, seen.take(figures));
            for check in checks.iter_mut() {
                check.observe(figures);
            }
        });
    }

    /// Forgets what was seen; the cell stays as it is.
    pub(super) fn forget(&mut self, preset: Option<&Preset>) {
        self.checks = all(self.bench.subject(), preset);
        self.seen = Seen::NOTHING;
    }

    /// Mean cell current of what was seen, amperes.
    pub(super) fn mean_a(&self) -> f64 {
        self.seen.charge_c / self.seen.time_s
    }

    /// Length of what was seen, seconds.
    pub(super) fn time_s(&self) -> f64 {
        self.seen.time_s
    }

    /// Least cell voltage of what was seen, at the coincidence peak, volts.
    pub(super) fn least_cell_v(&self) -> f64 {
        self.seen.least_cell_v
    }

    pub(super) fn results(&self) -> Vec<CheckResult> {
        let condition = self.bench.circuit().condition.to_string();
        let results = self.checks.iter().flat_map(|c| c.results());
        results
            .map(|mut r| {
                if r.worst.is_some() {
                    r.condition = Some(condition.clone());
                }
                r
            })
            .collect()
    }
}

/// Plays a stream to its end under the nominal and the cautious conditions and gives one result a check
/// and part: the worst over the cautious conditions, with the nominal figure beside it.
///
/// `progress` is told the seconds played so far.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn watch(
    prop: &Prop,
    preset: Option<&Preset>,
    stream: &mut dyn FrameStream,
    progress: &dyn Fn(f64),
) -> Result<Vec<CheckResult>, StudyError> {
    Ok(worst_of(watch_each(
        prop,
        preset,
        all_conditions(prop),
        stream,
        progress,
    )?))
}

/// The cautious conditions of a prop and, last, the nominal one.
pub fn all_conditions(prop: &Prop) -> Vec<Condition> {
    let mut conditions = Condition::cautious_set(&prop.conditions);
    conditions.push(Condition::nominal());
    conditions
}

/// One result a check and part from the results of [`all_conditions`].
pub fn worst_of(mut each: Vec<Vec<CheckResult>>) -> Vec<CheckResult> {
    let nominal = each.pop().unwrap_or_default();
    merge(each.into_iter(), &nominal)
}

/// Plays a stream to its end under given conditions and gives the results under each.
///
/// # Errors
/// As [`watch`].
pub fn watch_each(
    prop: &Prop,
    preset: Option<&Preset>,
    conditions: Vec<Condition>,
    stream: &mut dyn FrameStream,
    progress: &dyn Fn(f64),
) -> Result<Vec<Vec<CheckResult>>, StudyError> {
    let watchers = conditions
        .into_iter()
        .map(|c| Watcher::new(prop, preset, c))
        .collect::<Result<Vec<_>, _>>()?;
    play_to_end(prop, watchers, stream, progress)
}

/// The worst over the cautious conditions where every frame draws the most of itself and whatever is dimmer.
///
/// # Errors
/// As [`watch`].
pub fn watch_hull(
    prop: &Prop,
    preset: Option<&Preset>,
    stream: &mut dyn FrameStream,
    progress: &dyn Fn(f64),
) -> Result<Vec<CheckResult>, StudyError> {
    let watchers = Condition::cautious_set(&prop.conditions)
        .into_iter()
        .map(|c| Ok(Watcher::with(Bench::new(prop, c)?.at_hull(), preset)))
        .collect::<Result<Vec<_>, NetworkError>>()?;
    let each = play_to_end(prop, watchers, stream, progress)?;
    Ok(merge(each.into_iter(), &[]))
}

fn play_to_end(
    prop: &Prop,
    mut watchers: Vec<Watcher<'_>>,
    stream: &mut dyn FrameStream,
    progress: &dyn Fn(f64),
) -> Result<Vec<Vec<CheckResult>>, StudyError> {
    let period_s = stream.period_s();
    let mut played = 0;
    each_chunk(
        stream,
        CHUNK_FRAMES,
        |chunk| {
            watchers
                .par_iter_mut()
                .for_each(|w| w.play(prop, chunk, period_s));
        },
        |frames| {
            played += frames;
            progress(played as f64 * period_s);
        },
    )?;
    Ok(watchers.iter().map(Watcher::results).collect())
}

/// The worst of every condition for each check and part.
fn merge(
    conditions: impl Iterator<Item = Vec<CheckResult>>,
    nominal: &[CheckResult],
) -> Vec<CheckResult> {
    let mut merged: Vec<CheckResult> = Vec::new();
    for result in conditions.flatten() {
        match merged.iter_mut().find(|m| same(m, &result)) {
            Some(m) if worse(&result, m) => *m = result,
            Some(_) => {}
            None => merged.push(result),
        }
    }
    for m in &mut merged {
        m.nominal = nominal.iter().find(|n| same(n, m)).and_then(|n| n.worst);
    }
    merged
}

/// Whether two results answer the same question: the same check of the same part, or a check of the whole
/// prop, which names as its part whatever failed.
pub(super) fn same(a: &CheckResult, b: &CheckResult) -> bool {
    let of_the_whole = matches!(a.id, "supply-collapse" | "polarity");
    a.same_subject(b) || (of_the_whole && a.id == b.id && a.unit == b.unit)
}

fn worse(a: &CheckResult, b: &CheckResult) -> bool {
    match (a.margin, b.margin) {
        (Some(x), Some(y)) => y.is_finite() && (x.is_nan() || x < y),
        // A condition that could not be checked outweighs one that holds, not one that fails.
        (None, Some(_)) => {
            b.verdict != Verdict::Fails && a.verdict == Verdict::NotChecked && a.worst.is_none()
        }
        _ => false,
    }
}

/// Sorts results: failures first, then by rising share of margin.
pub fn worst_first(results: &mut [CheckResult]) {
    results.sort_by(|a, b| {
        let share = |r: &CheckResult| r.margin_share.unwrap_or(f64::INFINITY);
        a.verdict
            .cmp(&b.verdict)
            .then(share(a).total_cmp(&share(b)))
    });
}
