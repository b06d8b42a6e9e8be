//! Wrapping millisecond time.

/// A point in time in milliseconds, on a counter that wraps every 2³² ms (49.7 days).
///
/// Only differences mean anything, so the counter may start anywhere and may wrap at any moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Millis(
    /// Counter value in ms.
    pub u32,
);

impl Millis {
    /// Milliseconds from `earlier` to `self`, modulo 2³².
    #[must_use]
    pub const fn since(self, earlier: Millis) -> u32 {
        self.0.wrapping_sub(earlier.0)
    }

    /// The point `ms` milliseconds later, modulo 2³².
    #[must_use]
    pub const fn plus(self, ms: u32) -> Millis {
        Millis(self.0.wrapping_add(ms))
    }

    /// The point `ms` milliseconds earlier, modulo 2³².
    #[must_use]
    pub const fn minus(self, ms: u32) -> Millis {
        Millis(self.0.wrapping_sub(ms))
    }
}

/// How far back a call may lie and still be taken for a late call rather than for a very long
/// pause, in ms.
const LATE_MS: u32 = 60_000;

/// Elapsed time from which a [`Clock`] is folded back, in ms (24.8 days).
const FOLD_FROM: u32 = 1 << 31;
/// By how much it is folded back, in ms (12.4 days).
const FOLD_BY: u32 = 1 << 30;

/// The time that counts when a caller says it is `now` and `last` was the latest time seen:
/// time never runs backwards, so a call up to a minute late counts as `last`.
#[must_use]
pub const fn never_back(last: Millis, now: Millis) -> Millis {
    let back = last.since(now);
    if back <= LATE_MS {
        last
    } else {
        now
    }
}

/// Time since a start, for things that run longer than the counter.
///
/// What has ended must stay ended when the counter comes round again. So an elapsed time that
/// reaches 2³¹ ms is folded back by 2³⁰ ms, which is still longer than any duration a preset can
/// hold. [`Clock::settle`] must be called at least once in 12 days for that; every frame does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Clock {
    start: Millis,
}

impl Clock {
    /// A clock that was started at `start`.
    #[must_use]
    pub const fn started(start: Millis) -> Self {
        Self { start }
    }

    /// Milliseconds since the start, at most 2³¹ once settled.
    #[must_use]
    pub const fn elapsed(self, now: Millis) -> u32 {
        now.since(self.start)
    }

    /// Folds the elapsed time back if it has grown past 2³¹ ms.
    pub fn settle(&mut self, now: Millis) {
        while self.elapsed(now) >= FOLD_FROM {
            self.start = self.start.plus(FOLD_BY);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_ignore_the_wrap() {
        let before = Millis(u32::MAX - 4);
        assert_eq!(before.plus(10).since(before), 10);
        assert_eq!(before.plus(10), Millis(5));
        assert_eq!(before.plus(10).minus(10), before);
    }

    #[test]
    fn a_late_call_does_not_turn_time_back() {
        assert_eq!(never_back(Millis(100), Millis(90)), Millis(100));
        assert_eq!(never_back(Millis(3), Millis(u32::MAX)), Millis(3));
        assert_eq!(never_back(Millis(100), Millis(101)), Millis(101));
        // A pause of 30 days is a pause, not a step back.
        let after = Millis(100).plus(30 * 24 * 3_600_000);
        assert_eq!(never_back(Millis(100), after), after);
    }

    #[test]
    fn a_settled_clock_never_looks_young_again() {
        let start = Millis(u32::MAX - 1000);
        let mut clock = Clock::started(start);
        let mut now = start;
        let day = 24 * 3_600_000;
        for _ in 0..400 {
            now = now.plus(day);
            clock.settle(now);
            assert!(clock.elapsed(now) >= day);
            assert!(clock.elapsed(now) < FOLD_FROM);
        }
    }
}
