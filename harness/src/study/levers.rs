//! What a change of the prop would give: each feasible one recomputed, the best first.
//!
//! Every change is first played by a digest; those that seem to gain anything are then recomputed in full, by the
//! search that compares ([`super::cap::likely_cap`]): the cap holds and one step more fails, all frames played.

mod capacitors;
mod changes;

use super::cap::{likely_cap, CapResult};
use super::digest::{digestible, Digest};
use super::trace::{cap_of, digest, play_digest, Progress, Search, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::StudyError;
use crate::build::prop::Prop;
use crate::profile::cap_levels;
use serde::Serialize;

/// Opacity of a dimmed layer, as a share of what it was.
const DIMMED: f64 = 0.75;

/// A change of the prop.
struct Change {
    words: String,
    prop: Prop,
}

/// What a change gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lever {
    /// What is changed.
    pub change: String,
    /// The cap as drawn.
    pub cap_before: Option<u8>,
    /// The cap with the change.
    pub cap: Option<u8>,
    /// Steps of cap gained.
    pub gain: i32,
    /// Failures that no cap mended and that the change mends.
    pub mends: Vec<String>,
    /// What binds then.
    pub binding: Option<String>,
    /// Light at the new cap over light at the old one; null where unknown.
    pub light_ratio: Option<f64>,
}

/// The levers of one trace, from its cap as drawn.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn levers(
    prop: &Prop,
    trace: &dyn Trace,
    drawn: &CapResult,
    progress: &Progress<'_>,
) -> Result<Vec<Lever>, StudyError> {
    let digest = digest(prop, trace, &drawn.seen, GUESS_FRAMES)?;
    let guess = drawn.cap.unwrap_or(u8::MAX);
    let before = by_digest(prop, trace, &digest, guess)?;
    let mut found = Vec::new();
    for change in changes::changes(prop) {
        progress(&change.words, 0.0);
        // A change that the network refuses is not feasible.
        if let Ok(after) = by_digest(&change.prop, trace, &digest, guess) {
            found.push((change, after));
        }
    }
    let gain = |a: &CapResult, b: &CapResult| {
        i32::from(a.cap.unwrap_or(0)) - i32::from(b.cap.unwrap_or(0))
            + 256 * (b.not_mended.len() as i32 - a.not_mended.len() as i32)
    };
    found.retain(|(_, after)| gain(after, &before) > 0);
    let mut out = Vec::new();
    for (change, _) in found {
        let after = cap_of(&change.prop, trace, Search::Likely, progress)?;
        out.push(lever(change.words, drawn, &after));
    }
    out.extend(paint(prop, trace, drawn, &digest, progress)?);
    out.retain(|l| l.gain > 0 || !l.mends.is_empty());
    out.sort_by_key(|l| (-(l.mends.len() as i64), -l.gain));
    Ok(out)
}

/// The layer whose dimming gives the most, dimmed, recomputed in full.
fn paint(
    prop: &Prop,
    trace: &dyn Trace,
    drawn: &CapResult,
    digest: &Digest,
    progress: &Progress<'_>,
) -> Result<Option<Lever>, StudyError> {
    let (Some(preset), Some(true)) = (trace.preset(), drawn.cap.map(|c| c < u8::MAX)) else {
        return Ok(None);
    };
    let mut best: Option<(u8, usize, Box<dyn Trace>)> = None;
    for layer in 0..preset.layers.len() {
        let mut changed = preset.clone();
        let Some(l) = changed.layers.get_mut(layer) else {
            continue;
        };
        l.opacity.0 = (f64::from(l.opacity.0) * DIMMED) as u16;
        let Some(dimmed) = trace.with_preset(changed) else {
            return Ok(None);
        };
        // The frames that were the worst are kept again: they are those of the same moments.
        let short = digest.retaken(dimmed.open(prop, u8::MAX)?.as_mut())?;
        let cap = by_digest(prop, dimmed.as_ref(), &short, drawn.cap.unwrap_or(u8::MAX))?
            .cap
            .unwrap_or(0);
        if best.as_ref().is_none_or(|(b, ..)| cap > *b) {
            best = Some((cap, layer, dimmed));
        }
    }
    let Some((_, layer, dimmed)) = best else {
        return Ok(None);
    };
    let after = cap_of(prop, dimmed.as_ref(), Search::Likely, progress)?;
    let words = format!(
        "layer {} at {:.0} % of its opacity",
        layer + 1,
        DIMMED * 100.0
    );
    Ok(Some(lever(words, drawn, &after)))
}

fn lever(change: String, before: &CapResult, after: &CapResult) -> Lever {
    let name = |r: &CheckResult| format!("{} ({})", r.id, r.part.as_deref().unwrap_or("the prop"));
    let still: Vec<String> = after.not_mended.iter().map(name).collect();
    let light = |c: &CapResult| c.light.map(|l| l.capped_cd);
    Lever {
        change,
        cap_before: before.cap,
        cap: after.cap,
        gain: i32::from(after.cap.unwrap_or(0)) - i32::from(before.cap.unwrap_or(0)),
        mends: before
            .not_mended
            .iter()
            .map(name)
            .filter(|n| !still.contains(n))
            .collect(),
        binding: after.one_above.as_ref().map(name),
        light_ratio: light(before).zip(light(after)).map(|(b, a)| a / b),
    }
}

fn by_digest(
    prop: &Prop,
    trace: &dyn Trace,
    digest: &Digest,
    guess: u8,
) -> Result<CapResult, StudyError> {
    let at = |cap: u8| {
        let capped = digest.with_levels(|levels| cap_levels(levels, cap));
        let mut results = play_digest(prop, trace.preset(), &capped)?;
        results.retain(digestible);
        Ok(results)
    };
    likely_cap(at, |_, _| Ok(guess))
}
