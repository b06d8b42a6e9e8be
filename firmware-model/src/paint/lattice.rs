//! Values on a grid along the zone, and smoothly in between.

use crate::fixed::{lerp, smoothstep};
use crate::lanes::{high_halves, low_halves, Lane, Stretch, LANES};

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
    if per_pixel <= CELL {
        shared(stretch, per_pixel, shift, node)
    } else {
        apart(stretch, per_pixel, shift, node)
    }
}

/// Where neighbouring lanes may share grid points, which are then worked out once, from the lowest
/// cell up: sixteen lanes at most a cell apart touch at most 17 cells.
#[inline(always)]
fn shared(stretch: &Stretch, per_pixel: u32, shift: u32, node: impl Fn(u32) -> u16) -> Lane {
    let at = stretch.middles(per_pixel, shift);
    let cells = high_halves(&at);
    let [first, .., last] = cells;
    let (low, high) = if stretch.falls() {
        (last, first)
    } else {
        (first, last)
    };
    let (mut lefts, mut rights) = ([0; LANES], [0; LANES]);
    let mut cell = low;
    let mut left = node(u32::from(cell));
    loop {
        let right = node(u32::from(cell.wrapping_add(1)));
        choose(&cells, cell, (left, right), (&mut lefts, &mut rights));
        if cell == high {
            break;
        }
        cell = cell.wrapping_add(1);
        left = right;
    }
    mixed(&lefts, &rights, &low_halves(&at))
}

/// Puts a pair of values in the lanes that are in the cell.
#[inline(never)]
fn choose(cells: &Lane, cell: u16, values: (u16, u16), sides: (&mut Lane, &mut Lane)) {
    for ((here, left), right) in cells.iter().zip(sides.0).zip(sides.1) {
        let chosen = if *here == cell { u16::MAX } else { 0 };
        *left |= values.0 & chosen;
        *right |= values.1 & chosen;
    }
}

/// Where every lane has grid points of its own.
#[inline(always)]
fn apart(stretch: &Stretch, per_pixel: u32, shift: u32, node: impl Fn(u32) -> u16) -> Lane {
    let at = stretch.middles(per_pixel, shift);
    let lefts = high_halves(&at).map(|cell| node(u32::from(cell)));
    let rights = high_halves(&at).map(|cell| node(u32::from(cell.wrapping_add(1))));
    mixed(&lefts, &rights, &low_halves(&at))
}

/// From left to right by a smooth way.
#[inline(never)]
fn mixed(lefts: &Lane, rights: &Lane, ways: &Lane) -> Lane {
    let mut out = *ways;
    for ((value, left), right) in out.iter_mut().zip(lefts).zip(rights) {
        *value = lerp(*left, *right, smoothstep(*value));
    }
    out
}
