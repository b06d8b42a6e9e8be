//! One-wire pixel data: a bit is a high and a low time, a long low ends the frame.
//!
//! The high time alone tells a bit's value, as a pixel samples the line a fixed time after it rises (common practice; the
//! data sheets draw it so). The low time is judged against its limits all the same.

use super::burst::{Burst, FaultKind};
use super::spread::{Grid, Spread};
use super::timing::{OneWireTiming, Window};
use super::vcd::Level;

/// The five times of a line, as measured.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct OneWireTimes {
    /// High times of zeros and ones; one that is neither counts where it is nearer.
    pub high: [Spread; 2],
    /// Low times of zeros and ones.
    pub low: [Spread; 2],
    /// Lows that end a frame, or that come after a whole frame and are too short to.
    pub reset: Spread,
}

/// Reads bursts from level changes.
#[derive(Debug)]
pub struct OneWire {
    timing: OneWireTiming,
    /// Bits that the line's pixels take.
    expected: u64,
    /// Pulses shorter than this are passed over, steps.
    ignore: u64,
    /// A change that may be the start of a pulse to be passed over.
    held: Option<(u64, Level)>,
    /// The line as the decoder sees it.
    level: Option<Level>,
    rise: u64,
    fall: u64,
    /// The high time of a bit whose low is still running.
    high: Option<u64>,
    in_burst: bool,
    byte: u8,
    burst: Burst,
    /// Whether the burst came after a low of at least a reset.
    start_seen: bool,
    /// When the level was lost between bursts.
    lost_at: Option<u64>,
    /// What was measured.
    pub times: OneWireTimes,
    /// The grid that the times lie on.
    pub grid: Grid,
    /// Pulses shorter than half of what is allowed.
    pub glitches: u64,
    /// Pulses passed over.
    pub ignored: u64,
}

impl OneWire {
    /// A decoder for a line whose pixels take `expected` bits; pulses shorter than `ignore` steps are passed over.
    pub fn new(timing: OneWireTiming, expected: u64, ignore: u64) -> Self {
        Self {
            timing,
            expected,
            ignore,
            held: None,
            level: None,
            rise: 0,
            fall: 0,
            high: None,
            in_burst: false,
            byte: 0,
            burst: Burst::default(),
            start_seen: false,
            lost_at: None,
            times: OneWireTimes::default(),
            grid: Grid::default(),
            glitches: 0,
            ignored: 0,
        }
    }

    /// Takes a change of level and hands over the burst that it ends, if it ends one.
    #[inline]
    pub fn change(&mut self, time: u64, level: Level, done: &mut impl FnMut(&Burst)) {
        if self.ignore == 0 {
            return self.edge(time, level, done);
        }
        match self.held.take() {
            // Back within the time that is passed over: neither change happened.
            Some((since, _)) if time - since < self.ignore && self.level == Some(level) => {
                self.ignored += 1;
            }
            Some((since, before)) => {
                self.edge(since, before, done);
                self.held = Some((time, level));
            }
            None => self.held = Some((time, level)),
        }
    }

    #[inline]
    fn edge(&mut self, time: u64, level: Level, done: &mut impl FnMut(&Burst)) {
        let before = self.level.replace(level);
        match (before, level) {
            (Some(Level::Low), Level::High) => self.rises(time, done),
            (Some(Level::High), Level::Low) => {
                self.grid.see(time - self.rise);
                self.high = Some(time - self.rise);
                self.fall = time;
            }
            // The first level of the capture.
            (None, Level::Low) => self.fall = time,
            (None, Level::High) => {
                self.begin(time, false);
                self.burst.wrong(FaultKind::CutAtStart, time, 0);
            }
            (None, Level::Unknown) => {}
            (Some(before), Level::Unknown) => self.lost(time, before, done),
            (Some(Level::Unknown), Level::Low) => self.fall = time,
            (Some(Level::Unknown), Level::High) => {
                if !self.in_burst {
                    self.begin(time, false);
                }
                self.burst.wrong(FaultKind::Unknown, time, 0);
                self.rise = time;
            }
            // The reader passes over what repeats.
            (Some(Level::Low), Level::Low) | (Some(Level::High), Level::High) => {}
        }
    }

    /// The level is lost: what was being read is no frame.
    fn lost(&mut self, time: u64, before: Level, done: &mut impl FnMut(&Burst)) {
        let low = time - self.fall;
        if self.in_burst && before == Level::Low && low >= self.timing.reset {
            self.reset_gap(low);
            self.ends(done);
        }
        if self.in_burst {
            self.burst.wrong(FaultKind::Unknown, time, 0);
        } else {
            self.lost_at = Some(time);
        }
        self.high = None;
    }

    fn begin(&mut self, time: u64, start_seen: bool) {
        self.in_burst = true;
        self.start_seen = start_seen;
        self.rise = time;
        self.byte = 0;
        self.burst.begin(time);
    }

    #[inline]
    fn rises(&mut self, time: u64, done: &mut impl FnMut(&Burst)) {
        let low = time - self.fall;
        self.grid.see(low);
        if low >= self.timing.reset {
            if self.in_burst {
                self.reset_gap(low);
                self.ends(done);
            }
            self.lost_at = None;
            self.begin(time, true);
        } else if self.in_burst {
            self.bit(low);
            self.rise = time;
        } else {
            // The first rise of the capture, with no more than this low before it, or one after an unknown level.
            self.begin(time, false);
            if let Some(at) = self.lost_at.take() {
                self.burst.wrong(FaultKind::Unknown, at, 0);
            }
        }
    }

    fn reset_gap(&mut self, low: u64) {
        let limits = Window {
            low: self.timing.reset,
            nominal: self.timing.reset,
            high: u64::MAX,
        };
        self.times.reset.see(low, self.fall, limits);
    }

    /// Takes the bit whose high has been measured and whose low has just ended.
    #[inline]
    fn bit(&mut self, low: u64) {
        let Some(high) = self.high.take() else {
            return;
        };
        let Some(value) = self.value(high, Some(low)) else {
            return;
        };
        let own = self.low_window(value);
        if own.holds(low) {
            self.low_seen(value, low);
        } else if self.low_window(1 - value).holds(low) {
            self.low_seen(value, low);
            self.burst.odd_lows += 1;
        } else {
            self.wrong_low(value, low);
        }
        self.push(value);
    }

    #[inline]
    fn low_window(&self, value: usize) -> Window {
        self.timing.low[value & 1]
    }

    #[inline]
    fn low_seen(&mut self, value: usize, low: u64) {
        let limits = self.low_window(value);
        self.times.low[value & 1].see(low, self.fall, limits);
    }

    /// A low outside of the limits of both bits.
    fn wrong_low(&mut self, value: usize, low: u64) {
        let shortest = self.timing.low[0].low.min(self.timing.low[1].low);
        let longest = self.timing.low[0].high.max(self.timing.low[1].high);
        if low.saturating_mul(2) < shortest {
            self.glitches += 1;
            self.burst.wrong(FaultKind::Glitch, self.fall, low);
        } else if low < shortest {
            self.low_seen(value, low);
            self.burst.wrong(FaultKind::LowTime, self.fall, low);
        } else if low <= longest {
            // Between the two windows: the value is known, its low is not that of any bit.
            self.low_seen(value, low);
            self.burst.odd_lows += 1;
        } else {
            if self.burst.bits + 1 == self.expected {
                self.reset_gap(low);
            } else {
                self.low_seen(value, low);
            }
            self.burst.wrong(FaultKind::Gap, self.fall, low);
        }
    }

    /// The value of a bit, by its high time and where that does not tell by its low.
    #[inline]
    fn value(&mut self, high: u64, low: Option<u64>) -> Option<usize> {
        let [zero, one] = self.timing.high;
        let value = match (zero.holds(high), one.holds(high)) {
            (true, false) => 0,
            (false, true) => 1,
            (true, true) => {
                let fits = |k: usize| low.is_some_and(|l| self.timing.low[k].holds(l));
                match (fits(0), fits(1)) {
                    (true, false) => 0,
                    (false, true) => 1,
                    _ => {
                        self.burst.wrong(FaultKind::Ambiguous, self.rise, high);
                        return None;
                    }
                }
            }
            (false, false) => {
                self.wrong_high(high);
                return None;
            }
        };
        let limits = self.timing.high[value];
        self.times.high[value].see(high, self.rise, limits);
        Some(value)
    }

    fn wrong_high(&mut self, high: u64) {
        let [zero, one] = self.timing.high;
        if high.saturating_mul(2) < zero.low.min(one.low) {
            self.glitches += 1;
            self.burst.wrong(FaultKind::Glitch, self.rise, high);
            return;
        }
        let nearer = usize::from(one.beyond(high) < zero.beyond(high));
        let limits = self.timing.high[nearer];
        self.times.high[nearer].see(high, self.rise, limits);
        self.burst.wrong(FaultKind::HighTime, self.rise, high);
    }

    #[inline]
    fn push(&mut self, value: usize) {
        self.byte = self.byte << 1 | u8::from(value == 1);
        self.burst.bits += 1;
        if self.burst.bits.is_multiple_of(8) && self.burst.bits <= self.expected {
            self.burst.bytes.push(self.byte);
        }
    }

    /// Hands over the burst under way; its last bit's low is the reset.
    fn ends(&mut self, done: &mut impl FnMut(&Burst)) {
        if let Some(high) = self.high.take() {
            if let Some(value) = self.value(high, None) {
                self.push(value);
            }
        }
        let bits = self.burst.bits;
        if bits != self.expected {
            let kind = match (self.start_seen, bits < self.expected) {
                (false, _) => FaultKind::CutAtStart,
                (_, true) => FaultKind::Short,
                (_, false) => FaultKind::Long,
            };
            self.burst.wrong(kind, self.burst.start, bits);
        }
        self.in_burst = false;
        done(&self.burst);
    }

    /// Hands over what is left when the capture ends at a time.
    pub fn finish(&mut self, time: u64, done: &mut impl FnMut(&Burst)) {
        if let Some((since, level)) = self.held.take() {
            self.edge(since, level, done);
        }
        if !self.in_burst {
            return;
        }
        let low = (self.level == Some(Level::Low)).then(|| time - self.fall);
        let reset_seen = low.is_some_and(|l| l >= self.timing.reset);
        let last = u64::from(self.high.is_some());
        if !reset_seen && self.burst.bits + last != self.expected {
            self.burst.wrong(FaultKind::CutAtEnd, time, 0);
        } else if let Some(low) = low.filter(|l| *l >= self.timing.reset) {
            self.reset_gap(low);
        }
        self.ends(done);
    }
}
