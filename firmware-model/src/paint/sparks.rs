//! Sparks: pixels that flash up at random and die down.

use super::{flat, Beat};
use crate::fixed::{scale, Ramp, Share};
use crate::lanes::{Lane, Lights, Stretch, LANES};
use crate::rng::{self, halves, mix};

/// The spark field at one moment.
///
/// In each span of time each pixel has one chance, at a random moment of the span. As a spark
/// lasts at most a span, those of this span and of the last are all that can be alight.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SparksFrame {
    color: [u16; 4],
    beat: Beat,
    chance: u16,
    decay: Ramp,
    seed: u32,
}

impl SparksFrame {
    pub(super) fn new(
        color: [u16; 4],
        beat: Beat,
        chance: Share,
        decay: Share,
        seed: u32,
    ) -> SparksFrame {
        SparksFrame {
            color,
            beat,
            chance: chance.0,
            decay: Ramp::new(decay.0),
            seed,
        }
    }

    #[inline(never)]
    pub(super) fn fill(
        &self,
        stretch: &Stretch,
        channels: usize,
        out: &mut Lights,
        cover: &mut Lane,
    ) {
        flat(out, self.color, channels);
        let fresh = self.sparks(stretch, self.beat.span);
        // A spark is fresh once its moment has come; until then the one of the last span shows.
        // Before the first span there were none.
        let old = if self.beat.span > 0 {
            self.sparks(stretch, self.beat.span - 1)
        } else {
            Sparks::NONE
        };
        let now = self.beat.within;
        for lane in 0..LANES {
            let come = fresh.moments[lane] <= now;
            let young = self.left(now.wrapping_sub(fresh.moments[lane])) & fresh.lit[lane];
            let young = if come { young } else { 0 };
            let going = old.moments[lane] > now;
            let aged = self.left(now.wrapping_sub(old.moments[lane])) & old.lit[lane];
            let aged = if going { aged } else { 0 };
            cover[lane] = scale(cover[lane], young.max(aged));
        }
    }

    /// When in a span each pixel sparks, and whether it does.
    #[inline(always)]
    fn sparks(&self, stretch: &Stretch, span: u32) -> Sparks {
        let mut sparks = Sparks::NONE;
        // The hash of seed, position and span, with the product by the position as a running sum.
        let (mut at, step) = stretch.course(rng::FIRST, rng::spread(self.seed, 0, span));
        let lanes = sparks.moments.iter_mut().zip(&mut sparks.lit);
        for (moment, lit) in lanes {
            let (high, draw) = halves(mix(at));
            *moment = high;
            // A chance of full is certain.
            let certain = self.chance == u16::MAX;
            *lit = if draw < self.chance || certain {
                u16::MAX
            } else {
                0
            };
            at = at.wrapping_add(step);
        }
        sparks
    }

    /// Light of a spark: full when fresh, then `(1 − age)²`.
    #[inline(always)]
    fn left(&self, age: u16) -> u16 {
        let left = !self.decay.at(age);
        scale(left, left)
    }
}

/// The sparks of one span.
struct Sparks {
    moments: Lane,
    /// All bits set where there is a spark.
    lit: Lane,
}

impl Sparks {
    const NONE: Sparks = Sparks {
        moments: [0; LANES],
        lit: [0; LANES],
    };
}
