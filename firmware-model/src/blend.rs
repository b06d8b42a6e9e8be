//! How a layer joins what lies below it.

use crate::fixed::{lerp, scale};
use crate::lanes::{Lane, Lights, Pixel};
use crate::preset::Blend;

/// Puts `paint` over `below` where `cover` says, in the first `channels` channels.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
pub(crate) fn apply(
    blend: Blend,
    below: &mut Lights,
    paint: &Lights,
    cover: &Lane,
    channels: usize,
) {
    let pairs = below.iter_mut().zip(paint).take(channels);
    match blend {
        // Quite common: a layer that hides what is below it.
        Blend::Over if cover.iter().fold(u16::MAX, |all, c| all & c) == u16::MAX => {
            for (below, paint) in pairs {
                *below = *paint;
            }
        }
        // A loop of its own for each.
        Blend::Over => each(Blend::Over, pairs, cover),
        Blend::Add => each(Blend::Add, pairs, cover),
        Blend::Lighten => each(Blend::Lighten, pairs, cover),
        Blend::Multiply => each(Blend::Multiply, pairs, cover),
    }
}

/// The same, pixel by pixel; pixels without cover stay as they are.
#[inline(never)]
pub(crate) fn each_pixel(
    blend: Blend,
    below: &mut [Pixel],
    paint: &[Pixel],
    covers: &[u16],
    channels: usize,
) {
    let pairs = below.iter_mut().zip(paint).zip(covers);
    // A loop of its own for each.
    match blend {
        Blend::Over => {
            for ((below, paint), cover) in pairs {
                if *cover == u16::MAX {
                    *below = *paint;
                } else {
                    join(Blend::Over, below, paint, *cover, channels);
                }
            }
        }
        Blend::Add => pairs.for_each(|((below, paint), cover)| {
            join(Blend::Add, below, paint, *cover, channels);
        }),
        Blend::Lighten => pairs.for_each(|((below, paint), cover)| {
            join(Blend::Lighten, below, paint, *cover, channels);
        }),
        Blend::Multiply => pairs.for_each(|((below, paint), cover)| {
            join(Blend::Multiply, below, paint, *cover, channels);
        }),
    }
}

/// A channel of what lies below with one of a layer put over it.
#[inline(always)]
fn joined(blend: Blend, below: u16, paint: u16, cover: u16) -> u16 {
    match blend {
        Blend::Over => lerp(below, paint, cover),
        Blend::Add => below.saturating_add(scale(paint, cover)),
        Blend::Lighten => below.max(scale(paint, cover)),
        Blend::Multiply => scale(below, lerp(u16::MAX, paint, cover)),
    }
}

#[inline(always)]
fn join(blend: Blend, below: &mut Pixel, paint: &Pixel, cover: u16, channels: usize) {
    if cover == 0 {
        return;
    }
    let ([r, g, b, w], [to_r, to_g, to_b, to_w]) = (below, paint);
    *r = joined(blend, *r, *to_r, cover);
    *g = joined(blend, *g, *to_g, cover);
    *b = joined(blend, *b, *to_b, cover);
    if channels > 3 {
        *w = joined(blend, *w, *to_w, cover);
    }
}

#[inline(always)]
fn each<'a>(blend: Blend, pairs: impl Iterator<Item = (&'a mut Lane, &'a Lane)>, cover: &Lane) {
    for (below, paint) in pairs {
        for ((a, p), c) in below.iter_mut().zip(paint).zip(cover) {
            *a = joined(blend, *a, *p, *c);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::LANES;

    fn both_ways(blend: Blend, below: u16, paint: u16, cover: u16) -> u16 {
        let mut lights = [[below; LANES]; 4];
        apply(blend, &mut lights, &[[paint; LANES]; 4], &[cover; LANES], 3);
        // The fourth channel was not asked for.
        assert_eq!(lights[3], [below; LANES]);
        assert_eq!(lights[0], lights[2]);
        let mut pixels = [[below; 4]; 2];
        each_pixel(blend, &mut pixels, &[[paint; 4]; 2], &[cover, 0], 3);
        assert_eq!(pixels[0][..3], [lights[0][0]; 3]);
        assert_eq!(pixels[1], [below; 4]);
        lights[0][0]
    }

    const ALL: [Blend; 4] = [Blend::Over, Blend::Add, Blend::Lighten, Blend::Multiply];

    #[test]
    fn no_cover_changes_nothing() {
        for blend in ALL {
            for below in [0, 1, 777, 65535] {
                assert_eq!(both_ways(blend, below, 40_000, 0), below);
            }
        }
    }

    #[test]
    fn full_cover_follows_the_formulas() {
        assert_eq!(both_ways(Blend::Over, 10_000, 40_000, 65535), 40_000);
        assert_eq!(both_ways(Blend::Add, 10_000, 40_000, 65535), 50_000);
        assert_eq!(both_ways(Blend::Add, 50_000, 40_000, 65535), 65535);
        assert_eq!(both_ways(Blend::Lighten, 10_000, 40_000, 65535), 40_000);
        assert_eq!(both_ways(Blend::Lighten, 50_000, 40_000, 65535), 50_000);
        // 10 000 · 40 000 / 65535 = 6103.6
        assert_eq!(both_ways(Blend::Multiply, 10_000, 40_000, 65535), 6104);
    }

    #[test]
    fn half_cover_follows_the_formulas() {
        let half = 32768;
        assert_eq!(both_ways(Blend::Over, 10_000, 40_000, half), 25_000);
        assert_eq!(both_ways(Blend::Add, 10_000, 40_000, half), 30_000);
        assert_eq!(both_ways(Blend::Lighten, 10_000, 40_000, half), 20_000);
        // 10 000 · (1/2 + 40 000/65535/2) = 8051.8
        assert_eq!(both_ways(Blend::Multiply, 10_000, 40_000, half), 8052);
    }
}
