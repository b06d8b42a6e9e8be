//! Values on a grid along the zone, and smoothly in between.

use crate::fixed::{lerp, smoothstep};
use crate::lanes::{Lane, Stretch, LANES};

/// Values between grid points. The grid has 16 bits of cell number, which wraps, and `per_pixel`
/// and `shift` 16 more below the point. `node` gives the value at a grid point; it is asked once
/// per point where neighbouring pixels share one.
#[inline]
pub(super) fn between(
    stretch: &Stretch,
    per_pixel: u32,
    shift: u32,
    node: impl Fn(u32) -> u16,
) -> Lane {
    let (mut at, step) = stretch.course(per_pixel, shift);
    let next = |cell: u32| cell.wrapping_add(1) & 0xffff;
    let mut cell = at >> 16;
    let (mut left, mut right) = (node(cell), node(next(cell)));
    let (mut lefts, mut rights, mut ways) = ([0; LANES], [0; LANES], [0; LANES]);
    let sides = lefts.iter_mut().zip(&mut rights);
    for ((l, r), way) in sides.zip(&mut ways) {
        let here = at >> 16;
        if here != cell {
            if here == next(cell) {
                left = right;
                right = node(next(here));
            } else if next(here) == cell {
                right = left;
                left = node(here);
            } else {
                left = node(here);
                right = node(next(here));
            }
            cell = here;
        }
        *l = left;
        *r = right;
        *way = at as u16;
        at = at.wrapping_add(step);
    }
    let mut out = [0; LANES];
    let sides = lefts.iter().zip(&rights);
    for ((value, way), (left, right)) in out.iter_mut().zip(&ways).zip(sides) {
        *value = lerp(*left, *right, smoothstep(*way));
    }
    out
}
