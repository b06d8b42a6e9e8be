//! Something that can be played again and again: a preset with a cue trace, or recorded frames.

use super::cap::{find_cap, is_mendable, CapResult};
use super::digest::{digestible, Digest};
use super::light::{light_of, LightLost};
use super::search::highest;
use super::verdict::CheckResult;
use super::watch::{all_conditions, watch, worst_of, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::{cap_levels, FrameStream};
use lampwright_model::Preset;
use rayon::prelude::*;

/// Frames of a digest that guesses a cap.
pub const GUESS_FRAMES: usize = 300;

/// Something to play on a prop, from its start and at any cap.
pub trait Trace {
    /// The preset's name; `None` for recorded frames.
    fn preset_name(&self) -> Option<String>;
    /// The name of the cue trace, or of the recording.
    fn cues_name(&self) -> String;
    /// The preset.
    fn preset(&self) -> Option<&Preset>;
    /// Length in seconds, where known.
    fn length_s(&self) -> Option<f64>;
    /// Starts it from the beginning at a cap.
    ///
    /// # Errors
    /// Faulty frames.
    fn open(&self, prop: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors>;
    /// The frames of these indices alone, which must rise, at a cap; `None` where they cannot be had without the others.
    ///
    /// # Errors
    /// Faulty frames.
    fn only(&self, _: Vec<u64>, _: u8) -> Result<Option<Box<dyn FrameStream + '_>>, InputErrors> {
        Ok(None)
    }
    /// The same cues played with a changed preset; `None` where there is no preset.
    fn with_preset(&self, _: Preset) -> Option<Box<dyn Trace>> {
        None
    }
}

/// Told what is being played and the seconds played so far.
pub type Progress<'a> = dyn Fn(&str, f64) + 'a;

/// A digest of a trace at cap 255, with the worst frames of a full play kept.
///
/// # Errors
/// Faulty frames.
pub fn digest(
    prop: &Prop,
    trace: &dyn Trace,
    worst: &[CheckResult],
    most: usize,
) -> Result<Digest, InputErrors> {
    Digest::of(prop, &mut || trace.open(prop, u8::MAX), worst, most)
}

/// Results of a digest over every condition, the worst of each.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn play_digest(
    prop: &Prop,
    preset: Option<&Preset>,
    digest: &Digest,
) -> Result<Vec<CheckResult>, StudyError> {
    let each = all_conditions(prop)
        .into_par_iter()
        .map(|c| digest.play(prop, preset, c))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(worst_of(each))
}

/// The cap of one trace, with what it costs.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn cap_of(
    prop: &Prop,
    trace: &dyn Trace,
    progress: &Progress<'_>,
) -> Result<CapResult, StudyError> {
    let name = trace.preset_name().unwrap_or_else(|| trace.cues_name());
    let full = |cap: u8| {
        let mut stream = trace.open(prop, cap)?;
        watch(prop, trace.preset(), stream.as_mut(), &|s| {
            progress(&format!("{name}, cap {cap}"), s);
        })
    };
    let mut found = find_cap(full, |worst, mendable| guess(prop, trace, worst, mendable))?;
    found.preset = trace.preset_name();
    found.cues = Some(trace.cues_name());
    found.light = match found.cap {
        Some(cap) => LightLost::between(
            light_of(prop, trace.open(prop, u8::MAX)?.as_mut())?,
            light_of(prop, trace.open(prop, cap)?.as_mut())?,
        ),
        None => None,
    };
    Ok(found)
}

/// The cap that a digest gives: a good place to begin to look.
fn guess(
    prop: &Prop,
    trace: &dyn Trace,
    worst: &[CheckResult],
    mendable: &dyn Fn(&CheckResult) -> bool,
) -> Result<u8, StudyError> {
    let digest = digest(prop, trace, worst, GUESS_FRAMES)?;
    let found = highest(255, 128, |cap| {
        let cap = u8::try_from(cap).unwrap_or(u8::MAX);
        let capped = digest.with_levels(|levels| cap_levels(levels, cap));
        let results = play_digest(prop, trace.preset(), &capped)?;
        Ok::<bool, StudyError>(!results.iter().any(|r| digestible(r) && mendable(r)))
    })?;
    Ok(u8::try_from(found).unwrap_or(u8::MAX))
}

/// Failures that neither cap nor budget mends, from the results at full brightness.
///
/// # Errors
/// As [`cap_of`].
pub fn not_mended(
    prop: &Prop,
    trace: &dyn Trace,
    full: &[CheckResult],
) -> Result<Vec<CheckResult>, StudyError> {
    let mut stream = trace.open(prop, super::cap::DIMMEST)?;
    let dimmest = watch(prop, trace.preset(), stream.as_mut(), &|_| {})?;
    Ok(super::cap::not_mended(&dimmest, full))
}

/// Whether a result is a failure that less light mends.
pub fn mends(result: &CheckResult, not_mended: &[CheckResult]) -> bool {
    is_mendable(result, not_mended)
}
