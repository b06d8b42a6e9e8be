//! The figures of a prop's parts as the whole numbers that its board works with.

use super::board::brown_out_v;
use crate::build::pack::{BoardData, PackedStrip};
use crate::build::parts::{DataTiming, PixelType, Strip};
use crate::build::prop::Prop;
use crate::electrical::NetworkError;
use crate::units::{Quantity, Time};
use lampwright_model::pack::Link;

/// The figures that limiter and drivers need, from the prop that the checks look at: stated values, each
/// rounded to the nearest, thresholds up.
///
/// # Errors
/// Figures of the regulator that no curve goes through.
pub fn board_data(prop: &Prop) -> Result<BoardData, NetworkError> {
    let brown_out = match prop.board() {
        Some((_, board)) => brown_out_v(board)?,
        None => None,
    };
    Ok(BoardData {
        brown_out_mv: brown_out.map(|v| (v * 1e3).ceil() as u16),
        strips: packed_strips(prop),
    })
}

/// The strips of a prop in frame order.
pub fn packed_strips(prop: &Prop) -> Vec<PackedStrip> {
    let name = |part: usize| prop.parts.get(part).map(|p| p.name.clone());
    prop.strips()
        .map(|(part, strip)| packed(name(part).unwrap_or_default(), strip))
        .collect()
}

fn packed(name: String, strip: &Strip) -> PackedStrip {
    let pixel = &strip.pixel;
    let mut channel_ua = [0; 4];
    for (ua, channel) in channel_ua.iter_mut().zip(&pixel.channels) {
        *ua = whole((channel.current.si() * 1e6).round());
    }
    PackedStrip {
        name,
        // More than a frame can hold is refused when it is packed.
        pixels: u16::try_from(strip.pixels).unwrap_or(u16::MAX),
        order: pixel.order.clone(),
        channel_ua,
        dark_ua: whole((pixel.dark.si() * 1e6).round()),
        link: link(pixel),
    }
}

fn link(pixel: &PixelType) -> Link {
    let ns = |time: &crate::build::rated::Rated<Time>| whole((time.si() * 1e9).round());
    match &pixel.timing {
        None => Link::Unknown,
        Some(DataTiming::OneWire {
            zero_high,
            zero_low,
            one_high,
            one_low,
            reset,
        }) => Link::OneWire {
            zero_high_ns: ns(zero_high),
            zero_low_ns: ns(zero_low),
            one_high_ns: ns(one_high),
            one_low_ns: ns(one_low),
            // It is a least time: the cautious end is its highest.
            reset_ns: whole((reset.high.si() * 1e9).ceil()),
        },
        Some(DataTiming::Clocked { clock_max, .. }) => Link::Clocked {
            clock_max_hz: whole(clock_max.low.si().floor()),
        },
    }
}

/// A number that is whole already; outside 32 bits the nearest end.
fn whole(value: f64) -> u32 {
    value as u32
}
