//! The current budget of a limiter: frames whose estimated current is above it are dimmed as a whole.
//!
//! The limiter is the board's own ([`lampwright_model::limiter`]), with the figures of the parts that `pack` writes for
//! it: whole microamperes at ample supply, with the dark current. A frame of a digest stands alone, so there the scale
//! may rise at once; the plays that confirm a budget go through the limiter as the board runs it.

use super::digest::digestible;
use super::light::{light_of, LightLost};
use super::search::highest;
use super::trace::{digest, mends, not_mended, play_digest, Progress, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::{watch, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::board_data::packed_strips;
use crate::profile::{Chunk, FrameStream};
use lampwright_model::limiter::{Limiter, Limits, StripLoad};
use lampwright_model::{Layout, Millis};
use serde::Serialize;

/// Step of the budget, amperes.
pub const STEP_A: f64 = 0.01;
const CHUNK_FRAMES: usize = 512;

/// The strips of a prop as the limiter knows them.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    strips: Vec<StripLoad>,
    channels: usize,
}

impl Estimate {
    /// For the strips of a prop.
    pub fn of(prop: &Prop) -> Self {
        let strips = packed_strips(prop);
        Self {
            strips: strips.iter().map(|s| s.data().load()).collect(),
            channels: prop.frame_channels(),
        }
    }

    /// The board's limiter with a budget in amperes.
    pub fn limiter(&self, budget_a: f64) -> Limiter<'_> {
        // Beyond 4294 A it counts as that.
        let budget_ua = (budget_a * 1e6).round() as u32;
        Limiter::new(&self.strips, self.channels, Limits::budget(budget_ua))
    }

    /// The estimate of a frame, amperes.
    pub fn current_a(&self, levels: &[u8]) -> f64 {
        let limiter = Limiter::new(&self.strips, self.channels, Limits::none());
        f64::from(limiter.estimate_ua(levels)) / 1e6
    }

    /// Dims a frame that stands alone to a budget.
    pub fn limit(&self, levels: &mut [u8], budget_a: f64) {
        self.limiter(budget_a).apply(Millis(0), levels);
    }
}

/// A stream behind a limiter.
struct Limited<'a> {
    inner: Box<dyn FrameStream + 'a>,
    limiter: Limiter<'a>,
}

impl FrameStream for Limited<'_> {
    fn layout(&self) -> Layout {
        self.inner.layout()
    }

    fn period_s(&self) -> f64 {
        self.inner.period_s()
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        let filled = self.inner.fill(chunk, frames)?;
        let length = chunk.frame_len.max(1);
        for (meta, levels) in chunk.meta.iter().zip(chunk.levels.chunks_exact_mut(length)) {
            // The counter has 32 bits: what is above them is lost, as on the board.
            let now = Millis((meta.time_s * 1e3).round() as u64 as u32);
            self.limiter.apply(now, levels);
        }
        Ok(filled)
    }
}

/// The budget found for a prop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Budget {
    /// The highest budget, in steps of [`STEP_A`], at which every check that dimming mends holds on every trace.
    pub budget_a: f64,
    /// The largest estimate of any frame, amperes: a budget above it changes nothing.
    pub largest_estimate_a: f64,
    /// The check that fails one step higher; `None` where none does.
    pub binding: Option<CheckResult>,
    /// What it costs each trace in light, in their order.
    pub light: Vec<Option<LightLost>>,
}

/// Finds the budget that serves all traces, uncapped otherwise.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn find_budget(
    prop: &Prop,
    traces: &[&dyn Trace],
    progress: &Progress<'_>,
) -> Result<Budget, StudyError> {
    let estimate = Estimate::of(prop);
    let mut largest: f64 = 0.0;
    let mut digests = Vec::new();
    let mut dark = Vec::new();
    for trace in traces {
        let mut stream = trace.open(prop, u8::MAX)?;
        let worst = watch(prop, trace.preset(), stream.as_mut(), &|s| {
            progress("budget", s)
        })?;
        digests.push(digest(prop, *trace, &worst, GUESS_FRAMES)?);
        dark.push(not_mended(prop, *trace, &worst)?);
        let mut stream = trace.open(prop, u8::MAX)?;
        let mut chunk = Chunk::default();
        while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
            for (_, levels) in chunk.frames() {
                largest = largest.max(estimate.current_a(levels));
            }
        }
    }
    let top = (largest / STEP_A).ceil() as u32 + 1;
    let budget = |step: u32| f64::from(step) * STEP_A;
    let guess = highest(top, top / 2, |step| {
        for ((trace, digest), dark) in traces.iter().zip(&digests).zip(&dark) {
            let dimmed = digest.with_levels(|l| estimate.limit(l, budget(step)));
            let results = play_digest(prop, trace.preset(), &dimmed)?;
            if results.iter().any(|r| digestible(r) && mends(r, dark)) {
                return Ok(false);
            }
        }
        Ok::<bool, StudyError>(true)
    })?;
    let mut binding: Option<(u32, CheckResult)> = None;
    let found = highest(top, guess, |step| {
        for (trace, dark) in traces.iter().zip(&dark) {
            let mut stream = Limited {
                inner: trace.open(prop, u8::MAX)?,
                limiter: estimate.limiter(budget(step)),
            };
            let results = watch(prop, trace.preset(), &mut stream, &|s| {
                progress("budget", s)
            })?;
            if let Some(r) = results.into_iter().find(|r| mends(r, dark)) {
                if binding.as_ref().is_none_or(|(s, _)| step <= *s) {
                    binding = Some((step, r));
                }
                return Ok(false);
            }
        }
        Ok::<bool, StudyError>(true)
    })?;
    let binding = binding
        .filter(|(step, _)| *step == found + 1)
        .map(|(_, r)| r);
    let light = traces
        .iter()
        .map(|trace| {
            let mut limited = Limited {
                inner: trace.open(prop, u8::MAX)?,
                limiter: estimate.limiter(budget(found)),
            };
            Ok(LightLost::between(
                light_of(prop, trace.open(prop, u8::MAX)?.as_mut())?,
                light_of(prop, &mut limited)?,
            ))
        })
        .collect::<Result<Vec<_>, StudyError>>()?;
    Ok(Budget {
        budget_a: budget(found),
        largest_estimate_a: largest,
        binding,
        light,
    })
}
