//! Embers: patches that heat up at random and cool down.

use super::lattice::Pair;
use super::{lattice, Beat, StopsFrame};
use crate::fixed::{lerp, scale_65536, Length, Ramp, Share};
use crate::lanes::{Lights, Pixel, Stretch, LANES};
use crate::rng::{halves, hash};

/// The ember field at one moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct EmbersFrame<'p> {
    pub(super) stops: StopsFrame<'p>,
    /// Patches a pixel, 16 bits after the point.
    pub(super) per_pixel: u32,
    /// How far the patches have drifted.
    pub(super) shift: u32,
    pub(super) heat: Heat,
    /// Patches on either side, when going pixel by pixel.
    pub(super) pair: Pair,
}

/// The heat of patches at one moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Heat {
    beat: Beat,
    /// Heating up, the first eighth of the cooling time.
    up: Ramp,
    cooling: Ramp,
    base: u16,
    seed: u32,
}

/// Drift after `elapsed` ms, in patches with 16 bits after the point, modulo 2³².
pub(super) fn drifted(elapsed: u32, drift: i16, patch: Length) -> u32 {
    // Sixteenths a second over sixteenths a patch: patches a second; in steps of 2⁻²⁸ a ms so
    // that slow drifts are kept, of which the lowest 12 bits are dropped after the product.
    let patch = i64::from(patch.0.max(16));
    let per_ms = (i64::from(drift) << 28) / (patch * 1000);
    let way = (i64::from(elapsed) * per_ms) >> 12;
    (way as u32).wrapping_neg()
}

impl EmbersFrame<'_> {
    #[inline(never)]
    pub(super) fn fill(&self, stretch: &Stretch, channels: usize, out: &mut Lights) {
        let heats = lattice::between(stretch, self.per_pixel, self.shift, |patch| {
            self.heat.of(patch)
        });
        self.stops.map(&heats, channels, out);
    }

    /// The same, pixel by pixel.
    #[inline(never)]
    pub(super) fn each(&mut self, stretch: &Stretch, channels: usize, out: &mut [Pixel]) {
        let mut heats = [0; LANES];
        let heats = heats.get_mut(stretch.range()).unwrap_or_default();
        let walk = stretch.walk_middles(self.per_pixel, self.shift);
        let heat = self.heat;
        let node = |patch| heat.of(patch);
        lattice::each(&mut self.pair, walk, node, |to, value| *to = value, heats);
        self.stops.each(heats, channels, out);
    }
}

impl Heat {
    pub(super) fn new(beat: Beat, cooling: Share, base: Share, seed: u32) -> Heat {
        Heat {
            beat,
            up: Ramp::new(cooling.0 / 8),
            cooling: Ramp::new(cooling.0),
            base: base.0,
            seed,
        }
    }

    /// Heat of a patch: what is left of its last kick, on top of the base.
    #[inline]
    fn of(&self, patch: u32) -> u16 {
        let now = self.beat.within;
        let (moment, kick) = self.kick(patch, self.beat.span);
        let fresh = if moment <= now {
            self.left(now - moment, kick)
        } else {
            0
        };
        let (moment, kick) = self.kick(patch, self.beat.span.wrapping_sub(1));
        let old = if moment > now {
            self.left(now.wrapping_sub(moment), kick)
        } else {
            0
        };
        lerp(self.base, u16::MAX, fresh.max(old))
    }

    /// When in a span a patch is heated, and by how much.
    #[inline]
    fn kick(&self, patch: u32, span: u32) -> (u16, u16) {
        halves(hash(self.seed, patch, span))
    }

    /// What is left of a kick: up fast, then down as `(1 − age)²`.
    #[inline]
    fn left(&self, age: u16, kick: u16) -> u16 {
        let cooled = !self.cooling.at(age);
        scale_65536(kick, self.up.at(age).min(scale_65536(cooled, cooled)))
    }
}
