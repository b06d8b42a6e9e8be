//! One strip in eight frames at once: the same elimination as in `super::super::strip`, which
//! explains it.
//!
//! Channels whose ramps are equal are added up before the law is evaluated. The pass that finds the
//! supplies evaluates the law at them as well, so a Newton step goes over the pixels twice.

use super::vector::{Lanes, LANES};
use crate::electrical::pixel::{PixelLaw, PixelType, Ramp, MAX_CHANNELS};

/// The channels that share a ramp.
#[derive(Debug, Clone, Copy)]
pub(super) struct Group {
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

    /// Adds what the channels draw at supply `v`, and the slope of it.
    #[inline(always)]
    fn add(self, set: Lanes, v: Lanes, a: &mut Lanes, g: &mut Lanes) {
        let x = (v - self.off_v) * self.per_v;
        *a += set * x.max(Lanes::ZERO).min(Lanes::splat(1.0));
        *g += (set * self.per_v).where_inside(x);
    }
}

/// One pixel in every lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pixel {
    /// Supply, current of the law there, and its slope.
    pub(super) v: Lanes,
    pub(super) a: Lanes,
    g: Lanes,
    /// Elimination: V[x] = from_a·V[a] + keep·V[next] − lost.
    keep: Lanes,
    lost: Lanes,
}

impl Pixel {
    #[inline(always)]
    fn offset(&self) -> Lanes {
        self.a - self.g * self.v
    }
}

/// What a pass over the pixels finds.
struct Found {
    worst: Lanes,
    lowest: Lanes,
    total_a: Lanes,
}

/// State and workspace of one strip.
#[derive(Debug, Clone)]
pub(super) struct StripLanes {
    pub(super) law: PixelType,
    pub(super) pixels: usize,
    pub(super) breaks: Vec<usize>,
    r: f64,
    pub(super) groups: Vec<Group>,
    pub(super) group_of: [usize; MAX_CHANNELS],
    /// Set currents of each group, pixel-major.
    pub(super) set: Vec<Lanes>,
    /// Current of each pixel at ample supply.
    pub(super) full: Vec<Lanes>,
    /// Current of all pixels at the last supplies.
    pub(super) total_a: Lanes,
    pub(super) px: Vec<Pixel>,
    from_a: Vec<Lanes>,
    /// Lowest supply along the strip in any lane: tells if every pixel draws its full current.
    lowest_v: f64,
    pub(super) saturated: bool,
    pub(super) diag: Vec<Lanes>,
    pub(super) off: Vec<Lanes>,
    pub(super) fixed: Vec<Lanes>,
}

impl StripLanes {
    pub(super) fn new(law: &PixelType, pixels: usize, pitch_ohm: f64, breaks: &[usize]) -> Self {
        let mut groups: Vec<Ramp> = Vec::new();
        let mut group_of = [0; MAX_CHANNELS];
        for (c, channel) in law.channel_list().iter().enumerate() {
            let known = groups.iter().position(|r| *r == channel.ramp);
            group_of[c] = known.unwrap_or(groups.len());
            if known.is_none() {
                groups.push(channel.ramp);
            }
        }
        let zero = |n: usize| vec![Lanes::ZERO; n];
        let k = breaks.len();
        let dark = Pixel {
            v: Lanes::ZERO,
            a: Lanes::ZERO,
            g: Lanes::ZERO,
            keep: Lanes::ZERO,
            lost: Lanes::ZERO,
        };
        Self {
            law: law.clone(),
            pixels,
            breaks: breaks.to_vec(),
            r: pitch_ohm,
            set: zero(pixels * groups.len()),
            groups: groups.into_iter().map(Group::new).collect(),
            group_of,
            full: vec![Lanes::splat(law.dark_a()); pixels],
            px: vec![dark; pixels],
            from_a: zero(pixels),
            total_a: Lanes::ZERO,
            lowest_v: f64::NEG_INFINITY,
            saturated: false,
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

    /// Evaluates the law at the present supplies.
    #[inline(always)]
    pub(super) fn evaluate(&mut self) {
        self.saturated = self.lowest_v >= self.law.saturation_v();
        if self.saturated {
            self.total_a = Lanes::ZERO;
            for (p, full) in self.px.iter_mut().zip(&self.full) {
                (p.a, p.g) = (*full, Lanes::ZERO);
                self.total_a += *full;
            }
            return;
        }
        let law = Law::<MAX_CHANNELS>::of(self);
        let n = self.groups.len();
        for (p, set) in self.px.iter_mut().zip(self.set.chunks_exact(n)) {
            (p.a, p.g) = law.at_any(set, p.v);
        }
    }

    /// Reduces the strip, linearised at the present supplies, to its breaks.
    #[inline(always)]
    pub(super) fn eliminate(&mut self) {
        let end = self.breaks.len() - 1;
        let (first, last) = (self.breaks[0], self.breaks[end]);
        for k in 0..=end {
            let p = &self.px[self.breaks[k]];
            (self.diag[k], self.fixed[k]) = (p.g, p.offset());
        }
        let (r, saturated) = (self.r, self.saturated);
        let before = sweep_tail(self.px[..first].iter_mut(), r, saturated);
        let after = sweep_tail(self.px[last + 1..].iter_mut().rev(), r, saturated);
        for (at, (g, j)) in [(0, before), (end, after)] {
            self.diag[at] += g;
            self.fixed[at] += j;
        }
        for k in 0..end {
            self.sweep_section(k);
        }
    }

    #[inline(always)]
    fn sweep_section(&mut self, k: usize) {
        let (a, b) = (self.breaks[k], self.breaks[k + 1]);
        let r = self.r;
        let mut through = Lanes::splat(1.0);
        let (mut leak_a, mut leak_x) = (Lanes::ZERO, Lanes::ZERO);
        let (mut fixed_a, mut fixed_x) = (Lanes::ZERO, Lanes::ZERO);
        let pixels = self.px[a + 1..b].iter_mut();
        for (p, from_a) in pixels.zip(&mut self.from_a[a + 1..b]) {
            leak_x += p.g * r;
            fixed_x += p.offset();
            let keep = Lanes::splat(1.0) / (through + leak_x + 1.0);
            p.keep = keep;
            let passed = through * keep;
            *from_a = passed;
            leak_a += passed * leak_x;
            fixed_a += passed * fixed_x;
            through = passed;
            leak_x = leak_x * keep;
            fixed_x = fixed_x * keep;
            p.lost = fixed_x * r;
        }
        // The bare rails are in the linear network already: only the difference is ours.
        let pitches = (b - a) as f64;
        let beyond = if b - a == 1 {
            Lanes::ZERO
        } else {
            (through - 1.0 / pitches) / r
        };
        self.diag[k] += leak_a / r + beyond;
        self.diag[k + 1] += leak_x / r + beyond;
        self.off[k] = -beyond;
        self.fixed[k] += fixed_a;
        self.fixed[k + 1] += fixed_x;
    }

    /// Takes the supplies that follow from those at the breaks and evaluates the law there. Returns
    /// the largest mismatch of a pixel beyond its tolerance, in ampere: 0 or less is a solution.
    #[inline(always)]
    pub(super) fn step_to(&mut self, break_v: &[Lanes]) -> Lanes {
        if self.saturated {
            return self.step_full(break_v);
        }
        let found = match self.groups.len() {
            1 => self.step_ramps::<1>(break_v),
            2 => self.step_ramps::<2>(break_v),
            3 => self.step_ramps::<3>(break_v),
            _ => self.step_ramps::<MAX_CHANNELS>(break_v),
        };
        self.lowest_v = found.lowest.least();
        self.total_a = found.total_a;
        found.worst
    }

    /// A step before which every pixel drew its full current.
    #[inline(always)]
    fn step_full(&mut self, break_v: &[Lanes]) -> Lanes {
        let end = self.breaks.len() - 1;
        let (first, last) = (self.breaks[0], self.breaks[end]);
        let most = Lanes::splat(f64::INFINITY);
        let mut lowest = break_v.iter().fold(most, |m, v| m.min(*v));
        for (k, b) in self.breaks.iter().enumerate() {
            self.px[*b].v = break_v[k];
        }
        walk_full(self.px[..first].iter_mut().rev(), break_v[0], &mut lowest);
        walk_full(self.px[last + 1..].iter_mut(), break_v[end], &mut lowest);
        for k in 0..end {
            let (a, b) = (self.breaks[k], self.breaks[k + 1]);
            let mut next = break_v[k + 1];
            let pixels = self.px[a + 1..b].iter_mut().rev();
            for (p, from_a) in pixels.zip(self.from_a[a + 1..b].iter().rev()) {
                next = *from_a * break_v[k] + p.keep * next - p.lost;
                p.v = next;
                lowest = lowest.min(next);
            }
        }
        self.lowest_v = lowest.least();
        if self.lowest_v >= self.law.saturation_v() {
            return Lanes::splat(f64::NEG_INFINITY);
        }
        // Not everything stays at its full current after all: the general step goes on from here.
        self.evaluate();
        Lanes::splat(f64::INFINITY)
    }

    #[inline(always)]
    fn step_ramps<const N: usize>(&mut self, break_v: &[Lanes]) -> Found {
        let end = self.breaks.len() - 1;
        let (first, last) = (self.breaks[0], self.breaks[end]);
        let law = Law::<N>::of(self);
        let (sets, _) = self.set.as_chunks::<N>();
        let mut found = Found {
            worst: Lanes::splat(f64::NEG_INFINITY),
            lowest: Lanes::splat(f64::INFINITY),
            total_a: Lanes::ZERO,
        };
        for (k, b) in self.breaks.iter().enumerate() {
            settle(&mut self.px[*b], &sets[*b], &law, break_v[k], &mut found);
        }
        let before = self.px[..first].iter_mut().zip(&sets[..first]).rev();
        walk_tail(before, &law, break_v[0], &mut found);
        let after = self.px[last + 1..].iter_mut().zip(&sets[last + 1..]);
        walk_tail(after, &law, break_v[end], &mut found);
        for k in 0..end {
            let (a, b) = (self.breaks[k], self.breaks[k + 1]);
            let mut next = break_v[k + 1];
            let pixels = self.px[a + 1..b].iter_mut().zip(&sets[a + 1..b]).rev();
            for ((p, set), from_a) in pixels.zip(self.from_a[a + 1..b].iter().rev()) {
                next = *from_a * break_v[k] + p.keep * next - p.lost;
                settle(p, set, &law, next, &mut found);
            }
        }
        found
    }
}

/// The law of a pixel type with `N` groups of channels.
struct Law<const N: usize> {
    dark: Group,
    dark_a: Lanes,
    groups: [Group; N],
    count: usize,
}

impl<const N: usize> Law<N> {
    #[inline(always)]
    fn of(strip: &StripLanes) -> Self {
        let dark = Group::new(strip.law.dark_ramp());
        let mut groups = [dark; N];
        for (slot, group) in groups.iter_mut().zip(&strip.groups) {
            *slot = *group;
        }
        Self {
            dark,
            dark_a: Lanes::splat(strip.law.dark_a()),
            groups,
            count: strip.groups.len(),
        }
    }

    #[inline(always)]
    fn at(&self, set: &[Lanes; N], v: Lanes) -> (Lanes, Lanes) {
        let (mut a, mut g) = (Lanes::ZERO, Lanes::ZERO);
        self.dark.add(self.dark_a, v, &mut a, &mut g);
        for (group, set) in self.groups.iter().zip(set) {
            group.add(*set, v, &mut a, &mut g);
        }
        (a, g)
    }
}

impl Law<MAX_CHANNELS> {
    #[inline(always)]
    fn at_any(&self, set: &[Lanes], v: Lanes) -> (Lanes, Lanes) {
        let (mut a, mut g) = (Lanes::ZERO, Lanes::ZERO);
        self.dark.add(self.dark_a, v, &mut a, &mut g);
        for (group, set) in self.groups[..self.count].iter().zip(set) {
            group.add(*set, v, &mut a, &mut g);
        }
        (a, g)
    }
}

/// Pixels between two renewals of the fraction in [`sweep_tail`]. Over so few it stays far from
/// overflow: a pixel multiplies it by 1 + r·g + r·P/Q, and r·P/Q is below 1 after a pixel.
const RUN: usize = 8;

/// What a tail, walked from its free end, draws at the break: `G·V + J`.
///
/// `G → (G + g)/(1 + r·(G + g))` is kept as a fraction P/Q, with `P → P + g·Q` and `Q → Q + r·P`: all
/// terms are positive, and no pixel waits for the division of the one before.
#[inline(always)]
fn sweep_tail<'a>(
    walk: impl Iterator<Item = &'a mut Pixel>,
    r: f64,
    saturated: bool,
) -> (Lanes, Lanes) {
    let (mut p, mut q) = (Lanes::ZERO, Lanes::splat(1.0));
    let mut j = Lanes::ZERO;
    if saturated {
        for pixel in walk {
            j += pixel.a;
            pixel.lost = j * r;
        }
        return (Lanes::ZERO, j);
    }
    for (n, pixel) in walk.enumerate() {
        if n % RUN == 0 {
            p = p / q;
            q = Lanes::splat(1.0);
        }
        p += pixel.g * q;
        let next = q + p * r;
        let keep = q / next;
        q = next;
        pixel.keep = keep;
        j = (j + pixel.offset()) * keep;
        pixel.lost = j * r;
    }
    (p / q, j)
}

#[inline(always)]
fn walk_full<'a>(walk: impl Iterator<Item = &'a mut Pixel>, from: Lanes, lowest: &mut Lanes) {
    let mut v = from;
    for p in walk {
        v -= p.lost;
        p.v = v;
        *lowest = lowest.min(v);
    }
}

#[inline(always)]
fn walk_tail<'a, const N: usize>(
    walk: impl Iterator<Item = (&'a mut Pixel, &'a [Lanes; N])>,
    law: &Law<N>,
    from: Lanes,
    found: &mut Found,
) {
    let mut v = from;
    for (p, set) in walk {
        v = v * p.keep - p.lost;
        settle(p, set, law, v, found);
    }
}

#[inline(always)]
fn settle<const N: usize>(
    p: &mut Pixel,
    set: &[Lanes; N],
    law: &Law<N>,
    v: Lanes,
    found: &mut Found,
) {
    // a + g·(V − V_old) rather than g·V + j: nothing cancels near the solution.
    let lin = p.a + p.g * (v - p.v);
    let (a, g) = law.at(set, v);
    (p.v, p.a, p.g) = (v, a, g);
    found.lowest = found.lowest.min(v);
    found.total_a += a;
    // Rounding of the linearisation, and far below any current that matters.
    let tolerance = (a + (g * v).abs()) * (4.0 * f64::EPSILON) + 1e-13;
    found.worst = found.worst.max((a - lin).abs() - tolerance);
}
