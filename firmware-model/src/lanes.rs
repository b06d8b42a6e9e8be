//! Groups of neighbouring pixels.
//!
//! A host works with one array per quantity, so that the loops over them are short and straight and
//! the compiler makes vector code of them. A small core goes through the pixels one after the other
//! ([`Pixels`], [`Walk`]) and leaves out what does not show. Both give the same values (tested).
//!
//! The functions on whole groups are small ones without a `self`: the compiler makes a few dozen vector instructions of
//! each. With the feature `wide` they are built for wider vectors too, and the machine at hand is asked once what it has.

use crate::fixed::VECTORS;
use crate::preset::{Run, Zone};

/// Pixels handled together. On a host three of the widest vectors: of one alone each product would wait for the one
/// before it. On a small core few, for they lie on the stack.
pub(crate) const LANES: usize = if VECTORS { 48 } else { 16 };

/// One 16-bit quantity of [`LANES`] neighbouring pixels.
pub(crate) type Lane = [u16; LANES];

/// One 32-bit quantity of [`LANES`] neighbouring pixels.
pub(crate) type Wide = [u32; LANES];

/// The channels R, G, B, W of [`LANES`] neighbouring pixels.
pub(crate) type Lights = [Lane; 4];

/// The same, pixel by pixel.
pub(crate) type Pixels = [Pixel; LANES];

/// The channels R, G, B, W of a pixel.
pub(crate) type Pixel = [u16; 4];

/// From lane to lane `step` more, modulo 2³².
#[inline(always)]
pub(crate) fn course(first: u32, step: u32) -> Wide {
    let mut out = [0; LANES];
    for (value, lane) in out.iter_mut().zip(0u32..) {
        *value = first.wrapping_add(step.wrapping_mul(lane));
    }
    out
}

/// The upper 16 bits of each lane.
#[inline(always)]
pub(crate) fn high_halves(wide: &Wide) -> Lane {
    let mut out = [0; LANES];
    for (half, value) in out.iter_mut().zip(wide) {
        *half = (value >> 16) as u16;
    }
    out
}

/// The lower 16 bits of each lane.
#[inline(always)]
pub(crate) fn low_halves(wide: &Wide) -> Lane {
    let mut shifted = *wide;
    for value in &mut shifted {
        *value <<= 16;
    }
    high_halves(&shifted)
}

/// The part of a zone that lies in one group of lanes.
///
/// Lanes outside [`Stretch::inside`] get values of no meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stretch {
    /// Position in the zone, in pixels, of lane 0, modulo 2³².
    first: u32,
    /// What the position changes by from lane to lane: 1, or 2³² − 1 where the run is reversed.
    step: u32,
    /// The zone's [`pixel_share`].
    pixel: u32,
    /// First lane inside.
    from: u8,
    /// Lane after the last inside.
    to: u8,
}

/// 2³² over the number of pixels: the length of one pixel as a share of a zone.
pub(crate) fn pixel_share(pixels: u32) -> u32 {
    u32::MAX.checked_div(pixels).unwrap_or(u32::MAX)
}

impl Stretch {
    /// The part of a run that lies in the lanes from pixel `base` on, if any. `offset` is the
    /// position of the run in its zone, `pixel` the zone's [`pixel_share`].
    #[inline(always)]
    fn of(run: &Run, offset: u32, base: u32, pixel: u32) -> Option<Stretch> {
        let start = u32::from(run.start).max(base);
        let end = run.end().min(base + LANES as u32);
        if start >= end {
            return None;
        }
        let (first, step) = if run.reversed {
            let last = offset.wrapping_add(run.end() - 1);
            (last.wrapping_sub(base), u32::MAX)
        } else {
            let before = offset.wrapping_sub(u32::from(run.start));
            (before.wrapping_add(base), 1)
        };
        Some(Stretch {
            first,
            step,
            pixel,
            from: (start - base) as u8,
            to: (end - base) as u8,
        })
    }

    /// Whether every lane is inside.
    #[inline(always)]
    pub(crate) const fn is_full(&self) -> bool {
        (self.to - self.from) as usize == LANES
    }

    /// Whether a lane is inside.
    #[inline(always)]
    pub(crate) const fn inside(&self, lane: usize) -> bool {
        lane >= self.from as usize && lane < self.to as usize
    }

    /// Sets the lanes outside to zero.
    #[inline(always)]
    pub(crate) fn clip(&self, lane: &mut Lane) {
        if self.is_full() {
            return;
        }
        for (index, value) in lane.iter_mut().enumerate() {
            if !self.inside(index) {
                *value = 0;
            }
        }
    }

    /// A quantity that grows by `per_pixel` from pixel to pixel of the zone and is `at_zero` at the
    /// first, in each lane. All modulo 2³².
    #[inline(always)]
    pub(crate) fn course(&self, per_pixel: u32, at_zero: u32) -> Wide {
        course(
            self.first.wrapping_mul(per_pixel).wrapping_add(at_zero),
            self.step.wrapping_mul(per_pixel),
        )
    }

    /// A quantity that grows by `per_pixel` over each pixel and is `shift` at the start of the
    /// zone: its value at the middle of the pixel of each lane.
    #[inline(always)]
    pub(crate) fn middles(&self, per_pixel: u32, shift: u32) -> Wide {
        self.course(per_pixel, (per_pixel / 2).wrapping_add(shift))
    }

    /// The lanes inside.
    #[inline(always)]
    pub(crate) const fn range(&self) -> core::ops::Range<usize> {
        self.from as usize..self.to as usize
    }

    /// The values of [`Stretch::course`] in the lanes inside, one after the other.
    #[inline(always)]
    pub(crate) const fn walk(&self, per_pixel: u32, at_zero: u32) -> Walk {
        let first = self
            .first
            .wrapping_add(self.step.wrapping_mul(self.from as u32));
        Walk {
            at: first.wrapping_mul(per_pixel).wrapping_add(at_zero),
            step: self.step.wrapping_mul(per_pixel),
        }
    }

    /// The values of [`Stretch::middles`] in the lanes inside, one after the other.
    #[inline(always)]
    pub(crate) const fn walk_middles(&self, per_pixel: u32, shift: u32) -> Walk {
        self.walk(per_pixel, (per_pixel / 2).wrapping_add(shift))
    }

    /// The values of [`Stretch::places`] in the lanes inside, in the upper halves.
    #[inline(always)]
    pub(crate) const fn walk_places(&self, shift: u32) -> Walk {
        self.walk_middles(self.pixel, shift)
    }

    /// Whether positions fall from lane to lane.
    #[inline(always)]
    pub(crate) const fn falls(&self) -> bool {
        self.step != 1
    }

    /// Place of each lane in the zone, plus a shift (of 2³²): the middle of the pixel as a share
    /// of the zone's length.
    #[inline(always)]
    pub(crate) fn places(&self, shift: u32) -> Lane {
        high_halves(&self.middles(self.pixel, shift))
    }
}

/// A quantity from pixel to pixel, modulo 2³²: without end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Walk {
    at: u32,
    step: u32,
}

impl Iterator for Walk {
    type Item = u32;

    #[inline(always)]
    fn next(&mut self) -> Option<u32> {
        let at = self.at;
        self.at = at.wrapping_add(self.step);
        Some(at)
    }
}

/// The stretches of a zone in the lanes from pixel `base` on.
#[inline(always)]
pub(crate) fn stretches(zone: &Zone, base: u32, pixel: u32) -> impl Iterator<Item = Stretch> + '_ {
    let mut offset = 0u32;
    zone.runs.iter().filter_map(move |run| {
        let stretch = Stretch::of(run, offset, base, pixel);
        offset = offset.wrapping_add(u32::from(run.len));
        stretch
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;
    use crate::preset::Zone;
    use std::vec::Vec;

    fn zone(runs: &[(u16, u16, bool)]) -> Zone {
        let mut zone = Zone::whole("z", 1);
        zone.runs.clear();
        for &(start, len, reversed) in runs {
            zone.runs
                .push(Run {
                    start,
                    len,
                    reversed,
                })
                .unwrap();
        }
        zone
    }

    /// (pixel, position) of every pixel of a zone, as the lanes see it.
    fn seen(zone: &Zone, pixels: u32) -> Vec<(u32, u32)> {
        let share = pixel_share(zone.len());
        let mut all = Vec::new();
        for base in (0..pixels).step_by(LANES) {
            for stretch in stretches(zone, base, share) {
                let positions = stretch.course(1, 0);
                let places = stretch.places(0);
                let walked: Vec<u32> = stretch.walk(1, 0).take(stretch.range().len()).collect();
                assert_eq!(walked, positions[stretch.range()]);
                for (lane, (place, position)) in (0u32..).zip(places.into_iter().zip(positions)) {
                    if stretch.inside(lane as usize) {
                        all.push((base + lane, position));
                        let middle = (f64::from(position) + 0.5) / f64::from(zone.len());
                        let x = f64::from(place) / 65536.0;
                        assert!((x - middle).abs() < 1.5 / 65536.0, "{x} {middle}");
                    }
                }
            }
        }
        all.sort_unstable();
        all
    }

    #[test]
    fn positions_run_on_through_runs_and_reversals() {
        let zone = zone(&[(5, 20, false), (40, 3, true), (30, 2, false)]);
        let mut expected = Vec::new();
        expected.extend((0..20).map(|k| (5 + k, k)));
        expected.extend((0..3).map(|k| (42 - k, 20 + k)));
        expected.extend((0..2).map(|k| (30 + k, 23 + k)));
        expected.sort_unstable();
        assert_eq!(seen(&zone, 50), expected);
    }

    #[test]
    fn one_pixel_and_a_very_long_zone_are_placed() {
        assert_eq!(seen(&zone(&[(7, 1, true)]), 20), [(7, 0)]);
        assert_eq!(seen(&zone(&[(0, 4095, true)]), 4095).len(), 4095);
    }
}
