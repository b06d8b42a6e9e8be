//! Playing frames under several conditions at once and letting the checks watch.

use super::checks::{all, Check};
use super::verdict::{CheckResult, Verdict};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::electrical::NetworkError;
use crate::profile::bench::Bench;
use crate::profile::condition::Condition;
use crate::profile::figures::Moment;
use crate::profile::sound;
use crate::profile::{Chunk, FrameStream};
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
    charge_c: f64,
    time_s: f64,
    least_cell_v: f64,
    last_a: f64,
}

impl<'a> Watcher<'a> {
    pub(super) fn new(
        prop: &'a Prop,
        preset: Option<&Preset>,
        condition: Condition,
    ) -> Result<Self, NetworkError> {
        let bench = Bench::new(prop, condition)?;
        let checks = all(bench.subject(), preset);
        Ok(Self {
            bench,
            checks,
            charge_c: 0.0,
            time_s: 0.0,
            least_cell_v: f64::INFINITY,
            last_a: 0.0,
        })
    }

    /// Plays the frames of a chunk.
    pub(super) fn play(&mut self, prop: &Prop, chunk: &Chunk, period_s: f64) {
        for (meta, levels) in chunk.frames() {
            self.step(prop, levels, Moment::from(meta), period_s);
        }
    }

    /// Plays one frame that lasts `period_s`.
    pub(super) fn step(&mut self, prop: &Prop, levels: &[u8], moment: Moment, period_s: f64) {
        let sound = sound::level(&prop.sound, &moment);
        let figures = self.bench.step(levels, moment, period_s, sound);
        // Without an operating point the prop is off.
        self.last_a = if figures.cell_a.is_finite() {
            figures.cell_a
        } else {
            0.0
        };
        self.charge_c += self.last_a * period_s;
        self.time_s += period_s;
        // A frame without an operating point has no voltage: below any cut-off.
        self.least_cell_v = match figures.cell_peak_v {
            v if v.is_nan() => f64::NEG_INFINITY,
            v => self.least_cell_v.min(v),
        };
        for check in &mut self.checks {
            check.observe(figures);
        }
    }

    /// Forgets what was seen; the cell stays as it is.
    pub(super) fn forget(&mut self, preset: Option<&Preset>) {
        self.checks = all(self.bench.subject(), preset);
        (self.charge_c, self.time_s, self.least_cell_v) = (0.0, 0.0, f64::INFINITY);
    }

    /// Mean cell current of what was seen, amperes.
    pub(super) fn mean_a(&self) -> f64 {
        self.charge_c / self.time_s
    }

    /// Cell current of the last frame, amperes; 0 where it has no operating point.
    pub(super) fn last_a(&self) -> f64 {
        self.last_a
    }

    /// Length of what was seen, seconds.
    pub(super) fn time_s(&self) -> f64 {
        self.time_s
    }

    /// Least cell voltage of what was seen, at the coincidence peak, volts.
    pub(super) fn least_cell_v(&self) -> f64 {
        self.least_cell_v
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
    let mut watchers = conditions
        .into_iter()
        .map(|c| Watcher::new(prop, preset, c))
        .collect::<Result<Vec<_>, _>>()?;
    let period_s = stream.period_s();
    let mut chunk = Chunk::default();
    let mut played = 0;
    loop {
        let frames = stream.fill(&mut chunk, CHUNK_FRAMES)?;
        if frames == 0 {
            break;
        }
        watchers
            .par_iter_mut()
            .for_each(|w| w.play(prop, &chunk, period_s));
        played += frames;
        progress(played as f64 * period_s);
    }
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
