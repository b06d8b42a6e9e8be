//! Colours by value.

use super::flat;
use crate::fixed::{lerp, Ramp, Way};
use crate::lanes::{Lane, Lights, Pixel, LANES};
use crate::preset::{Stops, MAX_STOPS};

/// Colours by value, set up for many pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StopsFrame<'p> {
    stops: &'p Stops,
    /// From each stop to the next.
    ramps: [Ramp; MAX_STOPS - 1],
}

impl<'p> StopsFrame<'p> {
    #[inline(never)]
    pub(super) fn new(stops: &'p Stops) -> StopsFrame<'p> {
        let mut ramps = [Ramp::STEP; MAX_STOPS - 1];
        for (ramp, pair) in ramps.iter_mut().zip(stops.windows(2)) {
            if let [start, stop] = pair {
                *ramp = Ramp::new(stop.at.0.saturating_sub(start.at.0));
            }
        }
        StopsFrame { stops, ramps }
    }

    /// Fills the first `channels` channels with the colour of each value.
    ///
    /// From stop to stop every lane moves on to the next colour by as much of the step as its value
    /// has gone. Steps that no lane has begun are left out, steps that all have finished cost a fill;
    /// among neighbouring pixels that leaves one or two.
    #[inline(never)]
    pub(super) fn map(&self, values: &Lane, channels: usize, out: &mut Lights) {
        let Some((first, rest)) = self.stops.split_first() else {
            return;
        };
        let (least, most) = extremes(values);
        let mut start = first;
        let mut filled = false;
        for (stop, ramp) in rest.iter().zip(self.ramps) {
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

    /// The same, value by value: neighbouring ones mostly lie between the same two stops.
    #[inline(never)]
    pub(super) fn each(&self, values: &[u16], channels: usize, out: &mut [Pixel]) {
        let mut piece = Piece::NONE;
        for (pixel, value) in out.iter_mut().zip(values) {
            if !piece.holds(*value) {
                piece = self.piece(*value);
            }
            let way = piece.ramp.at(value.wrapping_sub(piece.start));
            let [red, green, blue, white] = pixel;
            let [to_red, to_green, to_blue, to_white] = &piece.ways;
            *red = to_red.at(way);
            *green = to_green.at(way);
            *blue = to_blue.at(way);
            if channels > 3 {
                *white = to_white.at(way);
            }
        }
    }

    /// The piece that a value lies in: from the last stop below it to the next. What lies before
    /// the first stop or after the last has one colour.
    #[inline(never)]
    fn piece(&self, value: u16) -> Piece {
        let mut piece = Piece {
            begin: 0,
            ..Piece::NONE
        };
        let mut from = None;
        let mut ramps = self.ramps.iter();
        for stop in self.stops {
            let color = stop.color.to_array();
            if value <= stop.at.0 {
                piece.end = stop.at.0;
                piece.ways = ways_between(from.unwrap_or(color), color);
                return piece;
            }
            piece.start = stop.at.0;
            piece.begin = u32::from(stop.at.0) + 1;
            // There is none behind the last stop.
            piece.ramp = ramps.next().copied().unwrap_or(Ramp::STEP);
            from = Some(color);
        }
        let last = from.unwrap_or_default();
        piece.end = u16::MAX;
        piece.ways = ways_between(last, last);
        piece
    }
}

/// The colours between two stops.
struct Piece {
    /// The least value in it.
    begin: u32,
    /// The greatest.
    end: u16,
    /// Where the ramp begins.
    start: u16,
    ramp: Ramp,
    ways: [Way; 4],
}

impl Piece {
    /// One that holds no value.
    const NONE: Piece = Piece {
        begin: 1,
        end: 0,
        start: 0,
        ramp: Ramp::STEP,
        ways: [Way::new(0, 0); 4],
    };

    #[inline(always)]
    fn holds(&self, value: u16) -> bool {
        u32::from(value) >= self.begin && value <= self.end
    }
}

fn ways_between(from: Pixel, to: Pixel) -> [Way; 4] {
    let mut ways = [Way::new(0, 0); 4];
    for ((way, from), to) in ways.iter_mut().zip(from).zip(to) {
        *way = Way::new(from, to);
    }
    ways
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
