//! What should hold of any engine. Each property takes a way to make a fresh one.

use super::run::{byte_name, play, Broken, Run, Seen};
use crate::build::pack::BoardData;
use crate::profile::{cap_levels, light_of_levels};
use crate::study::checks::worst_flashes;
use lampwright_model::{Cue, FrameSource, Layout, State};
use std::fmt::Debug;

/// No panic, no error, every byte of every frame written, the shape of frames kept, and dark frames
/// dark.
///
/// # Errors
/// What was seen instead.
pub fn sound<S>(make: impl Fn() -> S, run: &Run<'_>) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    // A byte that keeps what was in the buffer gives another frame from another filling.
    let layout = make().layout();
    let first = play(&mut make(), run, 0x00)?;
    let second = play(&mut make(), run, 0xff)?;
    same(
        layout,
        &first,
        &second,
        "is left as it was in the buffer, or differs",
    )?;
    for seen in &first {
        if seen.state == State::Dark {
            if let Some(at) = seen.levels.iter().position(|level| *level > 0) {
                let what = format!("dark, but {} is lit", byte_name(layout, at));
                return Err(Broken::at(seen.at_ms, what));
            }
        }
    }
    Ok(())
}

/// The same cues at the same times give the same frames, wherever the millisecond counter starts.
///
/// # Errors
/// What differs first.
pub fn deterministic<S>(make: impl Fn() -> S, run: &Run<'_>) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let layout = make().layout();
    let first = play(&mut make(), run, 0)?;
    let again = play(&mut make(), run, 0)?;
    same(layout, &first, &again, "differs from run to run")?;
    let elsewhere = Run {
        // So that the counter wraps a second into the run.
        start: run
            .start
            .plus(u32::MAX.wrapping_sub(run.start.0).wrapping_sub(1000)),
        ..run.clone()
    };
    let wrapped = play(&mut make(), &elsewhere, 0)?;
    same(
        layout,
        &first,
        &wrapped,
        "depends on the start of the millisecond counter",
    )
}

/// No level is above the cap, and none goes down when the cap goes up. A source that cannot set its
/// cap has its frames scaled, as everywhere in the harness.
///
/// # Errors
/// The level that does, and where.
pub fn monotone_cap<S>(make: impl Fn() -> S, run: &Run<'_>, caps: (u8, u8)) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let layout = make().layout();
    let capped = |cap: u8| {
        let mut source = make();
        let own = source.set_cap(cap);
        let mut seen = play(&mut source, run, 0)?;
        if !own {
            for frame in &mut seen {
                cap_levels(&mut frame.levels, cap);
            }
        }
        Ok::<Vec<Seen>, Broken>(seen)
    };
    let (lower, upper) = (caps.0.min(caps.1), caps.0.max(caps.1));
    let (low, high) = (capped(lower)?, capped(upper)?);
    for (low, high) in low.iter().zip(&high) {
        let pairs = low.levels.iter().zip(&high.levels);
        for (at, (l, h)) in pairs.enumerate() {
            let byte = || byte_name(layout, at);
            if l > h {
                let what = format!("{} is {l} at cap {lower}, but {h} at cap {upper}", byte());
                return Err(Broken::at(low.at_ms, what));
            }
            if *l > lower || *h > upper {
                let what = format!("{} is {l} at cap {lower} and {h} at cap {upper}", byte());
                return Err(Broken::at(low.at_ms, what));
            }
        }
    }
    Ok(())
}

/// The estimated current of a frame, µA, rounded up: stated channel currents in proportion to the drive
/// levels, and the dark current of every pixel.
#[must_use]
pub fn estimate_ua(board: &BoardData, layout: Layout, levels: &[u8]) -> u64 {
    let channels = layout.channels.count();
    let mut pixels = levels.chunks_exact(channels);
    let (mut lit, mut dark_ua) = (0u64, 0u64);
    for strip in &board.strips {
        for pixel in pixels.by_ref().take(usize::from(strip.pixels)) {
            let parts = pixel.iter().zip(&strip.channel_ua);
            lit += parts
                .map(|(level, ua)| u64::from(*level) * u64::from(*ua))
                .sum::<u64>();
            dark_ua += u64::from(strip.dark_ua);
        }
    }
    lit.div_ceil(255) + dark_ua
}

/// No frame's estimated current is above a budget, for a source that limits itself.
///
/// # Errors
/// The frame that draws most.
pub fn within_budget<S>(
    make: impl Fn() -> S,
    run: &Run<'_>,
    board: &BoardData,
    budget_ua: u32,
) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let layout = make().layout();
    let seen = play(&mut make(), run, 0)?;
    let estimates = seen
        .iter()
        .map(|s| (estimate_ua(board, layout, &s.levels), s.at_ms));
    match estimates.max_by_key(|(ua, _)| *ua) {
        Some((ua, at_ms)) if ua > u64::from(budget_ua) => {
            let what = format!("the frame draws {ua} µA, the budget is {budget_ua} µA");
            Err(Broken::at(at_ms, what))
        }
        _ => Ok(()),
    }
}

/// Not more flashes in any second than `most`, general and red, counted as the check `flash-rate` does
/// (WCAG 2.2, success criterion 2.3.1: three). Flashing light can harm even where this holds.
///
/// # Errors
/// How many there are.
pub fn flash_rate<S>(make: impl Fn() -> S, run: &Run<'_>, most: u32) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let layout = make().layout();
    let seen = play(&mut make(), run, 0)?;
    let lights = seen
        .iter()
        .map(|s| (f64::from(s.at_ms) / 1e3, light_of_levels(layout, &s.levels)));
    let (general, red) = worst_flashes(lights);
    for (kind, flashes) in [("general", general), ("red", red)] {
        if flashes > most {
            let what = format!("{flashes} {kind} flashes within one second, {most} are allowed");
            return Err(Broken::new(what));
        }
    }
    Ok(())
}

/// How a source goes on and off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timing {
    /// The cue that makes it rise while it is dark.
    pub rise_on: Cue,
    /// How long the rise takes, ms.
    pub rise_ms: u32,
    /// The cue that makes it fall while it is lit.
    pub fall_on: Cue,
    /// How long the fall takes, ms.
    pub fall_ms: u32,
    /// Time from frame to frame, ms.
    pub period_ms: u32,
}

/// The source is lit not before its rise is over and not later than one frame after, and dark likewise;
/// on its way it says so. The cues come at `offset_ms` after a frame.
///
/// # Errors
/// What it said instead.
pub fn on_time<S>(make: impl Fn() -> S, timing: &Timing, offset_ms: u32) -> Result<(), Broken>
where
    S: FrameSource,
    S::Error: Debug,
{
    let period_ms = timing.period_ms.max(1);
    let rise_at = offset_ms;
    let fall_at = rise_at + timing.rise_ms + 10 * period_ms + offset_ms;
    let cues = [(rise_at, timing.rise_on), (fall_at, timing.fall_on)];
    let run = Run {
        period_ms,
        after_ms: timing.fall_ms + 10 * period_ms,
        ..Run::of(&cues)
    };
    for seen in play(&mut make(), &run, 0)? {
        let at = seen.at_ms;
        // A frame within its period after the end of a way may still show its last step.
        let fits = match seen.state {
            State::Dark => at < rise_at || at >= fall_at + timing.fall_ms,
            State::Rising => at >= rise_at && at <= rise_at + timing.rise_ms + period_ms,
            State::Lit => at >= rise_at + timing.rise_ms && at < fall_at,
            State::Falling => at >= fall_at && at <= fall_at + timing.fall_ms + period_ms,
        };
        if !fits {
            let what = format!(
                "{}, with a rise of {} ms from {rise_at} ms and a fall of {} ms from {fall_at} ms",
                seen.state, timing.rise_ms, timing.fall_ms
            );
            return Err(Broken::at(at, what));
        }
    }
    Ok(())
}

/// Whether two runs gave the same; the first byte or state that `differs`, in words.
fn same(layout: Layout, a: &[Seen], b: &[Seen], differs: &str) -> Result<(), Broken> {
    for (a, b) in a.iter().zip(b) {
        let pairs = a.levels.iter().zip(&b.levels);
        if let Some(at) = pairs.clone().position(|(a, b)| a != b) {
            let what = format!("{} {differs}", byte_name(layout, at));
            return Err(Broken::at(a.at_ms, what));
        }
        if a.state != b.state {
            let what = format!("{} or {}: the state {differs}", a.state, b.state);
            return Err(Broken::at(a.at_ms, what));
        }
    }
    Ok(())
}
