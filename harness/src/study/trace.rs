//! Something that can be played again and again: a preset with a cue trace, or recorded frames.

use super::cap::{find_cap, likely_cap, CapResult, DIMMEST};
use super::digest::{digestible, Digest};
use super::flashes::{first_flashing, first_flashing_of, AtCaps};
use super::light::{light_of, LightLost};
use super::screen::{highest_clear, is_clear, Known};
use super::search::highest;
use super::verdict::CheckResult;
use super::watch::{all_conditions, watch, worst_of, StudyError};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::{cap_levels, FrameStream, Uncapped};
use lampwright_model::Preset;
use rayon::prelude::*;

/// Frames of a digest that guesses a cap.
pub const GUESS_FRAMES: usize = 300;

/// Something to play on a prop, from its start and at any cap.
pub trait Trace: Sync {
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
    /// Its frames drawn once for every cap; `None` where each cap has to be asked for.
    ///
    /// # Errors
    /// As [`Trace::open`].
    fn uncapped(&self, _: &Prop) -> Result<Option<Uncapped<'_>>, InputErrors> {
        Ok(None)
    }
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

/// How the search for a cap knows that the dimmer ones hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Search {
    /// From a guess: the cap found holds and one step more fails; whether a dimmer one fails is not looked at. For
    /// comparisons, which need many caps.
    Likely,
    /// Clears most of them at once ([`super::screen`]) and plays the rest.
    Screened,
    /// Plays every cap.
    EveryCap,
}

/// The cap of one trace, with what it costs.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn cap_of(
    prop: &Prop,
    trace: &dyn Trace,
    search: Search,
    progress: &Progress<'_>,
) -> Result<CapResult, StudyError> {
    let name = trace.preset_name().unwrap_or_else(|| trace.cues_name());
    let play = |cap: u8| {
        let mut stream = trace.open(prop, cap)?;
        watch(prop, trace.preset(), stream.as_mut(), &|s| {
            progress(&format!("{name}, cap {cap}"), s);
        })
    };
    let mut found = match search {
        Search::Likely => likely_cap(play, |full, mendable| likely(prop, trace, full, mendable))?,
        Search::EveryCap => find_cap(play, |_, _| Ok(DIMMEST))?,
        Search::Screened => find_cap(play, |full, known| {
            let likely = likely(prop, trace, full, known.mendable)?;
            clear_up_to(prop, trace, likely, known, progress)
        })?,
    };
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

/// The highest cap that the screen clears, from a likely cap.
fn clear_up_to(
    prop: &Prop,
    trace: &dyn Trace,
    likely: u8,
    known: &Known<'_>,
    progress: &Progress<'_>,
) -> Result<u8, StudyError> {
    let name = trace.preset_name().unwrap_or_else(|| trace.cues_name());
    let is_clear = |cap: u32| {
        let cap = u8::try_from(cap).unwrap_or(u8::MAX);
        let mut stream = trace.open(prop, cap)?;
        is_clear(prop, trace.preset(), stream.as_mut(), known, &|s| {
            progress(&format!("{name}, every cap to {cap}"), s);
        })
    };
    let clear = highest_clear(u32::from(likely), likely == u8::MAX, is_clear)?;
    let clear = u8::try_from(clear).unwrap_or(u8::MAX).max(DIMMEST);
    let unknown: Vec<u8> = (DIMMEST.saturating_add(1)..=clear).collect();
    progress(&format!("{name}, flashes"), 0.0);
    let first = match trace.uncapped(prop)? {
        Some(drawn) => first_flashing(prop, AtCaps(drawn), unknown.iter().copied(), known)?,
        None => first_flashing_of(prop, &unknown, &|cap| trace.open(prop, cap), known)?,
    };
    let flash = first.and_then(|place| unknown.get(place));
    Ok(flash.map_or(clear, |first| first - 1))
}

/// The cap that a digest gives, 255 where no failure is to be mended: a good place to begin to look.
fn likely(
    prop: &Prop,
    trace: &dyn Trace,
    full: &[CheckResult],
    mendable: &dyn Fn(&CheckResult) -> bool,
) -> Result<u8, StudyError> {
    if !full.iter().any(mendable) {
        return Ok(u8::MAX);
    }
    let digest = digest(prop, trace, full, GUESS_FRAMES)?;
    let found = highest(255, 128, |cap| {
        let cap = u8::try_from(cap).unwrap_or(u8::MAX);
        let capped = digest.with_levels(|levels| cap_levels(levels, cap));
        let results = play_digest(prop, trace.preset(), &capped)?;
        Ok::<bool, StudyError>(!results.iter().any(|r| digestible(r) && mendable(r)))
    })?;
    Ok(u8::try_from(found).unwrap_or(u8::MAX))
}
