//! Colours by value.

use super::flat;
use crate::fixed::{lerp, Ramp};
use crate::lanes::{Lane, Lights, LANES};
use crate::preset::Stops;

/// Fills the first `channels` channels with the colour of each value.
///
/// From stop to stop every lane moves on to the next colour by as much of the step as its value
/// has gone. Steps that no lane has begun are left out, steps that all have finished cost a fill;
/// among neighbouring pixels that leaves one or two.
#[inline(never)]
pub(super) fn map(stops: &Stops, values: &Lane, channels: usize, out: &mut Lights) {
    let Some((first, rest)) = stops.split_first() else {
        return;
    };
    let (least, most) = extremes(values);
    let mut start = first;
    let mut filled = false;
    for stop in rest {
        if least > stop.at.0 {
            start = stop;
            continue;
        }
        if !filled {
            flat(out, start.color.to_array(), channels);
            filled = true;
        }
        if most <= start.at.0 {
            return;
        }
        let ramp = Ramp::new(stop.at.0 - start.at.0.min(stop.at.0));
        let way = ways(values, start.at.0, ramp);
        for (lane, next) in out.iter_mut().zip(stop.color.to_array()).take(channels) {
            approach(lane, next, &way);
        }
        start = stop;
    }
    if !filled {
        flat(out, start.color.to_array(), channels);
    }
}

/// How far along a ramp from `start` each value is.
#[inline(never)]
fn ways(values: &Lane, start: u16, ramp: Ramp) -> Lane {
    let mut out = [0; LANES];
    for (way, value) in out.iter_mut().zip(values) {
        *way = ramp.at(value.saturating_sub(start));
    }
    out
}

/// Moves each value by its way towards the next.
#[inline(never)]
fn approach(lane: &mut Lane, next: u16, ways: &Lane) {
    for (value, way) in lane.iter_mut().zip(ways) {
        *value = lerp(*value, next, *way);
    }
}

/// The least and the greatest value.
#[inline(never)]
fn extremes(values: &Lane) -> (u16, u16) {
    // As signed numbers, for which more vector units have an instruction.
    let (mut least, mut most) = (i16::MAX, i16::MIN);
    for value in values {
        let signed = (value ^ 0x8000) as i16;
        least = least.min(signed);
        most = most.max(signed);
    }
    (least as u16 ^ 0x8000, most as u16 ^ 0x8000)
}
