//! The highest safe brightness cap, by search over the whole trace.

use super::light::LightLost;
use super::search::highest;
use super::verdict::{CheckResult, Verdict};
use super::watch::StudyError;
use serde::Serialize;

/// The lowest cap that gives light: what fails there is not mended by a cap.
pub(super) const DIMMEST: u8 = 1;
/// How many checks are named after the one that binds.
const NEXT_ONES: usize = 3;

/// What the search found for one preset and cue trace.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct CapResult {
    /// The preset; `None` for recorded frames.
    pub preset: Option<String>,
    /// The cue trace.
    pub cues: Option<String>,
    /// The highest cap, from 1, at which every check that a cap can mend holds.
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

/// Finds the highest cap. `results_at` plays the whole trace at a cap; `guess` gives, from the results at
/// 255 and the test of whether a result is a failure that a cap can mend, where to look first.
///
/// # Exactness
/// The cap found holds and one step more fails, both by full plays, whatever the guess. It is the
/// highest one that holds as long as a check that fails at one cap fails at every higher one: more drive
/// never lowers an average current or raises a supply. Two figures can fall when drive rises: the
/// coincidence peak of a frame with one bright pixel among very dim ones, and the flash count, whose
/// definition exempts changes between bright states. In those cases a higher cap may hold as well.
///
/// # Errors
/// Whatever playing a trace reports.
pub fn find_cap(
    mut results_at: impl FnMut(u8) -> Result<Vec<CheckResult>, StudyError>,
    guess: impl FnOnce(&[CheckResult], &dyn Fn(&CheckResult) -> bool) -> Result<u8, StudyError>,
) -> Result<CapResult, StudyError> {
    let full = results_at(u8::MAX)?;
    if !full.iter().any(is_failure) {
        return Ok(unlimited(full));
    }
    let dimmest = results_at(DIMMEST)?;
    let not_mended = not_mended(&dimmest, &full);
    let mendable = |r: &CheckResult| is_mendable(r, &not_mended);
    if !full.iter().any(mendable) {
        return Ok(CapResult {
            not_mended,
            ..unlimited(full)
        });
    }
    let first = guess(&full, &mendable)?;
    let uncapped_min = runtime_min(&full);
    let mut seen = full.clone();
    let (mut at, mut above) = ((DIMMEST, dimmest), (u8::MAX, full));
    let step = |c: u32| u8::try_from(c).unwrap_or(u8::MAX).saturating_add(DIMMEST);
    let top = u32::from(u8::MAX - DIMMEST);
    highest(top, u32::from(first.saturating_sub(DIMMEST)), |c| {
        let results = results_at(step(c))?;
        let holds = !results.iter().any(mendable);
        if holds && step(c) >= at.0 {
            at = (step(c), results);
        } else if !holds && step(c) <= above.0 {
            above = (step(c), results);
        }
        Ok::<bool, StudyError>(holds)
    })?;
    seen.extend(at.1.iter().chain(&above.1).cloned());
    let one_above = nearest(above.1.iter().filter(|r| mendable(r)));
    let at_cap = one_above
        .as_ref()
        .and_then(|b| at.1.iter().find(|r| r.same_subject(b)).cloned());
    Ok(CapResult {
        cap: Some(at.0),
        binding: one_above.as_ref().map(|r| r.id.to_owned()),
        binding_part: one_above.as_ref().and_then(|r| r.part.clone()),
        next: next_ones(&at.1, one_above.as_ref()),
        runtime_uncapped_min: uncapped_min,
        runtime_min: runtime_min(&at.1),
        at_cap,
        one_above,
        not_mended,
        seen,
        ..CapResult::default()
    })
}

/// Failures that no cap mends: those that the dimmest setting leaves, and those that have nothing to do
/// with brightness.
pub(super) fn not_mended(dimmest: &[CheckResult], full: &[CheckResult]) -> Vec<CheckResult> {
    let fails_at_full = |r: &CheckResult| full.iter().any(|f| is_failure(f) && f.same_subject(r));
    let left = dimmest
        .iter()
        .filter(|r| is_failure(r) && moves_with_cap(r) && fails_at_full(r));
    let other = full.iter().filter(|r| is_failure(r) && !moves_with_cap(r));
    left.chain(other).cloned().collect()
}

/// Whether a result is a failure that is not among those that remain in darkness.
pub(super) fn is_mendable(r: &CheckResult, not_mended: &[CheckResult]) -> bool {
    is_failure(r) && moves_with_cap(r) && !not_mended.iter().any(|n| n.same_subject(r))
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

fn unlimited(full: Vec<CheckResult>) -> CapResult {
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
        "frame-time"
            | "response-time"
            | "rise-fall-time"
            | "polarity"
            | "supply-collapse"
            | "runtime"
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

    #[test]
    fn the_search_agrees_with_trying_every_cap() {
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
            let found = find_cap(|cap| Ok(at(cap, &limits)), |_, _| Ok(100)).unwrap();
            assert_eq!(found.cap, brute, "{limits:?}");
        }
    }

    #[test]
    fn what_fails_in_darkness_is_named_and_does_not_bind() {
        let found = find_cap(|cap| Ok(at(cap, &[-1.0, 100.0, 300.0])), |_, _| Ok(3)).unwrap();
        assert_eq!(found.cap, Some(100));
        assert_eq!(found.binding.as_deref(), Some("cell-pulse"));
        assert_eq!(found.not_mended.len(), 1);
        assert_eq!(found.not_mended[0].id, "wire-current");
    }
}
