//! The highest safe brightness cap, by search over the whole trace.

use super::verdict::{CheckResult, Verdict};
use super::watch::StudyError;
use serde::Serialize;

/// What the search found for one preset and cue trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CapResult {
    /// The preset; `None` for recorded frames.
    pub preset: Option<String>,
    /// The cue trace.
    pub cues: Option<String>,
    /// The highest cap at which every check that a cap can mend holds; `None` where even darkness fails.
    pub cap: Option<u8>,
    /// The check that binds: the one that fails one step higher, or the nearest to its limit at 255.
    pub binding: Option<String>,
    /// The part it is about.
    pub binding_part: Option<String>,
    /// Its result at the cap.
    pub at_cap: Option<CheckResult>,
    /// Its result one step above the cap; `None` at 255.
    pub one_above: Option<CheckResult>,
    /// Checks that fail at every cap: no brightness setting mends them.
    pub not_mended: Vec<CheckResult>,
}

/// Finds the highest cap. `results_at` plays the whole trace at a cap.
///
/// The search halves the range between the lowest cap that fails and the highest that holds. That is
/// exact as long as a check that fails at one cap fails at every higher one, which holds for every
/// check of currents and voltages: more drive never lowers a current or raises a supply.
///
/// # Errors
/// Whatever playing a trace reports.
pub fn find_cap(
    mut results_at: impl FnMut(u8) -> Result<Vec<CheckResult>, StudyError>,
) -> Result<CapResult, StudyError> {
    let full = results_at(u8::MAX)?;
    if !full.iter().any(is_failure) {
        return Ok(unlimited(full));
    }
    let dark = results_at(0)?;
    let not_mended: Vec<CheckResult> = dark.iter().filter(|r| is_failure(r)).cloned().collect();
    let mendable =
        |r: &CheckResult| is_failure(r) && !not_mended.iter().any(|n| same_subject(n, r));
    if !full.iter().any(mendable) {
        return Ok(CapResult {
            not_mended,
            ..unlimited(full)
        });
    }
    let (mut holds, mut fails) = ((0, dark), (u8::MAX, full));
    while fails.0 - holds.0 > 1 {
        let middle = holds.0 + (fails.0 - holds.0) / 2;
        let results = results_at(middle)?;
        if results.iter().any(mendable) {
            fails = (middle, results);
        } else {
            holds = (middle, results);
        }
    }
    let one_above = nearest(fails.1.iter().filter(|r| mendable(r)));
    let at_cap = one_above
        .as_ref()
        .and_then(|b| holds.1.iter().find(|r| same_subject(r, b)).cloned());
    Ok(CapResult {
        preset: None,
        cues: None,
        cap: Some(holds.0),
        binding: one_above.as_ref().map(|r| r.id.to_owned()),
        binding_part: one_above.as_ref().and_then(|r| r.part.clone()),
        at_cap,
        one_above,
        not_mended,
    })
}

fn unlimited(full: Vec<CheckResult>) -> CapResult {
    let nearest = nearest(
        full.iter()
            .filter(|r| depends_on_cap(r) && r.margin_share.is_some()),
    );
    CapResult {
        preset: None,
        cues: None,
        cap: Some(u8::MAX),
        binding: nearest.as_ref().map(|r| r.id.to_owned()),
        binding_part: nearest.as_ref().and_then(|r| r.part.clone()),
        at_cap: nearest,
        one_above: None,
        not_mended: Vec::new(),
    }
}

fn is_failure(r: &CheckResult) -> bool {
    r.verdict == Verdict::Fails
}

/// Whether two results are about the same check and part; the pixel within a strip may differ.
fn same_subject(a: &CheckResult, b: &CheckResult) -> bool {
    let base = |r: &CheckResult| {
        r.part
            .as_deref()
            .map(|p| p.split('[').next().unwrap_or(p).to_owned())
    };
    a.id == b.id && a.unit == b.unit && base(a) == base(b)
}

/// Whether the figure of a check depends on the cap: timing and wiring do not.
fn depends_on_cap(r: &CheckResult) -> bool {
    !matches!(
        r.id,
        "frame-time" | "response-time" | "rise-fall-time" | "polarity"
    )
}

fn nearest<'a>(results: impl Iterator<Item = &'a CheckResult>) -> Option<CheckResult> {
    let share = |r: &CheckResult| r.margin_share.unwrap_or(f64::NEG_INFINITY);
    results
        .min_by(|a, b| share(a).total_cmp(&share(b)))
        .cloned()
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
            [0.0, 5.0, 9.0],
            [0.5, 1.0, 2.0],
        ] {
            let brute = (0..=255u8)
                .rev()
                .find(|cap| !at(*cap, &limits).iter().any(is_failure));
            let found = find_cap(|cap| Ok(at(cap, &limits))).unwrap();
            assert_eq!(found.cap, brute, "{limits:?}");
        }
    }

    #[test]
    fn what_fails_in_darkness_is_named_and_does_not_bind() {
        let found = find_cap(|cap| Ok(at(cap, &[-1.0, 100.0, 300.0]))).unwrap();
        assert_eq!(found.cap, Some(100));
        assert_eq!(found.binding.as_deref(), Some("cell-pulse"));
        assert_eq!(found.not_mended.len(), 1);
        assert_eq!(found.not_mended[0].id, "wire-current");
    }
}
