//! Pixel data with a clock: bits are taken where the clock rises. A frame is 32 zeros, then a word of 32 bits a pixel
//! (three ones, five bits of brightness, three bytes of colour), then enough further clocks to push the data through.
//!
//! Source of the frame: SK9822-EC20 data sheet Rev 05, pp. 4-8; that half a clock a pixel is needed at the end is common
//! practice, as every pixel hands the data on half a clock late.

use super::burst::{Burst, FaultKind};
use super::spread::{Grid, Spread};
use super::timing::Window;
use super::vcd::Level;

/// Zeros that start a frame.
const START: u64 = 32;
/// Bits of a pixel.
pub(super) const PIXEL_BITS: u64 = 32;

/// What was measured on the two wires, in steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClockedTimes {
    /// From one rise of the clock to the next.
    pub period: Spread,
    /// Shortest time from a change of data to the rise that takes it.
    pub set_up: Option<u64>,
    /// Shortest time from a rise to the next change of data.
    pub hold: Option<u64>,
    /// Fewest clocks between a frame's last pixel and the next frame's start.
    pub end_clocks: Option<u64>,
    /// Lowest and highest brightness.
    pub brightness: Option<(u8, u8)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Between frames: zeros in a row so far.
    Between,
    /// Within the pixels.
    Pixels,
}

/// Reads frames from changes of data and clock.
#[derive(Debug)]
pub struct Clocked {
    limits: Window,
    expected: u64,
    brightness: u8,
    data: Option<Level>,
    clock: Option<Level>,
    data_changed: Option<u64>,
    rise: Option<u64>,
    place: Place,
    zeros: u64,
    word: u32,
    /// Bits since the last pixel, 0 before the first frame.
    after: u64,
    burst: Burst,
    pending: bool,
    /// What was measured.
    pub times: ClockedTimes,
    /// The grid that the times lie on.
    pub grid: Grid,
}

impl Clocked {
    /// A decoder for a line of `pixels` pixels whose clock period must be at least `period` steps and whose currents are
    /// stated for a brightness.
    pub fn new(period: u64, pixels: u64, brightness: u8) -> Self {
        Self {
            limits: Window {
                low: period,
                nominal: period,
                high: u64::MAX,
            },
            expected: pixels * PIXEL_BITS,
            brightness,
            data: None,
            clock: None,
            data_changed: None,
            rise: None,
            place: Place::Between,
            zeros: 0,
            word: 0,
            after: 0,
            burst: Burst::default(),
            pending: false,
            times: ClockedTimes {
                period: Spread::default(),
                set_up: None,
                hold: None,
                end_clocks: None,
                brightness: None,
            },
            grid: Grid::default(),
        }
    }

    /// Takes a change of the data wire.
    #[inline]
    pub fn data(&mut self, time: u64, level: Level) {
        let first = self.data.replace(level).is_none();
        if first {
            return;
        }
        self.data_changed = Some(time);
        match self.rise {
            Some(rise) if rise == time => self.burst.wrong(FaultKind::Together, time, 0),
            Some(rise) => keep_least(&mut self.times.hold, time - rise),
            None => {}
        }
    }

    /// Takes a change of the clock wire and hands over the burst that it ends, if it ends one.
    #[inline]
    pub fn clock(&mut self, time: u64, level: Level, done: &mut impl FnMut(&Burst)) {
        let before = self.clock.replace(level);
        match (before, level) {
            (Some(Level::Low), Level::High) => self.rises(time, done),
            (_, Level::Unknown) => self.burst.wrong(FaultKind::Unknown, time, 0),
            _ => {}
        }
    }

    fn rises(&mut self, time: u64, done: &mut impl FnMut(&Burst)) {
        if let Some(rise) = self.rise.replace(time) {
            self.grid.see(time - rise);
            self.times.period.see(time - rise, rise, self.limits);
        }
        match self.data_changed {
            Some(changed) if changed == time => self.burst.wrong(FaultKind::Together, time, 0),
            Some(changed) => keep_least(&mut self.times.set_up, time - changed),
            None => {}
        }
        let one = match self.data {
            Some(Level::High) => true,
            Some(Level::Low) => false,
            Some(Level::Unknown) | None => {
                self.burst.wrong(FaultKind::Unknown, time, 0);
                false
            }
        };
        match self.place {
            Place::Between => self.between(time, one, done),
            Place::Pixels => self.pixel(time, one),
        }
    }

    fn between(&mut self, time: u64, one: bool, done: &mut impl FnMut(&Burst)) {
        self.after += 1;
        if !one {
            self.zeros += 1;
            self.tail(time, one);
            return;
        }
        if self.zeros < START {
            self.zeros = 0;
            self.tail(time, one);
            return;
        }
        // The first bit of the first pixel.
        let clocks = (self.after - 1).saturating_sub(START);
        self.hand_over(Some(clocks), done);
        self.burst.begin(time);
        self.pending = true;
        self.place = Place::Pixels;
        self.zeros = 0;
        self.word = 0;
        self.pixel(time, true);
    }

    /// The first 32 bits after the last pixel: what is neither ones nor zeros is another pixel.
    fn tail(&mut self, time: u64, one: bool) {
        if self.after > PIXEL_BITS || !self.pending {
            return;
        }
        self.word = self.word << 1 | u32::from(one);
        let ones_then_zeros = self.word.leading_ones() + self.word.trailing_zeros() >= 32;
        if self.after == PIXEL_BITS && self.word >> 29 == 0b111 && !ones_then_zeros {
            self.burst
                .wrong(FaultKind::Long, time, self.burst.bits + PIXEL_BITS);
        }
    }

    fn pixel(&mut self, time: u64, one: bool) {
        self.word = self.word << 1 | u32::from(one);
        self.burst.bits += 1;
        self.zeros = if one { 0 } else { self.zeros + 1 };
        if self.zeros == START {
            // Pixels have 29 zeros in a row at most: this is the next frame's start.
            self.burst.bits = self.burst.bits.saturating_sub(START);
            let found = self.burst.bits;
            self.burst.wrong(FaultKind::Short, time, found);
            self.end_of_pixels();
            self.zeros = START;
            return;
        }
        if !self.burst.bits.is_multiple_of(PIXEL_BITS) {
            return;
        }
        let word = self.word;
        if word >> 29 != 0b111 {
            self.burst.bits -= PIXEL_BITS;
            let zeros = self.zeros;
            self.burst
                .wrong(FaultKind::Marker, time, u64::from(word >> 29));
            self.end_of_pixels();
            self.zeros = zeros;
            return;
        }
        let brightness = (word >> 24 & 31) as u8;
        let (low, high) = self.times.brightness.unwrap_or((brightness, brightness));
        self.times.brightness = Some((low.min(brightness), high.max(brightness)));
        if brightness > self.brightness {
            self.burst
                .wrong(FaultKind::Brightness, time, u64::from(brightness));
        }
        self.burst.bytes.extend_from_slice(&word.to_be_bytes());
        if self.burst.bits == self.expected {
            self.end_of_pixels();
        }
    }

    fn end_of_pixels(&mut self) {
        self.place = Place::Between;
        self.zeros = 0;
        self.after = 0;
        self.word = 0;
    }

    fn hand_over(&mut self, end_clocks: Option<u64>, done: &mut impl FnMut(&Burst)) {
        if !std::mem::take(&mut self.pending) {
            return;
        }
        if let Some(clocks) = end_clocks.filter(|_| self.burst.fault.is_none()) {
            keep_least(&mut self.times.end_clocks, clocks);
        }
        done(&self.burst);
    }

    /// Hands over what is left when the capture ends at a time.
    pub fn finish(&mut self, time: u64, done: &mut impl FnMut(&Burst)) {
        if self.place == Place::Pixels {
            self.burst.wrong(FaultKind::CutAtEnd, time, self.burst.bits);
        }
        let after = self.after;
        self.hand_over(Some(after), done);
    }
}

fn keep_least(least: &mut Option<u64>, time: u64) {
    *least = Some(least.map_or(time, |l| l.min(time)));
}
