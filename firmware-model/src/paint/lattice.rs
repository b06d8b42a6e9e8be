//! Values on a grid along the zone, and smoothly in between.

use crate::fixed::{lerp, smoothstep};
use crate::lanes::{high_halves, low_halves, Lane, Stretch, Walk, LANES};

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
/// cell up: lanes at most a cell apart touch at most one cell more than there are lanes.
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
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
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
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn mixed(lefts: &Lane, rights: &Lane, ways: &Lane) -> Lane {
    let mut out = *ways;
    for ((value, left), right) in out.iter_mut().zip(lefts).zip(rights) {
        *value = lerp(*left, *right, smoothstep(*value));
    }
    out
}

/// Two neighbouring grid points and their values, kept from pixel to pixel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// The cell between them; above 16 bits there is none yet.
    cell: u32,
    left: u16,
    right: u16,
}

impl Pair {
    pub(super) const NONE: Pair = Pair {
        cell: 1 << 31,
        left: 0,
        right: 0,
    };

    /// The value at a place of the grid, as [`between`] has it.
    #[inline(always)]
    fn at(&mut self, place: u32, node: &impl Fn(u32) -> u16) -> u16 {
        if place >> 16 != self.cell {
            self.move_to(place >> 16, node);
        }
        lerp(self.left, self.right, smoothstep(place as u16))
    }

    /// Goes to a cell; a neighbour has one of its grid points already.
    #[inline(never)]
    fn move_to(&mut self, cell: u32, node: &impl Fn(u32) -> u16) {
        let next = |cell: u32| u32::from((cell as u16).wrapping_add(1));
        let none = self.cell > u32::from(u16::MAX);
        if !none && next(self.cell) == cell {
            self.left = self.right;
            self.right = node(next(cell));
        } else if !none && next(cell) == self.cell {
            self.right = self.left;
            self.left = node(cell);
        } else {
            self.left = node(cell);
            self.right = node(next(cell));
        }
        self.cell = cell;
    }
}

/// The same as [`between`], place by place.
#[inline(always)]
pub(super) fn each(
    pair: &mut Pair,
    walk: Walk,
    node: impl Fn(u32) -> u16,
    mut take: impl FnMut(&mut u16, u16),
    values: &mut [u16],
) {
    for (value, place) in values.iter_mut().zip(walk) {
        take(value, pair.at(place, &node));
    }
}
