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
        let mut way = [0; LANES];
        for (way, value) in way.iter_mut().zip(values) {
            *way = ramp.at(value.saturating_sub(start.at.0));
        }
        for (lane, next) in out.iter_mut().zip(stop.color.to_array()).take(channels) {
            for (value, way) in lane.iter_mut().zip(&way) {
                *value = lerp(*value, next, *way);
            }
        }
        start = stop;
    }
    if !filled {
        flat(out, start.color.to_array(), channels);
    }
}

/// The least and the greatest value.
#[inline(always)]
fn extremes(values: &Lane) -> (u16, u16) {
    // As signed numbers, for which more vector units have an instruction.
    let signed = values.map(|value| (value ^ 0x8000) as i16);
    let least = signed.iter().fold(i16::MAX, |a, b| a.min(*b));
    let most = signed.iter().fold(i16::MIN, |a, b| a.max(*b));
    (least as u16 ^ 0x8000, most as u16 ^ 0x8000)
}
