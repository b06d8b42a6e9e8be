//! Playing the samples of a sweep.

use super::design::{Design, Spread};
use super::tolerance::{drawn, Tolerance};
use crate::build::prop::Prop;
use crate::profile::condition::Condition;
use crate::profile::{cap_levels, Chunk, FrameStream};
use crate::study::digest::{digestible, Digest};
use crate::study::search::highest;
use crate::study::trace::Trace;
use crate::study::verdict::{CheckResult, Verdict};
use crate::study::watch::{same, watch, StudyError, Watcher};
use crate::units::Quantity;
use lampwright_model::Preset;
use rayon::prelude::*;

/// Frames of the digest that stands for the trace.
const DIGEST_FRAMES: usize = 260;
/// Props on which the digest's error is measured.
const CALIBRATIONS: u64 = 12;
/// How many times the largest deviation seen a figure must be clear of its limit.
const GUARD: f64 = 4.0;
/// Frames in a chunk of the whole trace.
const CHUNK_FRAMES: usize = 512;
/// Dimensions before the tolerances: state of charge and temperature.
const CONDITIONS: u64 = 2;
/// Where the calibration draws lie among the plain ones.
const CALIBRATION_FROM: u64 = 1 << 40;

/// What a sweep varies, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Seed and number of samples.
    pub design: Design,
    /// How values lie between the ends of their tolerances.
    pub spread: Spread,
    /// Range of the state of charge at the start, 0..1.
    pub soc: (f64, f64),
    /// Range of the temperature, kelvin.
    pub temperature_k: (f64, f64),
    /// Brightness cap.
    pub cap: u8,
    /// Plays the whole trace for every sample.
    pub full: bool,
}

/// One sample's outcome.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Its number.
    pub index: u64,
    /// State of charge at the start, 0..1.
    pub soc: f64,
    /// Temperature, kelvin.
    pub temperature_k: f64,
    /// Share at which each tolerance was drawn.
    pub shares: Vec<f64>,
    /// For each check of [`Sweep::checks`] the least margin as a share of its limit; negative where it
    /// fails, minus infinity where no operating point exists.
    pub margins: Vec<f64>,
    /// Whether the whole trace was played.
    pub full: bool,
}

/// One line of results on which digest and whole trace are compared.
#[derive(Debug, Clone)]
struct Line {
    template: CheckResult,
    /// Mean of figure of the whole trace over figure of the digest.
    ratio: f64,
    /// Largest deviation from it, as a share.
    deviation: f64,
}

/// A sweep that is ready to play samples.
#[derive(Debug)]
pub struct Sweep<'a> {
    prop: &'a Prop,
    preset: Option<&'a Preset>,
    settings: Settings,
    tolerances: Vec<Tolerance>,
    whole: Vec<Chunk>,
    period_s: f64,
    digest: Digest,
    lines: Vec<Line>,
    checks: Vec<&'static str>,
}

impl<'a> Sweep<'a> {
    /// Plays the trace once in every condition, digests it and measures the digest's error.
    ///
    /// # Errors
    /// Faulty frames, or a netlist that cannot be solved.
    pub fn new(
        prop: &'a Prop,
        trace: &'a dyn Trace,
        tolerances: Vec<Tolerance>,
        settings: Settings,
        progress: &dyn Fn(f64),
    ) -> Result<Self, StudyError> {
        let worst = {
            let mut stream = trace.open(prop, settings.cap)?;
            watch(prop, trace.preset(), stream.as_mut(), progress)?
        };
        let digest = Digest::of(
            prop,
            &mut || trace.open(prop, settings.cap),
            &worst,
            DIGEST_FRAMES,
        )?;
        let mut checks: Vec<&'static str> = Vec::new();
        for r in worst.iter().filter(|r| judged(r)) {
            if !checks.contains(&r.id) {
                checks.push(r.id);
            }
        }
        let (whole, period_s) = record(trace.open(prop, settings.cap)?.as_mut())?;
        let lines = worst.into_iter().filter(judged).map(|template| Line {
            template,
            ratio: 1.0,
            deviation: 0.0,
        });
        let mut sweep = Self {
            prop,
            preset: trace.preset(),
            tolerances,
            whole,
            period_s,
            digest,
            lines: lines.collect(),
            checks,
            settings,
        };
        sweep.calibrate()?;
        Ok(sweep)
    }

    /// The tolerances, in the order of [`Sample::shares`].
    pub fn tolerances(&self) -> &[Tolerance] {
        &self.tolerances
    }

    /// Ids of the checks, in the order of [`Sample::margins`].
    pub fn checks(&self) -> &[&'static str] {
        &self.checks
    }

    /// Frames of the digest, and of the whole trace.
    pub fn frames(&self) -> (usize, usize) {
        (self.digest.len(), self.whole.iter().map(Chunk::len).sum())
    }

    /// The largest deviation between digest and whole trace that calibration saw, with its check.
    pub fn deviation(&self) -> Option<(&'static str, f64)> {
        self.lines
            .iter()
            .map(|l| (l.template.id, l.deviation))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    fn calibrate(&mut self) -> Result<(), StudyError> {
        if self.settings.full {
            return Ok(());
        }
        let pairs = (0..CALIBRATIONS)
            .into_par_iter()
            .map(|k| {
                let share = |d| self.settings.design.plain(CALIBRATION_FROM + k, d);
                let (prop, condition) = self.draw(share).1;
                let short = self.digest.play(&prop, self.preset, condition)?;
                let long = self.play_whole(&prop, condition)?;
                Ok((short, long))
            })
            .collect::<Result<Vec<_>, StudyError>>()?;
        for line in &mut self.lines {
            let ratios: Vec<f64> = pairs
                .iter()
                .filter_map(|(short, long)| {
                    let of =
                        |list: &[CheckResult]| list.iter().find(|r| same(r, &line.template))?.worst;
                    let ratio = of(long)? / of(short)?;
                    ratio.is_finite().then_some(ratio)
                })
                .collect();
            if ratios.is_empty() {
                continue;
            }
            line.ratio = ratios.iter().sum::<f64>() / ratios.len() as f64;
            line.deviation = ratios
                .iter()
                .map(|r| (r / line.ratio - 1.0).abs())
                .fold(1e-9, f64::max);
        }
        Ok(())
    }

    /// The draw of a sample: state of charge, temperature, shares; the prop and its condition.
    #[allow(clippy::type_complexity)]
    fn draw(&self, share: impl Fn(u64) -> f64) -> ((f64, f64, Vec<f64>), (Prop, Condition)) {
        let between = |(low, high): (f64, f64), u: f64| low + (high - low) * u;
        let soc = between(self.settings.soc, share(0));
        let temperature_k = between(self.settings.temperature_k, share(1));
        let shares: Vec<f64> = (0..self.tolerances.len() as u64)
            .map(|d| share(CONDITIONS + d))
            .collect();
        let prop = drawn(self.prop, &self.tolerances, &shares, self.settings.spread);
        let condition = self.condition(soc, temperature_k);
        ((soc, temperature_k, shares), (prop, condition))
    }

    fn play_whole(
        &self,
        prop: &Prop,
        condition: Condition,
    ) -> Result<Vec<CheckResult>, StudyError> {
        let mut watcher = Watcher::new(prop, self.preset, condition)?;
        for chunk in &self.whole {
            watcher.play(prop, chunk, self.period_s);
        }
        Ok(watcher.results())
    }

    /// Plays one sample.
    ///
    /// # Errors
    /// A netlist that cannot be solved.
    pub fn sample(&self, index: u64) -> Result<Sample, StudyError> {
        let ((soc, temperature_k, shares), (prop, condition)) =
            self.draw(|d| self.settings.design.share(index, d));
        let short = if self.settings.full {
            None
        } else {
            self.clear_margins(&self.digest.play(&prop, self.preset, condition)?)
        };
        let (margins, full) = match short {
            Some(margins) => (margins, false),
            None => (self.margins(&self.play_whole(&prop, condition)?), true),
        };
        Ok(Sample {
            index,
            soc,
            temperature_k,
            shares,
            margins,
            full,
        })
    }

    /// Least margin, as a share of its limit, with its check, of a prop whose tolerances are drawn at given
    /// shares, over the corners of the ranges of charge and temperature; by the digest.
    ///
    /// # Errors
    /// As [`sample`](Self::sample).
    pub fn corner(&self, shares: &[f64]) -> Result<(f64, &'static str), StudyError> {
        let prop = drawn(self.prop, &self.tolerances, shares, self.settings.spread);
        let (soc, temperature) = (self.settings.soc, self.settings.temperature_k);
        let mut worst = (f64::INFINITY, "");
        for soc in [soc.0, soc.1] {
            for temperature_k in [temperature.0, temperature.1] {
                let condition = self.condition(soc, temperature_k);
                let results = self.digest.play(&prop, self.preset, condition)?;
                for (margin, check) in self.margins(&results).into_iter().zip(&self.checks) {
                    if margin < worst.0 {
                        worst = (margin, *check);
                    }
                }
            }
        }
        Ok(worst)
    }

    fn condition(&self, soc: f64, temperature_k: f64) -> Condition {
        Condition {
            soc,
            temperature_k,
            aged: self.prop.conditions.aged,
            cautious: false,
            wire_length_tolerance: 0.0,
        }
    }

    /// Plays the whole trace for samples that a digest decided and gives how many verdicts differ.
    ///
    /// # Errors
    /// As [`sample`](Self::sample).
    pub fn audit(&self, samples: &[&Sample]) -> Result<usize, StudyError> {
        let differing = samples
            .par_iter()
            .map(|s| {
                let (_, (prop, condition)) = self.draw(|d| self.settings.design.share(s.index, d));
                let margins = self.margins(&self.play_whole(&prop, condition)?);
                let pairs = margins.iter().zip(&s.margins);
                Ok(pairs.filter(|(a, b)| (**a < 0.0) != (**b < 0.0)).count())
            })
            .collect::<Result<Vec<usize>, StudyError>>()?;
        Ok(differing.into_iter().sum())
    }

    /// Plays samples on every core, in order.
    ///
    /// # Errors
    /// As [`sample`](Self::sample).
    pub fn samples(&self, indices: &[u64]) -> Result<Vec<Sample>, StudyError> {
        indices.par_iter().map(|i| self.sample(*i)).collect()
    }

    /// The highest cap, from 0, at which every check of a sample holds, by its digest: good to a step or
    /// two. `None` where it fails in darkness.
    ///
    /// # Errors
    /// As [`sample`](Self::sample).
    pub fn safe_cap(&self, index: u64, capped: &[Digest]) -> Result<Option<u8>, StudyError> {
        let (_, (prop, condition)) = self.draw(|d| self.settings.design.share(index, d));
        let holds = |cap: usize| {
            let Some(digest) = capped.get(cap) else {
                return Ok(false);
            };
            let results = digest.play(&prop, self.preset, condition)?;
            Ok::<bool, StudyError>(!self.margins(&results).iter().any(|m| *m < 0.0))
        };
        if holds(usize::from(u8::MAX))? {
            return Ok(Some(u8::MAX));
        }
        if !holds(0)? {
            return Ok(None);
        }
        let found = highest(255, 127, |c| holds(c as usize))?;
        Ok(u8::try_from(found).ok())
    }

    /// The digest at every cap, for [`safe_cap`](Self::safe_cap). The sweep must have been made at cap 255.
    pub fn capped_digests(&self) -> Vec<Digest> {
        (0..=u8::MAX)
            .map(|cap| self.digest.with_levels(|levels| cap_levels(levels, cap)))
            .collect()
    }

    /// Least margins from a digest, `None` if one lies too near its limit to be told from it.
    fn clear_margins(&self, results: &[CheckResult]) -> Option<Vec<f64>> {
        let mut margins = vec![f64::INFINITY; self.checks.len()];
        for line in &self.lines {
            let Some(r) = results.iter().find(|r| same(r, &line.template)) else {
                continue;
            };
            let (Some(limit), Some(worst)) = (r.limit, r.worst) else {
                continue;
            };
            if r.id == "supply-collapse" && worst > 0.0 || worst.is_nan() {
                return None;
            }
            let figure = worst * line.ratio;
            let margin = r.side.margin(limit, figure);
            if r.id != "supply-collapse" && margin.abs() <= GUARD * line.deviation * figure.abs() {
                return None;
            }
            self.keep(&mut margins, r, share(margin, limit));
        }
        Some(margins)
    }

    fn margins(&self, results: &[CheckResult]) -> Vec<f64> {
        let mut margins = vec![f64::INFINITY; self.checks.len()];
        for r in results.iter().filter(|r| judged(r)) {
            let value = match (r.margin, r.limit) {
                (Some(m), Some(limit)) if m.is_finite() => share(m, limit),
                _ => f64::NEG_INFINITY,
            };
            self.keep(&mut margins, r, value);
        }
        margins
    }

    fn keep(&self, margins: &mut [f64], r: &CheckResult, value: f64) {
        if let Some(i) = self.checks.iter().position(|id| *id == r.id) {
            if let Some(m) = margins.get_mut(i) {
                *m = m.min(value);
            }
        }
    }
}

/// A margin as a share of its limit; without a limit to share by only its sign is kept.
fn share(margin: f64, limit: f64) -> f64 {
    if limit == 0.0 {
        return if margin < 0.0 {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
    }
    margin / limit.abs()
}

/// Results that vary with the tolerances and have a verdict.
fn judged(r: &CheckResult) -> bool {
    digestible(r) && r.verdict != Verdict::NotChecked && r.worst.is_some() && r.limit.is_some()
}

fn record(stream: &mut dyn FrameStream) -> Result<(Vec<Chunk>, f64), StudyError> {
    let mut whole = Vec::new();
    loop {
        let mut chunk = Chunk::default();
        if stream.fill(&mut chunk, CHUNK_FRAMES)? == 0 {
            return Ok((whole, stream.period_s()));
        }
        whole.push(chunk);
    }
}

/// The settings of a cautious day: everything between the prop's own limits.
pub fn settings_of(prop: &Prop, design: Design, cap: u8) -> Settings {
    let c = &prop.conditions;
    Settings {
        design,
        spread: Spread::Even,
        soc: (c.soc_floor.si(), 1.0),
        temperature_k: (c.temperature_min.si(), c.temperature_max.si()),
        cap,
        full: false,
    }
}
