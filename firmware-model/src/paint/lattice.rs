//! Values on a grid along the zone, and smoothly in between.

use crate::fixed::{lerp, smoothstep};
use crate::lanes::{Lane, Stretch, LANES};

/// One cell of the grid, with 16 bits after the point.
const CELL: u32 = 1 << 16;

/// Values between grid points. The grid has 16 bits of cell number, which wraps, and `per_pixel`
/// and `shift` 16 more below the point. `node` gives the value at a grid point.
#[inline(always)]
pub(super) fn between(
    stretch: &Stretch,
    per_pixel: u32,
    shift: u32,
    node: impl Fn(u32) -> u16,
) -> Lane {
    let (first, step) = stretch.course(per_pixel, (per_pixel / 2).wrapping_add(shift));
    let (mut lefts, mut rights) = if per_pixel <= CELL {
        shared(first, step, node)
    } else {
        apart(first, step, node)
    };
    let mut at = first;
    for (left, right) in lefts.iter_mut().zip(&mut rights) {
        *left = lerp(*left, *right, smoothstep(at as u16));
        at = at.wrapping_add(step);
    }
    lefts
}

/// The grid points on either side of each lane, where neighbours may share them: each is worked
/// out once, from the lowest cell up.
#[inline(always)]
fn shared(first: u32, step: u32, node: impl Fn(u32) -> u16) -> (Lane, Lane) {
    // Sixteen lanes at most a cell apart touch at most 17 cells, which have 18 points; the rest
    // of the table is there so that an index of five bits cannot miss it.
    let mut points = [0u16; 32];
    let last = first.wrapping_add(step.wrapping_mul(LANES as u32 - 1));
    let falling = step > u32::MAX / 2;
    let (low, high) = if falling {
        (last, first)
    } else {
        (first, last)
    };
    let base = low >> 16;
    let cells = (high >> 16).wrapping_sub(base) & 0xffff;
    for (point, cell) in points.iter_mut().zip(0..=cells + 1) {
        *point = node(base.wrapping_add(cell) & 0xffff);
    }
    let (mut lefts, mut rights) = ([0; LANES], [0; LANES]);
    let mut at = first.wrapping_sub(base << 16);
    for (left, right) in lefts.iter_mut().zip(&mut rights) {
        let cell = (at >> 16) as usize;
        *left = points[cell & 31];
        *right = points[(cell + 1) & 31];
        at = at.wrapping_add(step);
    }
    (lefts, rights)
}

/// The same, where every lane has points of its own.
#[inline(always)]
fn apart(first: u32, step: u32, node: impl Fn(u32) -> u16) -> (Lane, Lane) {
    let (mut lefts, mut rights) = ([0; LANES], [0; LANES]);
    let mut at = first;
    for (left, right) in lefts.iter_mut().zip(&mut rights) {
        let cell = at >> 16;
        *left = node(cell);
        *right = node(cell.wrapping_add(1) & 0xffff);
        at = at.wrapping_add(step);
    }
    (lefts, rights)
}
