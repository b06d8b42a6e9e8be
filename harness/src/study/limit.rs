//! The current budget of a limiter: frames whose estimated current is above it are dimmed as a whole.
//!
//! The estimate is what a board can afford: drive level times stated channel current, summed up, at ample
//! supply, without dark current. A frame above the budget has all its levels scaled by budget over
//! estimate and rounded down, so that its estimate never exceeds the budget.

use super::digest::digestible;
use super::light::{light_of, LightLost};
use super::search::highest;
use super::trace::{digest, mends, not_mended, play_digest, Progress, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::{watch, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::{Chunk, FrameStream};
use lampwright_model::Layout;
use serde::Serialize;

/// Step of the budget, amperes.
pub const STEP_A: f64 = 0.01;
const CHUNK_FRAMES: usize = 512;

/// Estimates the current of a frame from its levels.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Amperes a level step of each byte of a frame.
    steps: Vec<f32>,
}

impl Estimate {
    /// For the strips of a prop.
    pub fn of(prop: &Prop) -> Self {
        let channels = prop.frame_channels();
        let mut steps = vec![0.0; prop.pixels() as usize * channels];
        for (_, strip) in prop.strips() {
            for (c, channel) in strip.pixel.channels.iter().enumerate() {
                for pixel in 0..strip.pixels as usize {
                    let at = (strip.first as usize + pixel) * channels + c;
                    if let Some(step) = steps.get_mut(at) {
                        *step = (channel.current.si() / 255.0) as f32;
                    }
                }
            }
        }
        Self { steps }
    }

    /// The estimate of a frame, amperes.
    pub fn current_a(&self, levels: &[u8]) -> f64 {
        let sum: f32 = levels
            .iter()
            .zip(&self.steps)
            .map(|(l, s)| f32::from(*l) * s)
            .sum();
        f64::from(sum)
    }

    /// Dims a frame to a budget.
    pub fn limit(&self, levels: &mut [u8], budget_a: f64) {
        let current = self.current_a(levels);
        if current <= budget_a {
            return;
        }
        let share = budget_a / current;
        for level in levels {
            // Between 0 and the level itself.
            *level = (f64::from(*level) * share).floor() as u8;
        }
    }
}

/// A stream behind a limiter.
struct Limited<'a> {
    inner: Box<dyn FrameStream + 'a>,
    estimate: &'a Estimate,
    budget_a: f64,
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
        for levels in chunk.levels.chunks_exact_mut(length) {
            self.estimate.limit(levels, self.budget_a);
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
                estimate: &estimate,
                budget_a: budget(step),
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
                estimate: &estimate,
                budget_a: budget(found),
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
