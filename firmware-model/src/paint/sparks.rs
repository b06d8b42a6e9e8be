//! Sparks: pixels that flash up at random and die down.

use super::{flat, Beat};
use crate::fixed::{scale, Ramp, Share};
use crate::lanes::{Lane, Lights, Stretch};
use crate::rng::{halves, hash};

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

    #[inline]
    pub(super) fn fill(
        &self,
        stretch: &Stretch,
        channels: usize,
        out: &mut Lights,
        cover: &mut Lane,
    ) {
        flat(out, self.color, channels);
        for (cover, position) in cover.iter_mut().zip(stretch.positions()) {
            *cover = scale(*cover, self.level(position));
        }
    }

    /// Light of the spark at a position: full when fresh, then `(1 − age)²`.
    #[inline]
    fn level(&self, position: u32) -> u16 {
        let last = self.beat.span.wrapping_sub(1);
        let now = self.beat.within;
        let fresh = match self.moment(position, self.beat.span) {
            Some(moment) if moment <= now => self.left(now - moment),
            _ => 0,
        };
        // Before the first span there were no sparks.
        let old = match self.moment(position, last) {
            Some(moment) if moment > now && self.beat.span > 0 => {
                self.left(now.wrapping_sub(moment))
            }
            _ => 0,
        };
        fresh.max(old)
    }

    /// When in a span the pixel sparks, if it does.
    #[inline]
    fn moment(&self, position: u32, span: u32) -> Option<u16> {
        let (moment, draw) = halves(hash(self.seed, position, span));
        // A chance of full is certain: the draw is below it or equal to its own greatest value.
        (draw < self.chance || self.chance == u16::MAX).then_some(moment)
    }

    #[inline]
    fn left(&self, age: u16) -> u16 {
        let left = !self.decay.at(age);
        scale(left, left)
    }
}
