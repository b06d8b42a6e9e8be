//! The current budget of a limiter: frames whose estimated current is above it are dimmed as a whole.
//!
//! The limiter is the board's own ([`lampwright_model::limiter`]), with the figures of the parts that `pack` writes for
//! it: whole microamperes at ample supply, with the dark current. A frame of a digest stands alone, so there the scale
//! may rise at once; the plays that confirm a budget go through the limiter as the board runs it.

use super::cap::{is_mendable, moves_with_cap, not_mended, DIMMEST};
use super::digest::{digestible, Digest};
use super::flashes::{first_flashing, limit, AtBudgets, Behind};
use super::light::{light_of, LightLost};
use super::screen::{highest_clear, is_clear, Known};
use super::search::highest;
use super::trace::{digest, play_digest, Progress, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::{same, watch, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::board_data::packed_strips;
use crate::profile::{Chunk, FrameStream, LightMeter};
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
            limit(&mut self.limiter, meta, levels);
        }
        Ok(filled)
    }
}

/// The budget found for a prop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Budget {
    /// The highest budget, in steps of [`STEP_A`], at which, as at every smaller one, each check that dimming mends
    /// holds on every trace.
    pub budget_a: f64,
    /// The largest estimate of any frame, amperes: a budget above it changes nothing.
    pub largest_estimate_a: f64,
    /// The check that fails one step higher; `None` where none does.
    pub binding: Option<CheckResult>,
    /// What it costs each trace in light, in their order.
    pub light: Vec<Option<LightLost>>,
}

/// What is known of a trace before the search.
struct Subject<'t> {
    trace: &'t dyn Trace,
    digest: Digest,
    dimmest: Vec<CheckResult>,
    not_mended: Vec<CheckResult>,
}

impl Subject<'_> {
    fn mends(&self, r: &CheckResult) -> bool {
        is_mendable(r, &self.not_mended)
    }

    /// What [`super::screen`] asks for.
    fn with_known<T>(&self, then: impl FnOnce(&Known<'_>) -> T) -> T {
        then(&Known {
            dimmest: &self.dimmest,
            mendable: &|r| self.mends(r),
            judged: &|r| moves_with_cap(r) && !self.not_mended.iter().any(|n| same(n, r)),
        })
    }
}

/// A trace behind a limiter whose budget is `step` steps.
fn limited<'l>(
    prop: &Prop,
    estimate: &'l Estimate,
    trace: &'l dyn Trace,
    step: u32,
) -> Result<Box<dyn FrameStream + 'l>, InputErrors> {
    Ok(Box::new(Limited {
        inner: trace.open(prop, u8::MAX)?,
        limiter: estimate.limiter(budget(step)),
    }))
}

/// A search for a budget.
struct Hunt<'h> {
    prop: &'h Prop,
    estimate: Estimate,
    subjects: Vec<Subject<'h>>,
    progress: &'h Progress<'h>,
}

fn budget(step: u32) -> f64 {
    f64::from(step) * STEP_A
}

impl<'h> Hunt<'h> {
    /// Plays every trace without a limiter and at its dimmest.
    fn new(
        prop: &'h Prop,
        traces: &[&'h dyn Trace],
        progress: &'h Progress<'h>,
    ) -> Result<Self, StudyError> {
        let play = |trace: &dyn Trace, cap| {
            let mut stream = trace.open(prop, cap)?;
            watch(prop, trace.preset(), stream.as_mut(), &|s| {
                progress("budget", s);
            })
        };
        let subject = |trace: &&'h dyn Trace| {
            let full = play(*trace, u8::MAX)?;
            let dimmest = play(*trace, DIMMEST)?;
            Ok(Subject {
                digest: digest(prop, *trace, &full, GUESS_FRAMES)?,
                not_mended: not_mended(&dimmest, &full),
                dimmest,
                trace: *trace,
            })
        };
        Ok(Self {
            prop,
            estimate: Estimate::of(prop),
            subjects: traces
                .iter()
                .map(subject)
                .collect::<Result<_, StudyError>>()?,
            progress,
        })
    }

    /// The largest estimate of any frame, amperes.
    fn largest(&self) -> Result<f64, InputErrors> {
        let mut largest: f64 = 0.0;
        let mut chunk = Chunk::default();
        for subject in &self.subjects {
            let mut stream = subject.trace.open(self.prop, u8::MAX)?;
            while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
                for (_, levels) in chunk.frames() {
                    largest = largest.max(self.estimate.current_a(levels));
                }
            }
        }
        Ok(largest)
    }

    /// The step that digests give: a good place to begin to look.
    fn likely(&self, top: u32) -> Result<u32, StudyError> {
        highest(top, top / 2, |step| {
            for subject in &self.subjects {
                let dim = |l: &mut [u8]| self.estimate.limit(l, budget(step));
                let dimmed = subject.digest.with_levels(dim);
                let results = play_digest(self.prop, subject.trace.preset(), &dimmed)?;
                if results.iter().any(|r| digestible(r) && subject.mends(r)) {
                    return Ok(false);
                }
            }
            Ok(true)
        })
    }

    /// The highest step that the screen clears, with every smaller one, on every trace.
    fn clear_up_to(&self, likely: u32, top: u32) -> Result<u32, StudyError> {
        let mut clear = highest_clear(likely, likely + 1 >= top, |step| {
            for subject in &self.subjects {
                let mut stream = limited(self.prop, &self.estimate, subject.trace, step)?;
                let preset = subject.trace.preset();
                let told = |s| (self.progress)("budget", s);
                let is_clear = subject
                    .with_known(|known| is_clear(self.prop, preset, stream.as_mut(), known, &told));
                if !is_clear? {
                    return Ok(false);
                }
            }
            Ok(true)
        })?;
        for subject in &self.subjects {
            let meter = LightMeter::of(self.prop);
            let drawn = AtBudgets::new(subject.trace.open(self.prop, u8::MAX)?, meter);
            let steps = (0..=clear).map(|step| Behind::new(self.estimate.limiter(budget(step))));
            let flash =
                subject.with_known(|known| first_flashing(self.prop, drawn, steps, known))?;
            // Steps from 0 on: their places are their numbers.
            let flash = flash.and_then(|place| u32::try_from(place).ok());
            clear = flash.map_or(clear, |first| first.saturating_sub(1));
        }
        Ok(clear)
    }

    /// A failure at a step that less light mends, if there is one on any trace.
    fn failure(&self, step: u32) -> Result<Option<CheckResult>, StudyError> {
        for subject in &self.subjects {
            let mut stream = limited(self.prop, &self.estimate, subject.trace, step)?;
            let results = watch(self.prop, subject.trace.preset(), stream.as_mut(), &|s| {
                (self.progress)("budget", s);
            })?;
            if let Some(r) = results.into_iter().find(|r| subject.mends(r)) {
                return Ok(Some(r));
            }
        }
        Ok(None)
    }

    /// What a step costs each trace in light.
    fn light(&self, step: u32) -> Result<Vec<Option<LightLost>>, StudyError> {
        let lost = |subject: &Subject<'_>| {
            let mut whole = subject.trace.open(self.prop, u8::MAX)?;
            Ok(LightLost::between(
                light_of(self.prop, whole.as_mut())?,
                light_of(
                    self.prop,
                    limited(self.prop, &self.estimate, subject.trace, step)?.as_mut(),
                )?,
            ))
        };
        self.subjects.iter().map(lost).collect()
    }
}

/// Finds the highest budget that, with every smaller one, serves all traces, uncapped otherwise. As with a cap
/// ([`super::cap::find_cap`]), steps that [`super::screen`] does not clear are played one after the other up to the
/// first that fails.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn find_budget(
    prop: &Prop,
    traces: &[&dyn Trace],
    progress: &Progress<'_>,
) -> Result<Budget, StudyError> {
    let hunt = Hunt::new(prop, traces, progress)?;
    let largest = hunt.largest()?;
    // At this step no frame is dimmed.
    let last = (largest / STEP_A).ceil() as u32;
    let likely = hunt.likely(last + 1)?;
    let mut found = hunt.clear_up_to(likely, last + 1)?;
    let mut binding = None;
    while found < last && binding.is_none() {
        binding = hunt.failure(found + 1)?;
        found += u32::from(binding.is_none());
    }
    Ok(Budget {
        budget_a: budget(found),
        largest_estimate_a: largest,
        binding,
        light: hunt.light(found)?,
    })
}
