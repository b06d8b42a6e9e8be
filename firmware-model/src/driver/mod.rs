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

fn pixels(levels: &[u8], channels: Channels) -> impl Iterator<Item = [u8; 4]> + '_ {
    levels
        .chunks_exact(channels.count())
        .map(|pixel| match *pixel {
            [r, g, b] => [r, g, b, 0],
            [r, g, b, w] => [r, g, b, w],
            _ => [0; 4],
        })
}
