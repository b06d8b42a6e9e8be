//! Colours by value.

use super::flat;
use crate::fixed::{lerp, Ramp, Way};
use crate::lanes::{Lane, Lights, Pixel, LANES};
use crate::preset::{Stop, Stops, MAX_STOPS};

/// Colours by value, set up for many pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StopsFrame<'p> {
    stops: &'p Stops,
    /// Slopes of the ramps from each stop to the next.
    gains: [u16; MAX_STOPS - 1],
    shifts: [u8; MAX_STOPS - 1],
}

impl<'p> StopsFrame<'p> {
    #[inline(never)]
    pub(super) fn new(stops: &'p Stops) -> StopsFrame<'p> {
        let (mut gains, mut shifts) = ([0; MAX_STOPS - 1], [0; MAX_STOPS - 1]);
        let slopes = gains.iter_mut().zip(&mut shifts);
        for ((gain, shift), pair) in slopes.zip(stops.windows(2)) {
            if let [start, stop] = pair {
                (*gain, *shift) = Ramp::new(width(start, stop)).slope();
            }
        }
        StopsFrame {
            stops,
            gains,
            shifts,
        }
    }

    /// The slopes from stop to stop.
    #[inline(always)]
    fn slopes(&self) -> impl Iterator<Item = (u16, u8)> + '_ {
        self.gains.iter().copied().zip(self.shifts)
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
        for (stop, slope) in rest.iter().zip(self.slopes()) {
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
            let ramp = Ramp::with_slope(width(start, stop), slope);
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
                self.find(*value, &mut piece);
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
    fn find(&self, value: u16, piece: &mut Piece) {
        piece.begin = 0;
        piece.start = 0;
        piece.ramp = Ramp::STEP;
        let mut before: Option<(&Stop, (u16, u8))> = None;
        let mut slopes = self.slopes();
        for stop in self.stops {
            if value <= stop.at.0 {
                piece.end = stop.at.0;
                if let Some((from, slope)) = before {
                    piece.ramp = Ramp::with_slope(width(from, stop), slope);
                }
                piece.lead(before.map_or(stop, |(from, _)| from), stop);
                return;
            }
            piece.start = stop.at.0;
            piece.begin = u32::from(stop.at.0) + 1;
            // There is none behind the last stop.
            before = Some((stop, slopes.next().unwrap_or((0, 0))));
        }
        piece.end = u16::MAX;
        if let Some((last, _)) = before {
            piece.lead(last, last);
        }
    }
}

/// Distance from a stop to the next.
#[inline(always)]
const fn width(from: &Stop, to: &Stop) -> u16 {
    to.at.0.saturating_sub(from.at.0)
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

    /// Sets the ways from the colour of one stop to that of another.
    fn lead(&mut self, from: &Stop, to: &Stop) {
        let ends = from.color.to_array().into_iter().zip(to.color.to_array());
        for (way, (from, to)) in self.ways.iter_mut().zip(ends) {
            *way = Way::new(from, to);
        }
    }

    #[inline(always)]
    fn holds(&self, value: u16) -> bool {
        u32::from(value) >= self.begin && value <= self.end
    }
}

/// How far along a ramp from `start` each value is.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn ways(values: &Lane, start: u16, ramp: Ramp) -> Lane {
    let mut out = [0; LANES];
    for (way, value) in out.iter_mut().zip(values) {
        *way = ramp.at(value.saturating_sub(start));
    }
    out
}

/// Moves each value by its way towards the next.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn approach(lane: &mut Lane, next: u16, ways: &Lane) {
    for (value, way) in lane.iter_mut().zip(ways) {
        *value = lerp(*value, next, *way);
    }
}

/// The least and the greatest value.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
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
