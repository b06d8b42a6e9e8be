//! Sparks: pixels that flash up at random and die down.

use super::{flat, Beat};
use crate::fixed::{scale, Ramp, Share};
use crate::lanes::{high_halves, low_halves, Lane, Lights, Pixel, Stretch, Wide, LANES};
use crate::rng::{self, halves, mix};

/// The spark field at one moment. A spark is full when fresh, then its light is `(1 − age)²`.
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
        let ages = ages(&fresh, &old, self.beat.within);
        shine(self.decay, &ages, cover);
    }

    /// Takes away from the cover of each pixel where no spark shows or it has lost light.
    #[inline(never)]
    pub(super) fn each(&self, stretch: &Stretch, covers: &mut [u16]) {
        let start = |span| stretch.walk(rng::FIRST, rng::spread(self.seed, 0, span));
        let fresh = start(self.beat.span);
        let old = start(self.beat.span.wrapping_sub(1));
        let now = self.beat.within;
        let certain = self.chance == u16::MAX;
        let lit = |draw: u16| draw < self.chance || certain;
        for ((cover, fresh), old) in covers.iter_mut().zip(fresh).zip(old) {
            let (moment, draw) = halves(mix(fresh));
            let mut age = now.wrapping_sub(moment);
            if !(lit(draw) && moment <= now) {
                let (moment, draw) = halves(mix(old));
                age = now.wrapping_sub(moment);
                if !(lit(draw) && moment > now && self.beat.span > 0) {
                    *cover = 0;
                    continue;
                }
            }
            let left = !self.decay.at(age);
            *cover = scale(*cover, scale(left, left));
        }
    }

    /// Its colour when fresh.
    pub(super) const fn color(&self) -> Pixel {
        self.color
    }

    /// When in a span each pixel sparks, and whether it does.
    #[inline(never)]
    fn sparks(&self, stretch: &Stretch, span: u32) -> Sparks {
        // The hash of seed, position and span; the product by the position is a running sum.
        let start = rng::spread(self.seed, 0, span);
        let hashes = mixed(&stretch.course(rng::FIRST, start));
        let mut lit = low_halves(&hashes);
        let certain = self.chance == u16::MAX;
        for draw in &mut lit {
            *draw = mask(*draw < self.chance || certain);
        }
        Sparks {
            moments: high_halves(&hashes),
            lit,
        }
    }
}

/// Takes away from `cover` where a spark has lost light.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn shine(decay: Ramp, ages: &Lane, cover: &mut Lane) {
    for (cover, age) in cover.iter_mut().zip(ages) {
        let left = !decay.at(*age);
        *cover = scale(*cover, scale(left, left));
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

/// All bits set, or none.
#[inline(always)]
const fn mask(set: bool) -> u16 {
    if set {
        u16::MAX
    } else {
        0
    }
}

#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn mixed(values: &Wide) -> Wide {
    let mut out = *values;
    for value in &mut out {
        *value = mix(*value);
    }
    out
}

/// Age of the spark of each lane, as a share of a span; the greatest there is where there is none,
/// at which no spark is left.
///
/// Of two sparks the younger is the brighter, as all die down at the same pace.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn ages(fresh: &Sparks, old: &Sparks, now: u16) -> Lane {
    let mut out = [0; LANES];
    for (lane, age) in out.iter_mut().enumerate() {
        let come = mask(fresh.moments[lane] <= now) & fresh.lit[lane];
        let going = mask(old.moments[lane] > now) & old.lit[lane];
        let young = now.wrapping_sub(fresh.moments[lane]);
        let aged = now.wrapping_sub(old.moments[lane]);
        *age = (young & come) | (!come & (aged | !going));
    }
    out
}
