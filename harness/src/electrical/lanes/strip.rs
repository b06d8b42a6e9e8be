//! One strip in eight frames at once: the same elimination as in `super::super::strip`, which
//! explains it.
//!
//! A Newton step goes over the pixels twice: `sweep` evaluates the law at the present supplies and eliminates,
//! `walk` takes the supplies that follow and compares the law there with the line it was taken for.

use super::ramps::{Curved, Ramps, TOLERANCE_A};
use super::vector::{Lanes, LANES};
use super::{sweep, walk};
use crate::electrical::pixel::{PixelLaw, PixelType};

/// One pixel in every lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pixel {
    /// Supply, and the current of the law there.
    pub(super) v: Lanes,
    pub(super) a: Lanes,
    /// Elimination: V[x] = from_a·V[a] + keep·V[next] − lost. In a tail that was shot through: V[x] = keep·V[free end] − lost.
    pub(super) keep: Lanes,
    pub(super) lost: Lanes,
}

/// A tail shot through from its free end (see `sweep`): the supply at its break is q·x − d for x at the free end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shot {
    pub(super) per_q: Lanes,
    pub(super) d: Lanes,
}

/// Growth of the supplies along a tail, as the argument of a hyperbolic cosine, up to which it is shot through: what
/// rounding does to them is then below 1500 steps of the last bit, 10⁻¹² V.
const MOST_GROWTH: f64 = 8.0;

/// State and workspace of one strip.
#[derive(Debug, Clone)]
pub(super) struct StripLanes {
    pub(super) law: PixelType,
    pub(super) pixels: usize,
    pub(super) breaks: Vec<usize>,
    pub(super) r: f64,
    pub(super) ramps: Ramps,
    /// Running sums of the set currents of each pixel (see `ramps`), pixel-major.
    pub(super) sums: Vec<Lanes>,
    /// No pixel draws more, at whatever supply.
    pub(super) most_a: f64,
    /// Current of all pixels at the last supplies.
    pub(super) total_a: Lanes,
    pub(super) px: Vec<Pixel>,
    pub(super) from_a: Vec<Lanes>,
    /// Lowest supply along the strip in any lane: tells which ramps can be left out.
    lowest_v: f64,
    shape: Shape,
    /// Whether the tails were shot through in the last elimination, and what came of it before the first break and after
    /// the last one.
    pub(super) shoots: bool,
    pub(super) shots: [Shot; 2],
    pub(super) diag: Vec<Lanes>,
    pub(super) off: Vec<Lanes>,
    pub(super) fixed: Vec<Lanes>,
}

/// How much of the law the last elimination took.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    /// Every pixel draws its full current.
    Full,
    /// All but the first groups of channels are full.
    First(usize),
    /// Everything, and a mismatch is forgiven what rounding makes.
    Whole,
}

/// Groups up to which a shape has code of its own.
const MOST_FIRST: usize = 3;

impl StripLanes {
    pub(super) fn new(law: &PixelType, pixels: usize, pitch_ohm: f64, breaks: &[usize]) -> Self {
        let zero = |n: usize| vec![Lanes::ZERO; n];
        let (k, ramps) = (breaks.len(), Ramps::of(law));
        let dark = Pixel {
            v: Lanes::ZERO,
            a: Lanes::ZERO,
            keep: Lanes::ZERO,
            lost: Lanes::ZERO,
        };
        Self {
            law: law.clone(),
            pixels,
            breaks: breaks.to_vec(),
            r: pitch_ohm,
            sums: vec![ramps.dark_a; pixels * ramps.count],
            ramps,
            most_a: law.dark_a(),
            px: vec![dark; pixels],
            from_a: zero(pixels),
            total_a: Lanes::ZERO,
            lowest_v: f64::NEG_INFINITY,
            shape: Shape::Whole,
            shoots: false,
            shots: [Shot {
                per_q: Lanes::splat(1.0),
                d: Lanes::ZERO,
            }; 2],
            diag: zero(k),
            off: zero(k.saturating_sub(1)),
            fixed: zero(k),
        }
    }

    /// Supply and current of each pixel in lane `l`.
    pub(super) fn lane(&self, l: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.px.iter().map(move |p| (p.v.0[l], p.a.0[l]))
    }

    /// Supply of one pixel in every lane.
    pub(super) fn supply_v(&self, pixel: usize) -> [f64; LANES] {
        self.px[pixel].v.0
    }

    /// Every pixel of lane `l` at supply `v`, to start from there.
    pub(super) fn start_lane(&mut self, l: usize, v: f64) {
        for p in &mut self.px {
            p.v.0[l] = v;
        }
        // Only ever too low: that costs a look at the law, no more.
        self.lowest_v = self.lowest_v.min(v);
    }

    /// Every pixel at supply `v`.
    pub(super) fn start(&mut self, v: Lanes) {
        for p in &mut self.px {
            p.v = v;
        }
        self.lowest_v = v.least();
    }

    /// Takes the supplies of one lane over from elsewhere.
    pub(super) fn restart_lane(&mut self, l: usize, supply_v: &[f64]) {
        for (p, v) in self.px.iter_mut().zip(supply_v) {
            p.v.0[l] = *v;
            self.lowest_v = self.lowest_v.min(*v);
        }
    }

    /// Whether the last elimination took every pixel at its full current.
    pub(super) fn is_full(&self) -> bool {
        self.shape == Shape::Full
    }

    /// Reduces the strip, linearised at the present supplies, to its breaks.
    #[inline(always)]
    pub(super) fn eliminate(&mut self) {
        self.shape = match self.ramps.live(self.lowest_v) {
            Some(0) => Shape::Full,
            Some(n) if n <= MOST_FIRST => Shape::First(n),
            Some(_) | None => Shape::Whole,
        };
        self.shoots = matches!(self.shape, Shape::First(_)) && self.grows_little();
        match self.shape {
            Shape::Full => sweep::full(self),
            Shape::First(1) => sweep::by(self, self.ramps.first::<1>()),
            Shape::First(2) => sweep::by(self, self.ramps.first::<2>()),
            Shape::First(_) => sweep::by(self, self.ramps.first::<MOST_FIRST>()),
            Shape::Whole => sweep::by(self, self.ramps),
        }
    }

    /// Whether the supplies along the tails grow by little, however steep the pixels: at slope g and resistance r a pixel,
    /// by less than cosh(n·√(r·g)) over n of them.
    fn grows_little(&self) -> bool {
        let last = self.breaks.last().copied().unwrap_or_default();
        let longest = self.breaks[0].max(self.pixels - 1 - last) as f64;
        let per_pixel = self.r * self.most_a * self.ramps.most_per_v;
        longest * longest * per_pixel < MOST_GROWTH * MOST_GROWTH
    }

    /// Takes the supplies that follow from those at the breaks and evaluates the law there. Returns
    /// the largest mismatch of a pixel beyond its tolerance, in ampere: 0 or less is a solution.
    #[inline(always)]
    pub(super) fn step_to(&mut self, break_v: &[Lanes]) -> Lanes {
        match self.shape {
            Shape::Full => {
                self.lowest_v = walk::full(self, break_v).least();
                self.unless_below(0, Lanes::splat(f64::NEG_INFINITY))
            }
            Shape::First(1) => {
                let excess = self.step_by(self.ramps.first::<1>(), break_v);
                self.unless_below(1, excess)
            }
            Shape::First(2) => {
                let excess = self.step_by(self.ramps.first::<2>(), break_v);
                self.unless_below(2, excess)
            }
            Shape::First(_) => {
                let excess = self.step_by(self.ramps.first::<MOST_FIRST>(), break_v);
                self.unless_below(MOST_FIRST, excess)
            }
            Shape::Whole => self.step_by(self.ramps, break_v),
        }
    }

    #[inline(always)]
    fn step_by(&mut self, law: impl Curved, break_v: &[Lanes]) -> Lanes {
        let found = walk::by(self, law, break_v);
        (self.lowest_v, self.total_a) = (found.lowest.least(), found.total_a);
        found.worst - TOLERANCE_A
    }

    /// A step after which a supply lies below what was taken for granted is none, whatever else it found.
    #[inline(always)]
    fn unless_below(&self, live: usize, excess: Lanes) -> Lanes {
        if self.lowest_v >= self.ramps.floor_v(live) {
            excess
        } else {
            Lanes::splat(f64::INFINITY)
        }
    }
}
