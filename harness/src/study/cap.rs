//! The highest safe brightness cap, by search over the whole trace.

use super::light::LightLost;
use super::screen::Known;
use super::search::highest;
use super::verdict::{CheckResult, Verdict};
use super::watch::{same, StudyError};
use serde::Serialize;

/// The lowest cap that gives light: what fails there is not mended by a cap.
pub const DIMMEST: u8 = 1;
/// How many checks are named after the one that binds.
const NEXT_ONES: usize = 3;

/// What the search found for one preset and cue trace.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct CapResult {
    /// The preset; `None` for recorded frames.
    pub preset: Option<String>,
    /// The cue trace.
    pub cues: Option<String>,
    /// The highest cap, from 1, at which, as at every dimmer one, each check holds that does so at the dimmest.
    pub cap: Option<u8>,
    /// The check that binds: the one that fails one step higher, or the nearest to its limit at 255.
    pub binding: Option<String>,
    /// The part it is about.
    pub binding_part: Option<String>,
    /// Its result at the cap.
    pub at_cap: Option<CheckResult>,
    /// Its result one step above the cap; `None` at 255.
    pub one_above: Option<CheckResult>,
    /// The checks that come next, by their margin at the cap: one result a check.
    pub next: Vec<CheckResult>,
    /// Checks that fail even at the dimmest setting, and those that have nothing to do with brightness.
    pub not_mended: Vec<CheckResult>,
    /// Every result that was met: at 255, at the cap and one step above, for those who look for worst frames.
    #[serde(skip)]
    pub seen: Vec<CheckResult>,
    /// What the cap costs in light.
    pub light: Option<LightLost>,
    /// Minutes from full to the floor with the trace played again and again, nominal case, uncapped.
    pub runtime_uncapped_min: Option<f64>,
    /// The same at the cap.
    pub runtime_min: Option<f64>,
}

/// Finds the highest cap at which, and at every dimmer one, each check holds that does so at the dimmest setting.
///
/// `results_at` plays the whole trace at a cap; `clear` says up to which cap, from what is known at 255 and at the
/// dimmest setting, nothing has to be played to know that it holds ([`super::screen`]); a `clear` that always says
/// [`DIMMEST`] has every cap played, which is a proof by evaluation.
///
/// # Exactness
/// From the highest clear cap on, caps are played one after the other up to the first that fails. So the cap found
/// holds, one step more fails, and no dimmer one that was played fails. A cap is not taken from a brighter one that
/// holds: more drive can lower a figure. A channel at full drive has no pulses, so that a frame's coincidence peak can
/// fall as its brightest pixels reach full; rounding to 8 bits can open a gap of a few caps at the edge; changes
/// between bright states are exempt from the flash count; a data threshold can sink with the supply.
///
/// # Errors
/// Whatever playing a trace reports.
pub fn find_cap(
    mut results_at: impl FnMut(u8) -> Result<Vec<CheckResult>, StudyError>,
    clear: impl FnOnce(&[CheckResult], &Known<'_>) -> Result<u8, StudyError>,
) -> Result<CapResult, StudyError> {
    let full = results_at(u8::MAX)?;
    let dimmest = results_at(DIMMEST)?;
    let not_mended = not_mended(&dimmest, &full);
    let mendable = |r: &CheckResult| is_mendable(r, &not_mended);
    let judged = |r: &CheckResult| moves_with_cap(r) && !lists(&not_mended, r);
    let known = Known {
        dimmest: &dimmest,
        mendable: &mendable,
        judged: &judged,
    };
    let clear = clear(&full, &known)?.max(DIMMEST);
    let mut at = (DIMMEST, dimmest.clone());
    let mut above = None;
    for cap in clear.saturating_add(1)..u8::MAX {
        let results = results_at(cap)?;
        if results.iter().any(mendable) {
            above = Some((cap, results));
            break;
        }
        at = (cap, results);
    }
    if above.is_none() && full.iter().any(mendable) {
        above = Some((u8::MAX, full.clone()));
    }
    let Some((first, above)) = above else {
        return Ok(unlimited(full, not_mended));
    };
    let cap = first.saturating_sub(1).max(DIMMEST);
    if at.0 != cap {
        at = (cap, results_at(cap)?);
    }
    Ok(limited(at, above, full, not_mended))
}

/// A cap by search from a guess, for digests, which estimate anyway, and for comparisons: it holds, one step more
/// fails, and whether a dimmer one fails is not looked at. `guess` gets the results at 255 and tells which of them are
/// failures that less light mends.
///
/// # Errors
/// Whatever playing reports.
pub fn likely_cap(
    mut results_at: impl FnMut(u8) -> Result<Vec<CheckResult>, StudyError>,
    guess: impl FnOnce(&[CheckResult], &dyn Fn(&CheckResult) -> bool) -> Result<u8, StudyError>,
) -> Result<CapResult, StudyError> {
    let full = results_at(u8::MAX)?;
    if !full.iter().any(is_failure) {
        return Ok(unlimited(full, Vec::new()));
    }
    let dimmest = results_at(DIMMEST)?;
    let not_mended = not_mended(&dimmest, &full);
    let mendable = |r: &CheckResult| is_mendable(r, &not_mended);
    if !full.iter().any(mendable) {
        return Ok(unlimited(full, not_mended));
    }
    let guess = guess(&full, &mendable)?;
    let (mut at, mut above) = ((DIMMEST, dimmest), (u8::MAX, full.clone()));
    let step = |c: u32| u8::try_from(c).unwrap_or(u8::MAX).saturating_add(DIMMEST);
    let top = u32::from(u8::MAX - DIMMEST);
    highest(top, u32::from(guess.saturating_sub(DIMMEST)), |c| {
        let results = results_at(step(c))?;
        let holds = !results.iter().any(mendable);
        if holds && step(c) >= at.0 {
            at = (step(c), results);
        } else if !holds && step(c) <= above.0 {
            above = (step(c), results);
        }
        Ok::<bool, StudyError>(holds)
    })?;
    Ok(limited(at, above.1, full, not_mended))
}

/// The result where something binds: what was found at the cap, one step above it, and at 255.
fn limited(
    at: (u8, Vec<CheckResult>),
    above: Vec<CheckResult>,
    full: Vec<CheckResult>,
    not_mended: Vec<CheckResult>,
) -> CapResult {
    let one_above = nearest(above.iter().filter(|r| is_mendable(r, &not_mended)));
    let at_cap = one_above
        .as_ref()
        .and_then(|b| at.1.iter().find(|r| same(r, b)).cloned());
    let runtime_uncapped_min = runtime_min(&full);
    let mut seen = full;
    seen.extend(at.1.iter().chain(&above).cloned());
    CapResult {
        cap: Some(at.0),
        binding: one_above.as_ref().map(|r| r.id.to_owned()),
        binding_part: one_above.as_ref().and_then(|r| r.part.clone()),
        next: next_ones(&at.1, one_above.as_ref()),
        runtime_uncapped_min,
        runtime_min: runtime_min(&at.1),
        at_cap,
        one_above,
        not_mended,
        seen,
        ..CapResult::default()
    }
}

/// Failures that no cap mends: those at the dimmest setting, and those that have nothing to do with brightness.
pub(super) fn not_mended(dimmest: &[CheckResult], full: &[CheckResult]) -> Vec<CheckResult> {
    let left = dimmest
        .iter()
        .filter(|r| is_failure(r) && moves_with_cap(r));
    let other = full.iter().filter(|r| is_failure(r) && !moves_with_cap(r));
    left.chain(other).cloned().collect()
}

/// Whether a result is a failure that is not among those that the dimmest setting leaves.
pub(super) fn is_mendable(r: &CheckResult, not_mended: &[CheckResult]) -> bool {
    is_failure(r) && moves_with_cap(r) && !lists(not_mended, r)
}

fn lists(list: &[CheckResult], r: &CheckResult) -> bool {
    list.iter().any(|n| same(n, r))
}

/// The nearest other checks to their limits, one result a check.
fn next_ones(results: &[CheckResult], binding: Option<&CheckResult>) -> Vec<CheckResult> {
    let mut sorted: Vec<&CheckResult> = results
        .iter()
        .filter(|r| {
            moves_with_cap(r)
                && r.margin_share.is_some()
                && binding.is_none_or(|b| b.id != r.id)
                && !is_failure(r)
        })
        .collect();
    sorted.sort_by(|a, b| share_of(a).total_cmp(&share_of(b)));
    let mut out: Vec<CheckResult> = Vec::new();
    for r in sorted {
        if out.len() < NEXT_ONES && !out.iter().any(|o| o.id == r.id) {
            out.push(r.clone());
        }
    }
    out
}

fn runtime_min(results: &[CheckResult]) -> Option<f64> {
    results.iter().find(|r| r.id == "runtime")?.nominal
}

/// The result where no check that less light mends fails at 255.
fn unlimited(full: Vec<CheckResult>, not_mended: Vec<CheckResult>) -> CapResult {
    let nearest = nearest(
        full.iter()
            .filter(|r| moves_with_cap(r) && r.margin_share.is_some() && !is_failure(r)),
    );
    CapResult {
        cap: Some(u8::MAX),
        binding: nearest.as_ref().map(|r| r.id.to_owned()),
        binding_part: nearest.as_ref().and_then(|r| r.part.clone()),
        next: next_ones(&full, nearest.as_ref()),
        runtime_uncapped_min: runtime_min(&full),
        runtime_min: runtime_min(&full),
        at_cap: nearest,
        not_mended,
        seen: full,
        ..CapResult::default()
    }
}

pub(super) fn is_failure(r: &CheckResult) -> bool {
    r.verdict == Verdict::Fails
}

/// Checks of timing and wiring do not move with the cap.
pub(super) fn moves_with_cap(r: &CheckResult) -> bool {
    !matches!(
        r.id,
        "frame-time" | "response-time" | "rise-fall-time" | "polarity"
    )
}

fn nearest<'a>(results: impl Iterator<Item = &'a CheckResult>) -> Option<CheckResult> {
    results
        .min_by(|a, b| share_of(a).total_cmp(&share_of(b)))
        .cloned()
}

fn share_of(r: &CheckResult) -> f64 {
    r.margin_share.unwrap_or(f64::NEG_INFINITY)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::study::verdict::Side;

    fn at(cap: u8, limits: &[f64]) -> Vec<CheckResult> {
        let ids = ["wire-current", "cell-pulse", "data-level"];
        let results = ids.iter().zip(limits).map(|(id, limit)| {
            CheckResult::judged(id, "x", "A", Side::AtMost, *limit, f64::from(cap))
        });
        results.collect()
    }

    fn plain(limits: [f64; 3]) -> impl Fn(u8) -> Result<Vec<CheckResult>, StudyError> {
        move |cap| Ok(at(cap, &limits))
    }

    #[test]
    fn both_searches_agree_with_trying_every_cap() {
        for limits in [
            [300.0, 300.0, 300.0],
            [17.5, 200.0, 255.0],
            [254.0, 254.5, 300.0],
            [1.0, 5.0, 9.0],
            [1.5, 2.0, 3.0],
        ] {
            let brute = (0..=255u8)
                .rev()
                .find(|cap| !at(*cap, &limits).iter().any(is_failure));
            let likely = likely_cap(plain(limits), |_, _| Ok(100)).unwrap();
            assert_eq!(likely.cap, brute, "{limits:?}");
            for clear in [0, 1, brute.unwrap_or(1) - 1, brute.unwrap_or(1)] {
                let found = find_cap(plain(limits), |_, _| Ok(clear)).unwrap();
                assert_eq!((found.cap, &found.binding), (brute, &likely.binding));
                assert_eq!(found.at_cap, likely.at_cap);
            }
        }
    }

    /// A check that fails at some caps and holds above them.
    #[test]
    fn a_brighter_cap_that_holds_does_not_hide_a_dimmer_one_that_fails() {
        let holed = |cap: u8| {
            let figure = if (90..93).contains(&cap) { 2.0 } else { 0.0 };
            let check = CheckResult::judged("flash-rate", "x", "1/s", Side::AtMost, 1.0, figure);
            let mut results = at(cap, &[200.0; 3]);
            results.push(check);
            Ok(results)
        };
        let found = find_cap(holed, |_, _| Ok(40)).unwrap();
        assert_eq!(found.cap, Some(89));
        assert_eq!(found.binding.as_deref(), Some("flash-rate"));
        assert_eq!(found.at_cap.unwrap().worst, Some(0.0));
    }

    #[test]
    fn what_fails_in_darkness_is_named_and_does_not_bind() {
        let found = find_cap(plain([-1.0, 100.0, 300.0]), |_, _| Ok(3)).unwrap();
        assert_eq!(found.cap, Some(100));
        assert_eq!(found.binding.as_deref(), Some("cell-pulse"));
        assert_eq!(found.not_mended.len(), 1);
        assert_eq!(found.not_mended[0].id, "wire-current");
    }
}
