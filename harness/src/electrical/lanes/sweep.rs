//! The pass that evaluates the law and eliminates the strip to its breaks.

use super::ramps::Law;
use super::strip::{Pixel, Shot, StripLanes};
use super::vector::Lanes;

/// Pixels between two renewals of the fraction in [`tail`]. Over so few it stays far from
/// overflow: a pixel multiplies it by 1 + r·g + r·P/Q, and r·P/Q is below 1 after a pixel.
const RUN: usize = 8;

/// Linearises every pixel by its law at its present supply.
#[inline(always)]
pub(super) fn by(strip: &mut StripLanes, law: impl Law) {
    let (r, n) = (strip.r, strip.ramps.count);
    let end = strip.breaks.len() - 1;
    let (first, last) = (strip.breaks[0], strip.breaks[end]);
    for (k, b) in strip.breaks.iter().enumerate() {
        let sums = &strip.sums[b * n..(b + 1) * n];
        (strip.diag[k], strip.fixed[k]) = line(law, sums, strip.px[*b].v);
    }
    let sums = |from: usize, to: usize| strip.sums[from * n..to * n].chunks_exact(n);
    let (before, rest) = strip.px.split_at_mut(first);
    let before = before.iter_mut().zip(sums(0, first));
    let after = rest[last + 1 - first..].iter_mut();
    let after = after.zip(sums(last + 1, strip.pixels)).rev();
    let drawn = if strip.shoots {
        let (before, after) = (shoot(before, law, r), shoot(after, law, r));
        strip.shots = [before.1, after.1];
        [before.0, after.0]
    } else {
        [tail(before, law, r), tail(after, law, r)]
    };
    for (at, (g, j)) in [0, end].into_iter().zip(drawn) {
        strip.diag[at] += g;
        strip.fixed[at] += j;
    }
    for k in 0..end {
        section(strip, k, law);
    }
}

/// The same where every pixel draws its full current.
#[inline(always)]
pub(super) fn full(strip: &mut StripLanes) {
    let (r, n) = (strip.r, strip.ramps.count);
    let end = strip.breaks.len() - 1;
    let (first, last) = (strip.breaks[0], strip.breaks[end]);
    strip.total_a = Lanes::ZERO;
    for (k, b) in strip.breaks.iter().enumerate() {
        strip.px[*b].a = strip.sums[b * n];
        (strip.diag[k], strip.fixed[k]) = (Lanes::ZERO, strip.sums[b * n]);
        strip.total_a += strip.sums[b * n];
    }
    let sums = |from: usize, to: usize| strip.sums[from * n..to * n].chunks_exact(n);
    let before = full_tail(strip.px[..first].iter_mut().zip(sums(0, first)), r);
    let after = strip.px[last + 1..].iter_mut();
    let after = full_tail(after.zip(sums(last + 1, strip.pixels)).rev(), r);
    strip.fixed[0] += before;
    strip.fixed[end] += after;
    strip.total_a += before + after;
    for k in 0..end {
        section(strip, k, Full);
        let (from, to) = (strip.breaks[k] + 1, strip.breaks[k + 1]);
        let sums = strip.sums[from * n..to * n].chunks_exact(n);
        for (p, sums) in strip.px[from..to].iter_mut().zip(sums) {
            p.a = sums[0];
            strip.total_a += sums[0];
        }
    }
}

/// The law where everything draws its full current.
#[derive(Clone, Copy)]
struct Full;

impl Law for Full {
    #[inline(always)]
    fn at(&self, sums: &[Lanes], _: Lanes) -> (Lanes, Lanes) {
        (sums[0], Lanes::ZERO)
    }
}

/// The line g·V + j for which a pixel is taken at its supply `v`.
#[inline(always)]
fn line(law: impl Law, sums: &[Lanes], v: Lanes) -> (Lanes, Lanes) {
    let (a, g) = law.at(sums, v);
    (g, a - g * v)
}

/// What a tail, walked from its free end, draws at the break: `G·V + J`.
///
/// `G → (G + g)/(1 + r·(G + g))` is kept as a fraction P/Q, with `P → P + g·Q` and `Q → Q + r·P`: all
/// terms are positive, and no pixel waits for the division of the one before.
#[inline(always)]
fn tail<'a>(
    walk: impl Iterator<Item = (&'a mut Pixel, &'a [Lanes])>,
    law: impl Law,
    r: f64,
) -> (Lanes, Lanes) {
    let (mut p, mut q) = (Lanes::ZERO, Lanes::splat(1.0));
    let mut j = Lanes::ZERO;
    for (n, (pixel, sums)) in walk.enumerate() {
        if n % RUN == 0 {
            p = p / q;
            q = Lanes::splat(1.0);
        }
        let (g, fixed) = line(law, sums, pixel.v);
        p += g * q;
        let next = q + p * r;
        let keep = q / next;
        q = next;
        pixel.keep = keep;
        j = (j + fixed) * keep;
        pixel.lost = j * r;
    }
    (p / q, j)
}

/// The same by shooting: with the supply of the free end at x, that of every pixel is q·x − d. Nothing is divided and
/// no pixel waits for more than two products, but what is lost to rounding grows with q: see [`StripLanes::shoots`].
#[inline(always)]
fn shoot<'a>(
    walk: impl Iterator<Item = (&'a mut Pixel, &'a [Lanes])>,
    law: impl Law,
    r: f64,
) -> ((Lanes, Lanes), Shot) {
    // The current so far is p·x + j.
    let (mut p, mut j) = (Lanes::ZERO, Lanes::ZERO);
    let (mut q, mut d) = (Lanes::splat(1.0), Lanes::ZERO);
    for (pixel, sums) in walk {
        let (g, fixed) = line(law, sums, pixel.v);
        (pixel.keep, pixel.lost) = (q, d);
        p += g * q;
        j += fixed - g * d;
        q += p * r;
        d -= j * r;
    }
    let per_q = Lanes::splat(1.0) / q;
    let g = p * per_q;
    ((g, j + g * d), Shot { per_q, d })
}

/// The same without slopes.
#[inline(always)]
fn full_tail<'a>(walk: impl Iterator<Item = (&'a mut Pixel, &'a [Lanes])>, r: f64) -> Lanes {
    let mut j = Lanes::ZERO;
    for (pixel, sums) in walk {
        pixel.a = sums[0];
        j += sums[0];
        pixel.lost = j * r;
    }
    j
}

/// Adds the section between breaks `k` and `k + 1`.
#[inline(always)]
fn section(strip: &mut StripLanes, k: usize, law: impl Law) {
    let (a, b) = (strip.breaks[k], strip.breaks[k + 1]);
    let (r, n) = (strip.r, strip.ramps.count);
    let mut through = Lanes::splat(1.0);
    let (mut leak_a, mut leak_x) = (Lanes::ZERO, Lanes::ZERO);
    let (mut fixed_a, mut fixed_x) = (Lanes::ZERO, Lanes::ZERO);
    let sums = strip.sums[(a + 1) * n..b * n].chunks_exact(n);
    let pixels = strip.px[a + 1..b].iter_mut().zip(sums);
    for ((p, sums), from_a) in pixels.zip(&mut strip.from_a[a + 1..b]) {
        let (g, fixed) = line(law, sums, p.v);
        leak_x += g * r;
        fixed_x += fixed;
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
    strip.diag[k] += leak_a / r + beyond;
    strip.diag[k + 1] += leak_x / r + beyond;
    strip.off[k] = -beyond;
    strip.fixed[k] += fixed_a;
    strip.fixed[k + 1] += fixed_x;
}
