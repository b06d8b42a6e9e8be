//! Value noise: random values on a grid of place and time, smoothly joined.

use super::lattice::Pair;
use super::{lattice, Beat, StopsFrame};
use crate::fixed::{lerp, scale, smoothstep};
use crate::lanes::{Lane, Lights, Pixel, Stretch, LANES};
use crate::preset::Stops;
use crate::rng::{halves, hash};

/// Weights of one, two or three octaves, each half the one before, together full.
const WEIGHTS: [&[u16]; 3] = [&[65535], &[43690, 21845], &[37449, 18724, 9362]];

/// Noise at one moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NoiseFrame<'p> {
    stops: StopsFrame<'p>,
    /// Grid cells a pixel, 16 bits after the point.
    per_pixel: u32,
    span: u32,
    /// How far the values of this span have become those of the next.
    mix: u16,
    weights: &'static [u16],
    seed: u32,
    /// Grid points of each octave, when going pixel by pixel.
    pairs: [Pair; 3],
}

impl<'p> NoiseFrame<'p> {
    pub(super) fn new(
        stops: &'p Stops,
        per_pixel: u32,
        beat: Beat,
        octaves: u8,
        seed: u32,
    ) -> NoiseFrame<'p> {
        let index = usize::from(octaves.saturating_sub(1));
        NoiseFrame {
            stops: StopsFrame::new(stops),
            per_pixel,
            span: beat.span,
            mix: smoothstep(beat.within),
            weights: WEIGHTS.get(index).copied().unwrap_or(&[65535]),
            seed,
            pairs: [Pair::NONE; 3],
        }
    }

    #[inline(never)]
    pub(super) fn fill(&self, stretch: &Stretch, channels: usize, out: &mut Lights) {
        self.stops.map(&self.values(stretch), channels, out);
    }

    /// The same, pixel by pixel.
    #[inline(never)]
    pub(super) fn each(&mut self, stretch: &Stretch, channels: usize, out: &mut [Pixel]) {
        let mut values = [0; LANES];
        let single = self.weights.len() == 1;
        let mut pairs = self.pairs;
        for ((octave, pair), weight) in (0u32..).zip(&mut pairs).zip(self.weights) {
            let walk = stretch.walk_middles(self.per_pixel << octave, 0);
            let weight = if single { u16::MAX } else { *weight };
            let add = |sum: &mut u16, value| *sum = sum.saturating_add(scale(value, weight));
            let node = |cell| self.node(octave, cell);
            lattice::each(
                pair,
                walk,
                node,
                add,
                values.get_mut(stretch.range()).unwrap_or_default(),
            );
        }
        self.pairs = pairs;
        let values = values.get(stretch.range()).unwrap_or_default();
        self.stops.each(values, channels, out);
    }

    #[inline]
    fn values(&self, stretch: &Stretch) -> Lane {
        if let [_] = self.weights {
            return self.octave(stretch, 0);
        }
        let mut sum = [0u16; LANES];
        for (octave, weight) in (0u32..).zip(self.weights) {
            let values = self.octave(stretch, octave);
            for (sum, value) in sum.iter_mut().zip(&values) {
                *sum = sum.saturating_add(scale(*value, *weight));
            }
        }
        sum
    }

    #[inline]
    fn octave(&self, stretch: &Stretch, octave: u32) -> Lane {
        lattice::between(stretch, self.per_pixel << octave, 0, |cell| {
            self.node(octave, cell)
        })
    }

    /// The value at a grid point.
    #[inline(always)]
    fn node(&self, octave: u32, cell: u32) -> u16 {
        let seed = self.seed.wrapping_add(octave);
        let now = halves(hash(seed, cell, self.span)).0;
        let then = halves(hash(seed, cell, self.span.wrapping_add(1))).0;
        lerp(now, then, self.mix)
    }
}
