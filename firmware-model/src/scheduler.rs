//! Keeps the frame period.

use embedded_hal::delay::DelayNs;

use crate::time::{never_back, Millis};

/// The board's millisecond counter.
pub trait Clock {
    /// The counter now.
    fn now(&mut self) -> Millis;
}

/// A frame that is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tick {
    /// The time to render it for: its place on the grid of the frame rate, not the time it is.
    pub at: Millis,
    /// How late it is and how many frames before it were left out, if it came too late.
    pub overrun: Option<Overrun>,
}

/// Work of a frame that took longer than the frame period.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Overrun {
    /// Time from when the next frame was due until it was asked for, ms.
    pub late_ms: u32,
    /// Frames left out because their whole period had passed.
    pub skipped: u32,
}

/// Frames at `n · 1000 / rate` ms from the start, each rounded to the nearest ms, so that their
/// mean rate is exact however long it runs.
///
/// Works without a clock of its own: it is told the time and says how long to wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrameGrid {
    rate_hz: u32,
    /// Where second number 0 of the grid lies; moved on by whole seconds.
    second: Millis,
    /// Number of the next frame within its second, below `rate_hz`.
    frame: u32,
}

impl FrameGrid {
    /// A grid whose first frame is due at `start`. A rate of 0 counts as 1.
    #[must_use]
    pub const fn new(rate_hz: u8, start: Millis) -> Self {
        Self {
            rate_hz: if rate_hz == 0 { 1 } else { rate_hz as u32 },
            second: start,
            frame: 0,
        }
    }

    /// When the next frame is due.
    #[must_use]
    pub const fn due(&self) -> Millis {
        let twice = self.frame * 2000 + self.rate_hz;
        // The rate is not 0.
        match twice.checked_div(self.rate_hz * 2) {
            Some(ms) => self.second.plus(ms),
            None => self.second,
        }
    }

    fn next(&mut self) {
        self.frame += 1;
        if self.frame >= self.rate_hz {
            self.frame = 0;
            self.second = self.second.plus(1000);
        }
    }

    /// Time left until the next frame is due, ms; 0 if it is due or late.
    #[must_use]
    pub const fn wait_ms(&self, now: Millis) -> u32 {
        let left = self.due().since(now);
        // A wait is at most a second; anything more is the distance of a time gone by.
        if left <= 1000 {
            left
        } else {
            0
        }
    }

    /// Takes the next frame at `now`. Frames whose whole period has passed are left out, so that
    /// one slow frame is not followed by a rush. After a pause of more than a minute the grid starts
    /// anew at `now`.
    pub fn take(&mut self, now: Millis) -> Tick {
        let due = self.due();
        let now = never_back(due, now);
        let late_ms = now.since(due);
        let mut tick = Tick {
            at: due,
            overrun: None,
        };
        if late_ms > 0 {
            let mut skipped = 0;
            if late_ms > LONG_PAUSE_MS {
                skipped = late_ms / 1000 * self.rate_hz;
                self.second = now;
                self.frame = 0;
            }
            loop {
                tick.at = self.due();
                self.next();
                if self.due().since(now).wrapping_sub(1) < LONG_PAUSE_MS {
                    break;
                }
                skipped += 1;
            }
            tick.overrun = Some(Overrun { late_ms, skipped });
        } else {
            self.next();
        }
        tick
    }
}

/// Pause after which the grid starts anew, ms.
const LONG_PAUSE_MS: u32 = 60_000;

/// Waits for the frames of a [`FrameGrid`] with the board's clock and delay.
#[derive(Debug)]
pub struct Scheduler<C, D> {
    clock: C,
    delay: D,
    grid: FrameGrid,
    overruns: u32,
}

impl<C: Clock, D: DelayNs> Scheduler<C, D> {
    /// A scheduler whose first frame is due now.
    pub fn new(mut clock: C, delay: D, rate_hz: u8) -> Self {
        let grid = FrameGrid::new(rate_hz, clock.now());
        Self {
            clock,
            delay,
            grid,
            overruns: 0,
        }
    }

    /// Waits until the next frame is due, and gives it. A frame that is asked for too late comes at
    /// once, with what was missed.
    ///
    /// A frame asked for in the very millisecond in which it is due is in time.
    pub fn wait(&mut self) -> Tick {
        let wait_ms = self.grid.wait_ms(self.clock.now());
        if wait_ms > 0 {
            self.delay.delay_ms(wait_ms);
            // A delay may take a little longer than asked for: that is not the frame's doing.
            let due = self.grid.due();
            return self.grid.take(due);
        }
        let tick = self.grid.take(self.clock.now());
        if let Some(overrun) = tick.overrun {
            self.overruns = self.overruns.saturating_add(1);
            crate::log::warn!(
                "frame {} ms late, {} left out",
                overrun.late_ms,
                overrun.skipped
            );
        }
        tick
    }

    /// How often a frame came too late.
    #[must_use]
    pub const fn overruns(&self) -> u32 {
        self.overruns
    }

    /// The clock, to be read between frames.
    pub fn clock(&mut self) -> &mut C {
        &mut self.clock
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use core::cell::Cell;
    use std::vec::Vec;

    #[test]
    fn frames_lie_on_the_grid_of_their_rate() {
        for rate in 1..=250u8 {
            let start = Millis(u32::MAX - 700);
            let mut grid = FrameGrid::new(rate, start);
            for n in 0..1000u32 {
                let tick = grid.take(grid.due());
                let exact = (f64::from(n) * 1000.0 / f64::from(rate)).round();
                assert_eq!(f64::from(tick.at.since(start)), exact, "{rate} {n}");
                assert_eq!(tick.overrun, None);
            }
        }
    }

    #[test]
    fn a_late_frame_comes_at_once_and_says_so() {
        let mut grid = FrameGrid::new(50, Millis(0));
        assert_eq!(grid.take(Millis(0)).at, Millis(0));
        assert_eq!((grid.due(), grid.wait_ms(Millis(5))), (Millis(20), 15));
        assert_eq!((grid.wait_ms(Millis(20)), grid.wait_ms(Millis(27))), (0, 0));
        let late = |late_ms, skipped| Some(Overrun { late_ms, skipped });
        let tick = grid.take(Millis(27));
        assert_eq!((tick.at, tick.overrun), (Millis(20), late(7, 0)));
        // 40 is long gone, 60 is over when 80 begins, 80 is what shows now.
        let tick = grid.take(Millis(95));
        assert_eq!((tick.at, tick.overrun), (Millis(80), late(55, 2)));
        assert_eq!(
            grid.take(Millis(100)),
            Tick {
                at: Millis(100),
                overrun: None
            }
        );
        // At the very moment the next one is due, the one before is left out.
        let tick = grid.take(Millis(140));
        assert_eq!((tick.at, tick.overrun), (Millis(140), late(20, 1)));
    }

    #[test]
    fn after_a_long_pause_the_grid_starts_anew() {
        let mut grid = FrameGrid::new(60, Millis(0));
        grid.take(Millis(0));
        let tick = grid.take(Millis(3_600_000));
        assert_eq!(tick.at, Millis(3_600_000));
        assert!(tick.overrun.is_some_and(|o| o.skipped > 200_000));
        assert_eq!(grid.due(), Millis(3_600_017));
    }

    struct Now<'a>(&'a Cell<u32>);

    impl Clock for Now<'_> {
        fn now(&mut self) -> Millis {
            Millis(self.0.get())
        }
    }

    struct Sleep<'a>(&'a Cell<u32>);

    impl DelayNs for Sleep<'_> {
        fn delay_ns(&mut self, ns: u32) {
            self.0.set(self.0.get() + ns.div_ceil(1_000_000));
        }
    }

    #[test]
    fn the_scheduler_sleeps_what_is_left_of_the_period() {
        let time = Cell::new(1000);
        let mut scheduler = Scheduler::new(Now(&time), Sleep(&time), 60);
        let mut frames = Vec::new();
        for work_ms in [5, 5, 16, 17, 40, 1, 1] {
            let tick = scheduler.wait();
            frames.push((tick.at.0, tick.overrun.is_some()));
            time.set(time.get() + work_ms);
        }
        let expected = [
            (1000, false),
            (1017, false),
            (1033, false),
            (1050, false),
            (1067, false),
            (1100, true),
            (1117, false),
        ];
        assert_eq!(frames, expected);
        assert_eq!(scheduler.overruns(), 1);
    }
}
