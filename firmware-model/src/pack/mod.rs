//! A packed prop: what is flashed. Presets with the cap, the budget and the figures of the parts that
//! the limiter and the drivers need, generated from the same build file that is checked.
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `LWPK` |
//! | 1 | version, [`VERSION`] |
//! | n | [`Head`], then [`Head::strips`] times [`StripData`], then [`Head::presets`] presets |
//! | 4 | CRC-32 (ISO-HDLC, as in Ethernet and zip) over all bytes before it, little-endian |
//!
//! Everything between version and CRC is in postcard's wire format. A preset is its name, the number
//! of cue traces meant for it, its bytes as [`codec`](crate::codec) writes them (with their length
//! before them), and then the names of those cue traces, which only the host has a use for.
//!
//! [`Pack::read`] keeps no copy: names and presets stay where the bytes are, in flash. A preset is
//! decoded when it is asked for, one at a time.

mod error;
mod read;
mod write;

pub use error::{ReadError, StripFault, WriteError};
pub use read::{Entries, Entry, Pack, Strips};
pub use write::{write, NewEntry};

use serde::{Deserialize, Serialize};

use crate::color::Channels;
use crate::limiter::StripLoad;

/// The first bytes of a packed prop.
pub const MAGIC: [u8; 4] = *b"LWPK";
/// The version this crate writes and reads.
///
/// 1: first version.
pub const VERSION: u8 = 1;
/// The highest current of one channel, and the highest dark current of one pixel, in µA: 1 A. A
/// frame's estimate, in µA times drive level, therefore stays below 2⁴³.
pub const MAX_CHANNEL_UA: u32 = 1_000_000;

/// What holds for the whole prop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Head<'a> {
    /// Name of the prop.
    pub prop: &'a str,
    /// The cap, the upper bound on brightness, 0..=255.
    pub cap: u8,
    /// The budget, the upper bound on a frame's estimated strip current, in µA; `None`: no budget.
    pub budget_ua: Option<u32>,
    /// Supply at the board's terminals, in mV, below which the board may reset, its card fail or its
    /// regulator stop; `None` where the board states none of them.
    pub brown_out_mv: Option<u16>,
    /// Pixels in a frame over all strips.
    pub pixels: u16,
    /// Channels of each pixel of a frame.
    pub channels: Channels,
    /// Number of strips.
    pub strips: u16,
    /// Number of presets.
    pub presets: u16,
}

/// What limiter and driver need to know of a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StripData<'a> {
    /// The name of its part in the build file.
    pub name: &'a str,
    /// Number of pixels, at least 1. Strips follow one another in a frame.
    pub pixels: u16,
    /// The order in which channels are sent, each letter of `RGB` or `RGBW` once. Without a `W` the
    /// pixels have no white channel, even where the frame has one.
    pub order: &'a str,
    /// Stated current of each channel of a pixel at full drive, in µA: red, green, blue, white.
    pub channel_ua: [u32; 4],
    /// Stated current of a pixel with every channel at zero, in µA.
    pub dark_ua: u32,
    /// How data reaches the pixels.
    pub link: Link,
}

/// How data reaches pixels, with the figures of the data sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Link {
    /// The pixel type states no timing.
    Unknown,
    /// One wire: a bit is a high and a low time, a long low ends the frame. All in ns.
    OneWire {
        /// High time of a 0 bit.
        zero_high_ns: u32,
        /// Low time of a 0 bit.
        zero_low_ns: u32,
        /// High time of a 1 bit.
        one_high_ns: u32,
        /// Low time of a 1 bit.
        one_low_ns: u32,
        /// Low time that ends a frame, at least.
        reset_ns: u32,
    },
    /// Data and clock.
    Clocked {
        /// Highest clock frequency, in Hz.
        clock_max_hz: u32,
    },
}

impl StripData<'_> {
    /// What the limiter needs of it.
    #[must_use]
    pub const fn load(&self) -> StripLoad {
        StripLoad {
            pixels: self.pixels,
            channel_ua: self.channel_ua,
            dark_ua: self.dark_ua,
        }
    }

    /// The place in a pixel of a frame (0 red, 1 green, 2 blue, 3 white) of each channel, in the
    /// order in which they are sent.
    pub fn sent(&self) -> impl Iterator<Item = usize> + '_ {
        self.order.bytes().filter_map(|letter| match letter {
            b'R' => Some(0),
            b'G' => Some(1),
            b'B' => Some(2),
            b'W' => Some(3),
            _ => None,
        })
    }

    /// What is wrong with it in a frame of these channels.
    fn fault(&self, channels: Channels) -> Option<StripFault> {
        if self.pixels == 0 {
            return Some(StripFault::NoPixels);
        }
        let mut times = [0u8; 4];
        for channel in self.sent() {
            if let Some(n) = times.get_mut(channel) {
                *n = n.saturating_add(1);
            }
        }
        let white = match (times, self.order.len(), channels) {
            ([1, 1, 1, 0], 3, _) => false,
            ([1, 1, 1, 1], 4, Channels::Rgbw) => true,
            _ => return Some(StripFault::Order),
        };
        let [.., white_ua] = self.channel_ua;
        let most = self.channel_ua.iter().fold(self.dark_ua, |a, b| a.max(*b));
        if most > MAX_CHANNEL_UA || (!white && white_ua > 0) {
            return Some(StripFault::Current);
        }
        None
    }
}
