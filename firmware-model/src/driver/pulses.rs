//! Pixels on one data wire: every bit is a pulse whose length says what it is, sent by an SPI port
//! as a few bits of its own.

use core::fmt;
use core::marker::PhantomData;

use embedded_hal::spi::SpiBus;
use smart_leds_trait::{SmartLedsWrite, RGB8, RGBW};

use super::Order;

/// A range of time in ns, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Span {
    /// Its shortest time.
    pub from_ns: u32,
    /// Its longest time.
    pub to_ns: u32,
}

impl Span {
    /// A time with the same tolerance either way.
    #[must_use]
    pub const fn about(ns: u32, tolerance_ns: u32) -> Span {
        Span {
            from_ns: ns.saturating_sub(tolerance_ns),
            to_ns: ns.saturating_add(tolerance_ns),
        }
    }

    const fn holds(self, ns: u32) -> bool {
        ns >= self.from_ns && ns <= self.to_ns
    }

    /// Distance from the middle of the span, in halves of a ns.
    const fn off(self, ns: u32) -> u32 {
        let middle = self.from_ns.saturating_add(self.to_ns);
        ns.saturating_mul(2).abs_diff(middle)
    }
}

/// The times of the data line, from the data sheet of the pixel type.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PulseTimes {
    /// High time of a 0 bit.
    pub zero_high: Span,
    /// Low time of a 0 bit.
    pub zero_low: Span,
    /// High time of a 1 bit.
    pub one_high: Span,
    /// Low time of a 1 bit.
    pub one_low: Span,
    /// Low time that ends a frame, at least, ns.
    pub reset_ns: u32,
}

impl PulseTimes {
    /// WS2812B data sheet (Worldsemi, 5 pages), pp. 2-3: each time ± 150 ns. The reset of 280 µs is
    /// that of later lots (WS2812B-V5 data sheet, from memory); the sheet itself asks for 50 µs.
    pub const WS2812B: PulseTimes = PulseTimes {
        zero_high: Span::about(400, 150),
        zero_low: Span::about(850, 150),
        one_high: Span::about(800, 150),
        one_low: Span::about(450, 150),
        reset_ns: 280_000,
    };
    /// SK6812RGBW data sheet Rev 01 (2015-07-31), pp. 3-5: each time ± 150 ns, reset at least 80 µs.
    pub const SK6812RGBW: PulseTimes = PulseTimes {
        zero_high: Span::about(300, 150),
        zero_low: Span::about(900, 150),
        one_high: Span::about(600, 150),
        one_low: Span::about(600, 150),
        reset_ns: 80_000,
    };
}

/// How a bit is written at one SPI clock: some bits high, the rest low.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PulseCode {
    /// SPI bits for each bit, 3..=8.
    bits: u8,
    /// Of these high for a 0.
    zero: u8,
    /// Of these high for a 1.
    one: u8,
    /// Bytes of zeros that make the reset.
    reset_bytes: u32,
}

/// No number of SPI bits gives pulses within the data sheet's times at that clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NoCode {
    /// The SPI clock, Hz.
    pub spi_hz: u32,
}

impl fmt::Display for NoCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "an SPI clock of {} Hz gives no pulses within the data sheet's times; about 2.4 MHz or \
             3.2 MHz usually does",
            self.spi_hz
        )
    }
}

impl core::error::Error for NoCode {}

/// Fewest and most SPI bits for a bit.
const BITS: core::ops::RangeInclusive<u32> = 3..=8;

impl PulseCode {
    /// The shortest code that keeps the times at that SPI clock; among those of one length the one
    /// nearest the middle of the ranges.
    ///
    /// # Errors
    ///
    /// There is none of up to eight SPI bits.
    pub fn fit(times: &PulseTimes, spi_hz: u32) -> Result<PulseCode, NoCode> {
        let none = NoCode { spi_hz };
        for bits in BITS {
            let mut best = None;
            for one in 2..bits {
                for zero in 1..one {
                    let off = misfit(times, spi_hz, bits, zero, one).ok_or(none)?;
                    let Some(off) = off else { continue };
                    if best.is_none_or(|(least, _, _)| off < least) {
                        best = Some((off, zero, one));
                    }
                }
            }
            if let Some((_, zero, one)) = best {
                return Ok(PulseCode {
                    bits: bits as u8,
                    zero: zero as u8,
                    one: one as u8,
                    reset_bytes: reset_bytes(times.reset_ns, spi_hz),
                });
            }
        }
        Err(none)
    }

    /// SPI bits for each bit of data.
    #[must_use]
    pub const fn bits(self) -> usize {
        self.bits as usize
    }

    /// SPI bytes of a pixel of so many channels.
    #[must_use]
    pub const fn pixel_len(self, channels: usize) -> usize {
        self.bits() * channels
    }

    /// Bytes of zeros after the last pixel.
    #[must_use]
    pub const fn reset_len(self) -> usize {
        self.reset_bytes as usize
    }

    /// The SPI bits of a 0 or a 1, in the lowest places.
    const fn pattern(self, one: bool) -> u32 {
        let high = if one { self.one } else { self.zero } as u32;
        let low = (self.bits as u32).saturating_sub(high) & 7;
        ((1 << (high & 15)) - 1) << low
    }

    /// The SPI bits of every four bits of data, in the lowest places.
    const fn table(self) -> [u32; 16] {
        let (zero, one) = (self.pattern(false), self.pattern(true));
        let bits = self.bits as u32 & 15;
        let mut table = [0; 16];
        let mut data = 0;
        while data < table.len() {
            let mut code = 0;
            let mut place = 4;
            while place > 0 {
                place -= 1;
                code = code << bits | if data >> place & 1 == 1 { one } else { zero };
            }
            table[data] = code;
            data += 1;
        }
        table
    }
}

/// Bytes of data to SPI bytes, four bits at a time.
#[derive(Debug, Clone, Copy)]
struct Encoder {
    table: [u32; 16],
    /// SPI bits for four bits of data.
    bits: u32,
}

impl Encoder {
    const fn new(code: PulseCode) -> Self {
        Self {
            table: code.table(),
            bits: code.bits as u32 * 4,
        }
    }

    /// The code of the lower four bits of a byte.
    #[inline(always)]
    const fn code(&self, byte: u8) -> u32 {
        self.table[(byte & 15) as usize]
    }

    /// Writes bytes, highest bit first, as SPI bytes; returns how many. What finds no room is lost.
    #[inline(always)]
    fn write(&self, bytes: impl Iterator<Item = u8>, out: &mut [u8]) -> usize {
        let whole = out.len();
        let mut room = out;
        for byte in bytes {
            let (high, low) = (self.code(byte >> 4), self.code(byte));
            room = if self.bits == 12 {
                // The usual code: three SPI bits a bit.
                let code = high << 12 | low;
                let Some((slots, behind)) = room.split_first_chunk_mut() else {
                    return whole;
                };
                *slots = [(code >> 16) as u8, (code >> 8) as u8, code as u8];
                behind
            } else {
                put(room, self.bits, high, low)
            };
        }
        whole - room.len()
    }
}

/// Puts the codes of half a byte each, of `bits` bits, and returns the room behind: whole bytes of
/// data are whole bytes of code.
#[inline(never)]
fn put(room: &mut [u8], bits: u32, high: u32, low: u32) -> &mut [u8] {
    let mut slots = room.iter_mut();
    // Four bits wait at most between the two halves.
    let (mut waiting, mut count) = (0, 0);
    for code in [high, low] {
        waiting = if bits > 31 {
            code
        } else {
            waiting << bits | code
        };
        count += bits;
        while count >= 8 {
            count -= 8;
            if let Some(slot) = slots.next() {
                *slot = (waiting >> (count & 31)) as u8;
            }
        }
    }
    slots.into_slice()
}

/// How far a code lies off the middle of the ranges, if it keeps them. The outer `None`: no clock.
fn misfit(times: &PulseTimes, spi_hz: u32, bits: u32, zero: u32, one: u32) -> Option<Option<u32>> {
    let pairs = [
        (times.zero_high, zero),
        (times.zero_low, bits - zero),
        (times.one_high, one),
        (times.one_low, bits - one),
    ];
    let mut sum = 0u32;
    for (span, count) in pairs {
        let ns = (u64::from(count) * 1_000_000_000).checked_div(u64::from(spi_hz))?;
        let ns = u32::try_from(ns).unwrap_or(u32::MAX);
        if !span.holds(ns) {
            return Some(None);
        }
        sum = sum.saturating_add(span.off(ns));
    }
    Some(Some(sum))
}

/// Bytes at that clock that last for a time, rounded up.
fn reset_bytes(reset_ns: u32, spi_hz: u32) -> u32 {
    let bytes = (u64::from(reset_ns) * u64::from(spi_hz)).div_ceil(8_000_000_000);
    u32::try_from(bytes).unwrap_or(u32::MAX)
}

/// A colour as levels of red, green, blue and white.
pub trait Levels {
    /// The levels R, G, B, W.
    fn levels(self) -> [u8; 4];
}

impl Levels for RGB8 {
    fn levels(self) -> [u8; 4] {
        [self.r, self.g, self.b, 0]
    }
}

impl Levels for RGBW<u8> {
    fn levels(self) -> [u8; 4] {
        [self.r, self.g, self.b, self.a.0]
    }
}

/// The longest pixel: four channels of eight SPI bits a bit.
const LONGEST_PIXEL: usize = 32;

/// Sends pixels over the data output of an SPI port, of the colours `C` ([`RGB8`] or [`RGBW`]).
///
/// Each pixel is one write, the reset a few more. A port that pauses between writes must not do so
/// for longer than the pixel's reset time, and the data output must rest low; where the processor
/// cannot keep up, use a port with a buffer or DMA of its own behind [`SpiBus`].
#[derive(Debug)]
pub struct PulseWriter<SPI, C> {
    spi: SPI,
    encoder: Encoder,
    reset_len: usize,
    order: Order,
    colour: PhantomData<C>,
}

impl<SPI: SpiBus, C> PulseWriter<SPI, C> {
    /// A writer on an SPI port whose clock `code` was made for.
    pub const fn new(spi: SPI, code: PulseCode, order: Order) -> Self {
        Self {
            spi,
            encoder: Encoder::new(code),
            reset_len: code.reset_len(),
            order,
            colour: PhantomData,
        }
    }

    /// Gives the port back.
    pub fn release(self) -> SPI {
        self.spi
    }

    fn rest(&mut self) -> Result<(), SPI::Error> {
        let zeros = [0; LONGEST_PIXEL];
        let mut left = self.reset_len;
        while left > 0 {
            let some = zeros.get(..left).unwrap_or(&zeros);
            self.spi.write(some)?;
            left -= some.len();
        }
        self.spi.flush()
    }
}

impl<SPI: SpiBus, C: Levels> SmartLedsWrite for PulseWriter<SPI, C> {
    type Error = SPI::Error;
    type Color = C;

    /// Sends the pixels and the reset after them. After an error the line may rest in the middle of
    /// a pixel: pixels then latch what they have, and the next frame starts anew.
    fn write<T, I>(&mut self, iterator: T) -> Result<(), SPI::Error>
    where
        T: IntoIterator<Item = I>,
        I: Into<C>,
    {
        let mut buffer = [0; LONGEST_PIXEL];
        for item in iterator {
            let levels = item.into().levels();
            let len = self.encoder.write(self.order.arrange(levels), &mut buffer);
            self.spi.write(buffer.get(..len).unwrap_or(&[]))?;
        }
        self.rest()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;

    #[test]
    fn codes_keep_the_times_of_their_sheets() {
        let parts = |code: PulseCode| (code.bits, code.zero, code.one);
        // 417 and 833 ns at 2.4 MHz; 313 and 938 ns at 3.2 MHz.
        let fit = |times, hz| PulseCode::fit(times, hz).map(parts);
        assert_eq!(fit(&PulseTimes::WS2812B, 2_400_000), Ok((3, 1, 2)));
        assert_eq!(fit(&PulseTimes::WS2812B, 3_200_000), Ok((4, 1, 3)));
        assert_eq!(fit(&PulseTimes::SK6812RGBW, 3_200_000), Ok((4, 1, 2)));
        assert_eq!(fit(&PulseTimes::WS2812B, 6_400_000), Ok((7, 2, 5)));
        for hz in [0, 1, 1_000_000, 12_000_000, u32::MAX] {
            assert_eq!(fit(&PulseTimes::WS2812B, hz), Err(NoCode { spi_hz: hz }));
        }
    }

    #[test]
    fn every_code_found_is_within_the_ranges_to_the_ns() {
        for times in [PulseTimes::WS2812B, PulseTimes::SK6812RGBW] {
            let mut found = 0;
            for hz in (1_000_000..10_000_000).step_by(10_007) {
                let Ok(code) = PulseCode::fit(&times, hz) else {
                    continue;
                };
                found += 1;
                let ns = |count: u8| f64::from(count) * 1e9 / f64::from(hz);
                let pairs = [
                    (times.zero_high, code.zero),
                    (times.zero_low, code.bits - code.zero),
                    (times.one_high, code.one),
                    (times.one_low, code.bits - code.one),
                ];
                for (span, count) in pairs {
                    let ns = ns(count);
                    assert!(ns >= f64::from(span.from_ns) && ns < f64::from(span.to_ns + 1));
                }
                let reset_s = code.reset_len() as f64 * 8.0 / f64::from(hz);
                assert!(reset_s * 1e9 >= f64::from(times.reset_ns) - 1e-3);
            }
            assert!(found > 300, "{found}");
        }
    }

    #[test]
    fn bits_become_pulses() {
        let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).unwrap();
        let mut out = [0; 32];
        // 1010_0000 as 110 100 110 100 100 100 100 100.
        let encoder = Encoder::new(code);
        assert_eq!(encoder.write([0xa0].into_iter(), &mut out), 3);
        assert_eq!(out[..3], [0b1101_0011, 0b0100_1001, 0b0010_0100]);
        let code = PulseCode::fit(&PulseTimes::WS2812B, 6_400_000).unwrap();
        // 1111100, six times 1100000, 1111100.
        let encoder = Encoder::new(code);
        assert_eq!(encoder.write([0x81].into_iter(), &mut out), 7);
        assert_eq!(out[..7], [0xf9, 0x83, 0x06, 0x0c, 0x18, 0x30, 0x7c]);
        assert_eq!(
            encoder.write([0; 5].into_iter(), &mut out),
            32,
            "no room for more"
        );
    }

    #[test]
    fn every_byte_in_every_code_is_its_bits_one_after_the_other() {
        for bits in 3..=8u8 {
            let code = PulseCode {
                bits,
                zero: 1,
                one: bits - 1,
                reset_bytes: 0,
            };
            let encoder = Encoder::new(code);
            for byte in 0..=255u8 {
                let mut out = [0xaa; 32];
                let len = encoder.write([byte].into_iter(), &mut out);
                assert_eq!(len, usize::from(bits));
                let mut line = out[..len]
                    .iter()
                    .flat_map(|b| (0..8).rev().map(move |p| b >> p & 1));
                for place in (0..8).rev() {
                    let high = if byte >> place & 1 == 1 { bits - 1 } else { 1 };
                    for at in 0..bits {
                        assert_eq!(line.next().unwrap(), u8::from(at < high), "{bits} {byte}");
                    }
                }
            }
        }
    }
}
