//! From the bytes of a frame to the data line of a strip.
//!
//! [`show_rgb`] and [`show_rgbw`] hand the pixels of a frame to any driver of the smart-leds family:
//! to the crate `apa102-spi` for pixels with a clock line, to `ws2812-spi` where its fixed code and
//! its order G, R, B serve, and otherwise to [`PulseWriter`], which takes any order, three or four
//! channels, and works out from the data sheet's times how bits are written over SPI.

mod order;
mod pulses;

pub use order::Order;
pub use pulses::{Levels, NoCode, PulseCode, PulseTimes, PulseWriter, Span};

use smart_leds_trait::{SmartLedsWrite, White, RGB8, RGBW};

use crate::color::Channels;

/// Sends the pixels of a frame to a strip of three channels. Where the frame has a white channel
/// that is left out.
///
/// `levels` are the bytes of that strip in the frame: R, G, B (, W) for each pixel. Bytes that do
/// not fill a pixel are left out.
///
/// # Errors
///
/// What the driver reports.
pub fn show_rgb<W>(writer: &mut W, levels: &[u8], channels: Channels) -> Result<(), W::Error>
where
    W: SmartLedsWrite,
    RGB8: Into<W::Color>,
{
    writer.write(pixels(levels, channels).map(|[r, g, b, _]| RGB8 { r, g, b }))
}

/// Sends the pixels of a frame to a strip of four channels. Where the frame has no white channel
/// white stays dark.
///
/// # Errors
///
/// What the driver reports.
pub fn show_rgbw<W>(writer: &mut W, levels: &[u8], channels: Channels) -> Result<(), W::Error>
where
    W: SmartLedsWrite,
    RGBW<u8>: Into<W::Color>,
{
    writer.write(pixels(levels, channels).map(|[r, g, b, w]| RGBW {
        r,
        g,
        b,
        a: White(w),
    }))
}

/// Bytes of zeros that a strip with a clock line needs after its last pixel: the end frame for a
/// driver such as `apa102-spi`, whose own default of four bytes does for 64 pixels only.
///
/// Each pixel passes the data on half a clock late, so the last needs half a clock a pixel more
/// (APA102 data sheet, "cascading"; the count is common practice); four bytes
/// before that latch the SK9822 (its data sheet, from memory). At most 255, which does for 4016
/// pixels.
#[must_use]
pub const fn clocked_tail_len(pixels: u16) -> u8 {
    let len = 4 + pixels.div_ceil(16);
    if len > 255 {
        255
    } else {
        len as u8
    }
}

fn pixels(levels: &[u8], channels: Channels) -> impl Iterator<Item = [u8; 4]> + '_ {
    levels
        .chunks_exact(channels.count())
        .map(|pixel| match *pixel {
            [r, g, b] => [r, g, b, 0],
            [r, g, b, w] => [r, g, b, w],
            _ => [0; 4],
        })
}
