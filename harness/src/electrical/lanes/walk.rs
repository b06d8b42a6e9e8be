//! The pass that takes the supplies that follow from those at the breaks.

use super::ramps::Curved;
use super::strip::{Pixel, Shot, StripLanes};
use super::vector::Lanes;

/// What a pass over the pixels finds.
pub(super) struct Found {
    pub(super) worst: Lanes,
    pub(super) lowest: Lanes,
    pub(super) total_a: Lanes,
}

/// Supplies and currents along the strip, and how far the law is from the lines that were solved.
#[inline(always)]
pub(super) fn by(strip: &mut StripLanes, law: impl Curved, break_v: &[Lanes]) -> Found {
    let n = strip.ramps.count;
    let end = strip.breaks.len() - 1;
    let (first, last) = (strip.breaks[0], strip.breaks[end]);
    let mut found = Found {
        worst: Lanes::splat(f64::NEG_INFINITY),
        lowest: Lanes::splat(f64::INFINITY),
        total_a: Lanes::ZERO,
    };
    for (k, b) in strip.breaks.iter().enumerate() {
        let sums = &strip.sums[b * n..(b + 1) * n];
        settle(&mut strip.px[*b], sums, law, break_v[k], &mut found);
    }
    let shots = strip.shots.map(|shot| strip.shoots.then_some(shot));
    let sums = |from: usize, to: usize| strip.sums[from * n..to * n].chunks_exact(n);
    let before = strip.px[..first].iter_mut().zip(sums(0, first)).rev();
    tail(before, law, break_v[0], shots[0], &mut found);
    let after = strip.px[last + 1..].iter_mut();
    let after = after.zip(sums(last + 1, strip.pixels));
    tail(after, law, break_v[end], shots[1], &mut found);
    for k in 0..end {
        let (a, b) = (strip.breaks[k], strip.breaks[k + 1]);
        let mut next = break_v[k + 1];
        let pixels = strip.px[a + 1..b].iter_mut().zip(sums(a + 1, b)).rev();
        for ((p, sums), from_a) in pixels.zip(strip.from_a[a + 1..b].iter().rev()) {
            next = *from_a * break_v[k] + p.keep * next - p.lost;
            settle(p, sums, law, next, &mut found);
        }
    }
    found
}

/// Supplies alone, where every pixel draws its full current; the lowest of them.
#[inline(always)]
pub(super) fn full(strip: &mut StripLanes, break_v: &[Lanes]) -> Lanes {
    let end = strip.breaks.len() - 1;
    let (first, last) = (strip.breaks[0], strip.breaks[end]);
    let most = Lanes::splat(f64::INFINITY);
    let mut lowest = break_v.iter().fold(most, |m, v| m.min(*v));
    for (k, b) in strip.breaks.iter().enumerate() {
        strip.px[*b].v = break_v[k];
    }
    full_tail(strip.px[..first].iter_mut().rev(), break_v[0], &mut lowest);
    full_tail(strip.px[last + 1..].iter_mut(), break_v[end], &mut lowest);
    for k in 0..end {
        let (a, b) = (strip.breaks[k], strip.breaks[k + 1]);
        let mut next = break_v[k + 1];
        let pixels = strip.px[a + 1..b].iter_mut().rev();
        for (p, from_a) in pixels.zip(strip.from_a[a + 1..b].iter().rev()) {
            next = *from_a * break_v[k] + p.keep * next - p.lost;
            p.v = next;
            lowest = lowest.min(next);
        }
    }
    lowest
}

#[inline(always)]
fn full_tail<'a>(walk: impl Iterator<Item = &'a mut Pixel>, from: Lanes, lowest: &mut Lanes) {
    let mut v = from;
    for p in walk {
        v -= p.lost;
        p.v = v;
        *lowest = lowest.min(v);
    }
}

#[inline(always)]
fn tail<'a>(
    walk: impl Iterator<Item = (&'a mut Pixel, &'a [Lanes])>,
    law: impl Curved,
    from: Lanes,
    shot: Option<Shot>,
    found: &mut Found,
) {
    if let Some(shot) = shot {
        let free_end = (from + shot.d) * shot.per_q;
        for (p, sums) in walk {
            settle(p, sums, law, free_end * p.keep - p.lost, found);
        }
        return;
    }
    let mut v = from;
    for (p, sums) in walk {
        v = v * p.keep - p.lost;
        settle(p, sums, law, v, found);
    }
}

#[inline(always)]
fn settle(p: &mut Pixel, sums: &[Lanes], law: impl Curved, v: Lanes, found: &mut Found) {
    let (a, off) = law.step(sums, p.v, v);
    found.worst = found.worst.max(off);
    found.lowest = found.lowest.min(v);
    found.total_a += a;
    (p.v, p.a) = (v, a);
}
