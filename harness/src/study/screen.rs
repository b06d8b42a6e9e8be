//! Up to which brightness nothing has to be played to know that it holds.
//!
//! A family of settings, each dimmer than the one before, is looked at: caps, or budgets of a limiter. One play of a
//! setting *at its hull*, in which every frame draws the most that it or any dimmer one draws
//! ([`crate::electrical::hull`]), stands for all dimmer settings at once:
//!
//! - *Proved*: no strip of a dimmer frame has a higher mean, aligned current or coincidence peak, whatever rounding does.
//! - *Not proved*: that every figure of the prop moves one way with the currents of its strips. A strip that starves
//!   hands current to another, a warmer cell has less resistance, rounding shifts the pattern along a strip, a data
//!   threshold moves with the supply. For all that a setting counts as clear only where each margin, at the hull as
//!   at the dimmest setting, is at least [`ALLOWANCE`] of the way that the margin goes between the two. That
//!   allowance is our own choice; `host-tests/tests/choosing_caps` holds the outcome against every cap played.
//! - Flashes follow neither: a darker picture can flash where a brighter one is exempt, and rounding moves colours. They
//!   need no solver, so every setting is looked at ([`super::flashes`]).
//!
//! What is not clear is played in full. `cap --every-cap` does without all this and plays all caps.

use super::verdict::CheckResult;
use super::watch::{same, watch_hull, StudyError};
use crate::build::prop::Prop;
use crate::profile::FrameStream;
use lampwright_model::Preset;

/// Share of the way from the dimmest setting's margin to that at the hull which every margin must still have.
pub const ALLOWANCE: f64 = 0.05;
/// At which shares of a likely setting a play at the hull is tried, percent.
const TRIES_PERCENT: [u32; 6] = [100, 94, 88, 75, 50, 25];

/// What is known before the search: what a failure is, and the results at the dimmest setting.
pub struct Known<'k> {
    /// Results at the dimmest setting.
    pub dimmest: &'k [CheckResult],
    /// Whether a result is a failure that less light mends.
    pub mendable: &'k dyn Fn(&CheckResult) -> bool,
    /// Whether a result has to do with brightness and does not fail at the dimmest setting.
    pub judged: &'k dyn Fn(&CheckResult) -> bool,
}

/// The highest of a few settings below a likely one that is clear, 0 where none is; the likely one itself is tried
/// where `all` may hold.
///
/// # Errors
/// Whatever a look reports.
pub fn highest_clear(
    likely: u32,
    all: bool,
    mut is_clear: impl FnMut(u32) -> Result<bool, StudyError>,
) -> Result<u32, StudyError> {
    let tries = TRIES_PERCENT.iter().skip(usize::from(!all));
    for setting in tries.map(|percent| likely * percent / 100) {
        if setting == 0 || is_clear(setting)? {
            return Ok(setting);
        }
    }
    Ok(0)
}

/// Whether a play at the hull clears its setting and every dimmer one, flashes aside.
///
/// # Errors
/// As [`super::watch::watch`].
pub fn is_clear(
    prop: &Prop,
    preset: Option<&Preset>,
    stream: &mut dyn FrameStream,
    known: &Known<'_>,
    progress: &dyn Fn(f64),
) -> Result<bool, StudyError> {
    let hull = watch_hull(prop, preset, stream, progress)?;
    let clear = |r: &&CheckResult| {
        let dimmest = known.dimmest.iter().find(|d| same(d, r));
        clears(r, dimmest)
    };
    let solved = |r: &&CheckResult| r.id != "flash-rate" && (known.judged)(r);
    Ok(hull.iter().filter(solved).all(|r| clear(&r)))
}

/// Whether a result at the hull is far enough from its limit, and the one at the dimmest setting too.
fn clears(hull: &CheckResult, dimmest: Option<&CheckResult>) -> bool {
    let Some(margin) = margin(hull) else {
        // Nothing to judge at the hull, nothing below it.
        return true;
    };
    let (least, way) = match dimmest.and_then(self::margin) {
        Some(dim) => (margin.min(dim), (margin - dim).abs()),
        None => (margin, hull.limit.unwrap_or(f64::INFINITY).abs()),
    };
    // Not so where one is not a number.
    least >= ALLOWANCE * way
}

/// The margin in something that goes with the strips' currents: a time to empty goes with their inverse.
fn margin(r: &CheckResult) -> Option<f64> {
    match (r.id, r.limit, r.worst) {
        ("runtime", Some(wanted), Some(minutes)) => Some(1.0 / wanted - 1.0 / minutes),
        _ => r.margin,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::verdict::Side;

    fn current(limit: f64, worst: f64) -> CheckResult {
        CheckResult::judged("wire-current", "x", "A", Side::AtMost, limit, worst)
    }

    #[test]
    fn a_margin_needs_a_twentieth_of_its_way() {
        let dim = current(2.0, 0.0);
        assert!(clears(&current(2.0, 1.9), Some(&dim)));
        assert!(!clears(&current(2.0, 1.95), Some(&dim)));
        assert!(!clears(&current(2.0, f64::NAN), Some(&dim)));
        // Near its limit at the dimmest too: what does not move is clear, what moves is not.
        assert!(clears(&current(2.0, 1.99), Some(&current(2.0, 1.99))));
        assert!(!clears(&current(2.0, 1.0), Some(&current(2.0, 1.99))));
        // Not met at the dimmest: against the limit.
        assert!(!clears(&current(2.0, 1.91), None) && clears(&current(2.0, 1.89), None));
    }

    #[test]
    fn a_time_to_empty_is_judged_by_its_current() {
        let minutes = |m| CheckResult::judged("runtime", "x", "min", Side::AtLeast, 90.0, m);
        assert!(clears(&minutes(100.0), Some(&minutes(5000.0))));
        assert!(!clears(&minutes(91.0), Some(&minutes(5000.0))));
    }
}
