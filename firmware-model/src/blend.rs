//! How a layer joins what lies below it.

use crate::fixed::{lerp, scale};
use crate::lanes::{Lane, Lights, Pixel};
use crate::preset::Blend;

/// Puts `paint` over `below` where `cover` says, in the first `channels` channels.
#[inline(never)]
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
        Blend::Over => each(pairs, cover, lerp),
        Blend::Add => each(pairs, cover, |a, p, c| a.saturating_add(scale(p, c))),
        Blend::Lighten => each(pairs, cover, |a, p, c| a.max(scale(p, c))),
        Blend::Multiply => each(pairs, cover, |a, p, c| scale(a, lerp(u16::MAX, p, c))),
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
    match blend {
        Blend::Over => {
            for ((below, paint), cover) in pairs {
                if *cover == u16::MAX {
                    *below = *paint;
                } else {
                    join(below, paint, *cover, channels, lerp);
                }
            }
        }
        Blend::Add => pairs.for_each(|((below, paint), cover)| {
            join(below, paint, *cover, channels, |a, p, c| {
                a.saturating_add(scale(p, c))
            });
        }),
        Blend::Lighten => pairs.for_each(|((below, paint), cover)| {
            join(below, paint, *cover, channels, |a, p, c| a.max(scale(p, c)));
        }),
        Blend::Multiply => pairs.for_each(|((below, paint), cover)| {
            join(below, paint, *cover, channels, |a, p, c| {
                scale(a, lerp(u16::MAX, p, c))
            });
        }),
    }
}

#[inline(always)]
fn join(
    below: &mut Pixel,
    paint: &Pixel,
    cover: u16,
    channels: usize,
    join: impl Fn(u16, u16, u16) -> u16,
) {
    if cover == 0 {
        return;
    }
    let ([r, g, b, w], [to_r, to_g, to_b, to_w]) = (below, paint);
    *r = join(*r, *to_r, cover);
    *g = join(*g, *to_g, cover);
    *b = join(*b, *to_b, cover);
    if channels > 3 {
        *w = join(*w, *to_w, cover);
    }
}

#[inline]
fn each<'a>(
    pairs: impl Iterator<Item = (&'a mut Lane, &'a Lane)>,
    cover: &Lane,
    join: impl Fn(u16, u16, u16) -> u16,
) {
    for (below, paint) in pairs {
        for ((a, p), c) in below.iter_mut().zip(paint).zip(cover) {
            *a = join(*a, *p, *c);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::LANES;

    fn joined(blend: Blend, below: u16, paint: u16, cover: u16) -> u16 {
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
                assert_eq!(joined(blend, below, 40_000, 0), below);
            }
        }
    }

    #[test]
    fn full_cover_follows_the_formulas() {
        assert_eq!(joined(Blend::Over, 10_000, 40_000, 65535), 40_000);
        assert_eq!(joined(Blend::Add, 10_000, 40_000, 65535), 50_000);
        assert_eq!(joined(Blend::Add, 50_000, 40_000, 65535), 65535);
        assert_eq!(joined(Blend::Lighten, 10_000, 40_000, 65535), 40_000);
        assert_eq!(joined(Blend::Lighten, 50_000, 40_000, 65535), 50_000);
        // 10 000 · 40 000 / 65535 = 6103.6
        assert_eq!(joined(Blend::Multiply, 10_000, 40_000, 65535), 6104);
    }

    #[test]
    fn half_cover_follows_the_formulas() {
        let half = 32768;
        assert_eq!(joined(Blend::Over, 10_000, 40_000, half), 25_000);
        assert_eq!(joined(Blend::Add, 10_000, 40_000, half), 30_000);
        assert_eq!(joined(Blend::Lighten, 10_000, 40_000, half), 20_000);
        // 10 000 · (1/2 + 40 000/65535/2) = 8051.8
        assert_eq!(joined(Blend::Multiply, 10_000, 40_000, half), 8052);
    }
}
