//! Value noise: random values on a grid of place and time, smoothly joined.

use super::{lattice, stops, Beat};
use crate::fixed::{lerp, scale, smoothstep};
use crate::lanes::{Lane, Lights, Stretch};
use crate::preset::Stops;
use crate::rng::{halves, hash};

/// Weights of one, two or three octaves, each half the one before, together full.
const WEIGHTS: [&[u16]; 3] = [&[65535], &[43690, 21845], &[37449, 18724, 9362]];

/// Noise at one moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NoiseFrame<'p> {
    stops: &'p Stops,
    /// Grid cells a pixel, 16 bits after the point.
    per_pixel: u32,
    span: u32,
    /// How far the values of this span have become those of the next.
    mix: u16,
    weights: &'static [u16],
    seed: u32,
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
            stops,
            per_pixel,
            span: beat.span,
            mix: smoothstep(beat.within),
            weights: WEIGHTS.get(index).copied().unwrap_or(&[65535]),
            seed,
        }
    }

    #[inline(never)]
    pub(super) fn fill(&self, stretch: &Stretch, channels: usize, out: &mut Lights) {
        stops::map(self.stops, &self.values(stretch), channels, out);
    }

    #[inline]
    fn values(&self, stretch: &Stretch) -> Lane {
        if let [_] = self.weights {
            return self.octave(stretch, 0);
        }
        let mut sum = [0u16; crate::lanes::LANES];
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
        let seed = self.seed.wrapping_add(octave);
        lattice::between(stretch, self.per_pixel << octave, 0, |cell| {
            let now = halves(hash(seed, cell, self.span)).0;
            let then = halves(hash(seed, cell, self.span.wrapping_add(1))).0;
            lerp(now, then, self.mix)
        })
    }
}
