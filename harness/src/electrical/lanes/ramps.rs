//! What a pixel draws, in every lane.
//!
//! Channels whose ramps are equal form a *group*. Groups are sorted by the supply from which they draw their
//! full current, the highest first: where the supply falls, they leave their full currents in that order. A
//! pixel keeps the running sums `sums[k]` of the set currents of group `k`, all groups after it, and the dark
//! current, so that a strip on which only the first `N` groups can have left their full current needs `N`
//! ramps and one sum.

use super::vector::Lanes;
use crate::electrical::pixel::{PixelLaw, PixelType, Ramp, MAX_CHANNELS};

/// A ramp as an offset and a factor.
#[derive(Debug, Clone, Copy)]
struct Group {
    off_v: f64,
    per_v: f64,
}

impl Group {
    fn new(ramp: Ramp) -> Self {
        Self {
            off_v: ramp.off_v,
            per_v: 1.0 / (ramp.full_v - ramp.off_v),
        }
    }

    /// Where on the ramp supply `v` lies: 0 where it begins, 1 where it ends.
    #[inline(always)]
    fn place(self, v: Lanes) -> Lanes {
        (v - self.off_v) * self.per_v
    }

    /// The share of a set current that is drawn at supply `v`, and where the line through `before` lies there. Equal to
    /// the bit where both supplies lie on the same piece.
    #[inline(always)]
    fn step(self, before: Lanes, v: Lanes) -> (Lanes, Lanes) {
        let (from, to) = (self.place(before), self.place(v));
        (to.clamped(), to.if_inside(from, from.clamped()))
    }

    /// Adds what a set current draws at supply `v`, and the slope of it.
    #[inline(always)]
    fn add(self, set: Lanes, v: Lanes, a: &mut Lanes, g: &mut Lanes) {
        let x = self.place(v);
        *a += set * x.clamped();
        *g += (set * self.per_v).if_inside(x, Lanes::ZERO);
    }
}

/// The ramps of a pixel type, sorted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ramps {
    groups: [Group; MAX_CHANNELS],
    pub(super) count: usize,
    dark: Group,
    pub(super) dark_a: Lanes,
    /// `floors[n]`: supply from which all but the first `n` groups, and the dark current, are full.
    floors: [f64; MAX_CHANNELS + 1],
    /// The steepest of them.
    pub(super) most_per_v: f64,
    /// Channels in the order in which they add up to `sums`, each with the sum that it completes.
    pub(super) order: [(usize, usize); MAX_CHANNELS],
}

impl Ramps {
    pub(super) fn of(law: &PixelType) -> Self {
        let channels = law.channel_list();
        let mut ramps: Vec<Ramp> = Vec::new();
        for channel in channels {
            if !ramps.contains(&channel.ramp) {
                ramps.push(channel.ramp);
            }
        }
        ramps.sort_by(|a, b| b.full_v.total_cmp(&a.full_v));
        let mut order = [(0, 0); MAX_CHANNELS];
        let last_first = (0..ramps.len()).rev();
        let members = last_first.flat_map(|k| {
            let ramp = ramps[k];
            let those = channels.iter().enumerate();
            those.filter_map(move |(c, channel)| (channel.ramp == ramp).then_some((c, k)))
        });
        order
            .iter_mut()
            .zip(members)
            .for_each(|(to, from)| *to = from);
        let dark = law.dark_ramp();
        let mut groups = [Group::new(dark); MAX_CHANNELS];
        let mut floors = [dark.full_v; MAX_CHANNELS + 1];
        for (k, ramp) in ramps.iter().enumerate() {
            groups[k] = Group::new(*ramp);
            for floor in &mut floors[..=k] {
                *floor = floor.max(ramp.full_v);
            }
        }
        let most = |m: f64, g: &Group| m.max(g.per_v);
        Self {
            most_per_v: groups.iter().fold(Group::new(dark).per_v, most),
            groups,
            count: ramps.len(),
            dark: Group::new(dark),
            dark_a: Lanes::splat(law.dark_a()),
            floors,
            order,
        }
    }

    /// How many groups can have left their full current where no supply is below `lowest_v`; `None` if even
    /// the dark current can.
    pub(super) fn live(&self, lowest_v: f64) -> Option<usize> {
        (0..=self.count).find(|n| lowest_v >= self.floors[*n])
    }

    /// Supply from which [`First`] holds.
    pub(super) fn floor_v(&self, live: usize) -> f64 {
        self.floors[live.min(self.count)]
    }

    pub(super) fn first<const N: usize>(&self) -> First<N> {
        let mut groups = [self.dark; N];
        for (to, from) in groups.iter_mut().zip(&self.groups) {
            *to = *from;
        }
        First {
            groups,
            dark_a: self.dark_a,
        }
    }
}

/// Far below any current that matters.
pub(super) const TOLERANCE_A: f64 = 1e-13;

/// A law of pixels.
pub(super) trait Law: Copy {
    /// Current and slope at supply `v`.
    fn at(&self, sums: &[Lanes], v: Lanes) -> (Lanes, Lanes);
}

/// A law that tells a solution.
pub(super) trait Curved: Law {
    /// Current at supply `v`, and how far it is from the line that the pixel was taken for at its supply `before`,
    /// without what may be rounding. The line is made anew: to keep it would cost more than to compute it twice.
    fn step(&self, sums: &[Lanes], before: Lanes, v: Lanes) -> (Lanes, Lanes);
}

/// The law where all but the first `N` groups are full. Its mismatch is nothing but what comes of supplies that change
/// from piece to piece: however steep a ramp, there is no rounding to forgive on it.
#[derive(Clone, Copy)]
pub(super) struct First<const N: usize> {
    groups: [Group; N],
    dark_a: Lanes,
}

impl<const N: usize> First<N> {
    /// The set current of each of the groups, and the sum of the others.
    #[inline(always)]
    fn parts(&self, sums: &[Lanes]) -> ([Lanes; N], Lanes) {
        let full = sums.get(N).copied().unwrap_or(self.dark_a);
        let mut sets = [Lanes::ZERO; N];
        if let Some(first) = sums.first_chunk::<N>() {
            for k in 0..N {
                sets[k] = first[k] - if k + 1 < N { first[k + 1] } else { full };
            }
        }
        (sets, full)
    }
}

impl<const N: usize> Law for First<N> {
    #[inline(always)]
    fn at(&self, sums: &[Lanes], v: Lanes) -> (Lanes, Lanes) {
        let (sets, mut a) = self.parts(sums);
        let mut g = Lanes::ZERO;
        for (group, set) in self.groups.iter().zip(sets) {
            group.add(set, v, &mut a, &mut g);
        }
        (a, g)
    }
}

impl<const N: usize> Curved for First<N> {
    #[inline(always)]
    fn step(&self, sums: &[Lanes], before: Lanes, v: Lanes) -> (Lanes, Lanes) {
        let (sets, mut a) = self.parts(sums);
        let mut off = Lanes::ZERO;
        for (group, set) in self.groups.iter().zip(sets) {
            let (share, line) = group.step(before, v);
            a += set * share;
            off += set * (share - line);
        }
        (a, off.abs())
    }
}

/// The law whatever the supply.
impl Law for Ramps {
    #[inline(always)]
    fn at(&self, sums: &[Lanes], v: Lanes) -> (Lanes, Lanes) {
        let (mut a, mut g) = (Lanes::ZERO, Lanes::ZERO);
        self.dark.add(self.dark_a, v, &mut a, &mut g);
        let mut after = self.dark_a;
        for (sum, group) in sums.iter().zip(&self.groups).rev() {
            group.add(*sum - after, v, &mut a, &mut g);
            after = *sum;
        }
        (a, g)
    }
}

impl Curved for Ramps {
    #[inline(always)]
    fn step(&self, sums: &[Lanes], before: Lanes, v: Lanes) -> (Lanes, Lanes) {
        let ((from, g), (a, _)) = (self.at(sums, before), self.at(sums, v));
        // a + g·(V − V_old) rather than g·V + j: nothing cancels near the solution.
        let line = from + g * (v - before);
        let rounding = (a + (g * v).abs()) * (4.0 * f64::EPSILON);
        (a, (a - line).abs() - rounding)
    }
}
