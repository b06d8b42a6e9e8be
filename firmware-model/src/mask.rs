//! Where a layer shows: coverage of a group of pixels.

use crate::fixed::{fraction, scale, Length, Ramp, Share};
use crate::lanes::{Lane, Stretch, LANES};
use crate::preset::{Mask, Origin, Placement, Side};
use crate::rng::{halves, hash};

/// A mask at one moment, set up for many pixels. Distances are shares of the zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum MaskFrame {
    Whole,
    Span {
        from: u16,
        to: u16,
        edge: Ramp,
    },
    Front(Front),
    Taper {
        towards: Side,
        slope: Ramp,
        power: u8,
    },
    Spot {
        centre: u16,
        radius: u16,
        rim: Ramp,
    },
}

/// A front with a soft edge, on its way from its origin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Front {
    from: Origin,
    /// How far the tip has come, up to full.
    tip: u16,
    /// How far it has gone past the far end, up to the width of the edge.
    beyond: u16,
    edge: Ramp,
}

/// What a mask needs to know about its layer, besides the time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting {
    /// [`pixel_share`](crate::lanes::pixel_share) of the zone.
    pub(crate) pixel: u32,
    /// Seed of this run of the layer.
    pub(crate) seed: u32,
    /// Where the cue that started the layer points.
    pub(crate) place: Share,
}

/// A length as a share of the zone, at most full.
pub(crate) fn share_of_zone(length: Length, pixel: u32) -> u16 {
    let share = (u64::from(pixel) * u64::from(length.0)) >> 20;
    share.min(65535) as u16
}

impl Front {
    /// A front that has gone `way` of its way; with none it covers nothing, with all everything.
    pub(crate) fn at(from: Origin, way: u16, soft: Length, pixel: u32) -> Front {
        let width = share_of_zone(soft, pixel).max(1);
        let reach = u32::from(way) + u32::from(scale(way, width));
        Front {
            from,
            tip: reach.min(65535) as u16,
            beyond: reach.saturating_sub(65535) as u16,
            edge: Ramp::new(width),
        }
    }

    /// Coverage of each lane: 0 none, 65535 full.
    #[inline(never)]
    pub(crate) fn cover(&self, stretch: &Stretch) -> Lane {
        let x = stretch.places(0);
        match self.from {
            Origin::Start => x.map(|x| self.at_distance(x)),
            Origin::End => x.map(|x| self.at_distance(!x)),
            Origin::Centre => x.map(|x| self.at_distance(from_centre(x))),
        }
    }

    /// Coverage at a place in the zone.
    #[inline(always)]
    pub(crate) const fn at_place(&self, x: u16) -> u16 {
        self.at_distance(match self.from {
            Origin::Start => x,
            Origin::End => !x,
            Origin::Centre => from_centre(x),
        })
    }

    #[inline(always)]
    const fn at_distance(&self, distance: u16) -> u16 {
        let behind = self.tip.saturating_sub(distance);
        // Past the far end the tip stands at full, and what it has gone beyond is added.
        self.edge.at(behind.saturating_add(self.beyond))
    }
}

/// Distance from the centre, full at either end.
#[inline(always)]
const fn from_centre(x: u16) -> u16 {
    let half = if x >= 0x8000 { x - 0x8000 } else { 0x7fff - x };
    half << 1
}

impl MaskFrame {
    /// The mask `elapsed` ms after its start.
    pub(crate) fn at(mask: &Mask, elapsed: u32, setting: Setting) -> MaskFrame {
        let share = |length| share_of_zone(length, setting.pixel);
        match *mask {
            Mask::Whole => MaskFrame::Whole,
            Mask::Span { from, to, soft } => MaskFrame::Span {
                from: from.0,
                to: to.0,
                edge: Ramp::new(share(soft)),
            },
            Mask::Front {
                from,
                duration_ms,
                soft,
                returning,
            } => {
                let out = fraction(elapsed, duration_ms);
                let way = match elapsed.checked_sub(duration_ms) {
                    Some(back) if returning => !fraction(back, duration_ms),
                    _ => out,
                };
                MaskFrame::Front(Front::at(from, way, soft, setting.pixel))
            }
            Mask::Taper {
                towards,
                length,
                power,
            } => MaskFrame::Taper {
                towards,
                slope: Ramp::new(length.0),
                power,
            },
            Mask::Spot {
                centre,
                radius,
                soft,
                placement,
            } => MaskFrame::Spot {
                centre: match placement {
                    Placement::Fixed => centre.0,
                    Placement::Scattered => halves(hash(setting.seed, 0, 0)).0,
                    Placement::ByCue => setting.place.0,
                },
                radius: share(radius),
                rim: Ramp::new(share(soft)),
            },
        }
    }

    /// Coverage of each lane: 0 none, 65535 full.
    #[inline(never)]
    pub(crate) fn cover(&self, stretch: &Stretch) -> Lane {
        match *self {
            MaskFrame::Whole => [u16::MAX; LANES],
            MaskFrame::Span { from, to, edge } => {
                stretch.places(0).map(|x| edge.at(within(x, from, to)))
            }
            MaskFrame::Front(front) => front.cover(stretch),
            MaskFrame::Taper {
                towards,
                slope,
                power,
            } => {
                let flip = flip(towards);
                let straight = stretch.places(0).map(|x| slope.at(x ^ flip));
                let mut out = straight;
                for _ in 1..power {
                    for (value, factor) in out.iter_mut().zip(&straight) {
                        *value = scale(*value, *factor);
                    }
                }
                out
            }
            MaskFrame::Spot {
                centre,
                radius,
                rim,
            } => stretch
                .places(0)
                .map(|x| rim.at(radius.saturating_sub(x.abs_diff(centre)))),
        }
    }

    /// Coverage at a place in the zone.
    #[inline(always)]
    fn at_place(&self, x: u16) -> u16 {
        match *self {
            MaskFrame::Whole => u16::MAX,
            MaskFrame::Span { from, to, edge } => edge.at(within(x, from, to)),
            MaskFrame::Front(front) => front.at_place(x),
            MaskFrame::Taper {
                towards,
                slope,
                power,
            } => {
                let straight = slope.at(x ^ flip(towards));
                (1..power).fold(straight, |value, _| scale(value, straight))
            }
            MaskFrame::Spot {
                centre,
                radius,
                rim,
            } => rim.at(radius.saturating_sub(x.abs_diff(centre))),
        }
    }

    /// Coverage of the pixels of a stretch, times a gain, one after the other. Returns the bits that
    /// any of them has and those that all have.
    #[inline(never)]
    pub(crate) fn each(&self, stretch: &Stretch, gain: u16, covers: &mut [u16]) -> (u16, u16) {
        if let MaskFrame::Whole = self {
            for cover in covers {
                *cover = gain;
            }
            return (gain, gain);
        }
        let (mut any, mut all) = (0, u16::MAX);
        for (cover, at) in covers.iter_mut().zip(stretch.walk_places(0)) {
            let value = scale(self.at_place((at >> 16) as u16), gain);
            any |= value;
            all &= value;
            *cover = value;
        }
        (any, all)
    }
}

/// Distance of a place between two ends to the nearer of them, 0 outside.
#[inline(always)]
const fn within(x: u16, from: u16, to: u16) -> u16 {
    let (left, right) = (x.saturating_sub(from), to.saturating_sub(x));
    if left < right {
        left
    } else {
        right
    }
}

/// What turns a place round so that it counts from the side where a taper runs out.
#[inline(always)]
const fn flip(towards: Side) -> u16 {
    match towards {
        Side::Start => 0,
        Side::End => u16::MAX,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;
    use crate::lanes::{pixel_share, stretches};
    use crate::preset::Zone;
    use std::vec::Vec;

    const SETTING: Setting = Setting {
        pixel: 0,
        seed: 1,
        place: Share(0),
    };

    /// Coverage of every pixel of a zone of `pixels`.
    fn cover(mask: &Mask, elapsed: u32, pixels: u16) -> Vec<u16> {
        cover_as(mask, elapsed, pixels, SETTING)
    }

    fn cover_as(mask: &Mask, elapsed: u32, pixels: u16, setting: Setting) -> Vec<u16> {
        let pixel = pixel_share(u32::from(pixels));
        let frame = MaskFrame::at(mask, elapsed, Setting { pixel, ..setting });
        let zone = Zone::whole("z", pixels);
        let mut all = Vec::new();
        for base in (0..u32::from(pixels)).step_by(LANES) {
            for stretch in stretches(&zone, base, pixel) {
                let lanes = frame.cover(&stretch);
                let mut one_by_one = [0; LANES];
                let covers = &mut one_by_one[stretch.range()];
                frame.each(&stretch, u16::MAX, covers);
                assert_eq!(*covers, lanes[stretch.range()], "{mask:?}");
                all.extend((0..LANES).filter(|l| stretch.inside(*l)).map(|l| lanes[l]));
            }
        }
        all
    }

    #[test]
    fn a_hard_span_covers_its_pixels_fully_and_no_others() {
        let mask = Mask::Span {
            from: Share::from_percent(25),
            to: Share::from_percent(50),
            soft: Length(0),
        };
        for (pixel, value) in cover(&mask, 0, 40).into_iter().enumerate() {
            let expected = if (10..20).contains(&pixel) { 65535 } else { 0 };
            assert_eq!(value, expected, "{pixel}");
        }
    }

    #[test]
    fn a_soft_span_rises_over_its_width() {
        let mask = Mask::Span {
            from: Share(0),
            to: Share::FULL,
            soft: Length::from_pixels(4),
        };
        let all = cover(&mask, 0, 40);
        for (pixel, eighths) in [(0, 1), (1, 3), (2, 5), (3, 7)] {
            let expected = eighths * 65535 / 8;
            assert!(u32::from(all[pixel]).abs_diff(expected) < 60, "{pixel}");
            assert!(
                u32::from(all[39 - pixel]).abs_diff(expected) < 60,
                "{pixel}"
            );
        }
        assert!(all[4..36].iter().all(|v| *v == 65535));
    }

    #[test]
    fn a_front_covers_nothing_at_first_half_at_half_time_and_all_at_the_end() {
        for from in [Origin::Start, Origin::End, Origin::Centre] {
            for soft in [0, 8, 400] {
                let mask = Mask::Front {
                    from,
                    duration_ms: 1000,
                    soft: Length::from_pixels(soft),
                    returning: true,
                };
                let sum = |ms| {
                    let all = cover(&mask, ms, 100);
                    all.iter().map(|v| u32::from(*v)).sum::<u32>() as f64 / 65535.0
                };
                assert_eq!(sum(0), 0.0);
                assert!(
                    (sum(500) - 50.0).abs() < 1.1,
                    "{from:?} {soft} {}",
                    sum(500)
                );
                assert_eq!(sum(1000), 100.0);
                assert!(
                    (sum(1500) - 50.0).abs() < 1.1,
                    "{from:?} {soft} {}",
                    sum(1500)
                );
                assert_eq!(sum(2000), 0.0);
                assert_eq!(sum(1 << 30), 0.0);
            }
        }
    }

    #[test]
    fn a_front_starts_at_its_origin() {
        let lit = |from| {
            let mask = Mask::Front {
                from,
                duration_ms: 100,
                soft: Length(0),
                returning: false,
            };
            let all = cover(&mask, 10, 100);
            let lit = |range: core::ops::Range<usize>| all[range].iter().all(|v| *v == 65535);
            (lit(0..9), lit(46..54), lit(91..100))
        };
        assert_eq!(lit(Origin::Start), (true, false, false));
        assert_eq!(lit(Origin::End), (false, false, true));
        assert_eq!(lit(Origin::Centre), (false, true, false));
    }

    #[test]
    fn a_taper_runs_out_at_its_side() {
        let taper = |towards, power| Mask::Taper {
            towards,
            length: Share::HALF,
            power,
        };
        let straight = cover(&taper(Side::End, 1), 0, 100);
        assert!(straight[..50].iter().all(|v| *v == 65535));
        assert!(u32::from(straight[75]).abs_diff(65535 * 49 / 100) < 400);
        let mut back = cover(&taper(Side::Start, 1), 0, 100);
        back.reverse();
        assert!(straight.iter().zip(&back).all(|(a, b)| a.abs_diff(*b) < 8));
        let cube = cover(&taper(Side::End, 3), 0, 100);
        let s = f64::from(straight[75]) / 65535.0;
        assert!((f64::from(cube[75]) / 65535.0 - s * s * s).abs() < 1e-4);
    }

    #[test]
    fn a_spot_sits_where_it_is_put() {
        let spot = |placement| Mask::Spot {
            centre: Share::HALF,
            radius: Length::from_pixels(3),
            soft: Length(0),
            placement,
        };
        let lit = |placement, setting| {
            let all = cover_as(&spot(placement), 0, 100, setting);
            (0..100).filter(|p| all[*p] == 65535).collect::<Vec<_>>()
        };
        assert_eq!(lit(Placement::Fixed, SETTING), [47, 48, 49, 50, 51, 52]);
        let place = Share::from_percent(20);
        let by_cue = lit(Placement::ByCue, Setting { place, ..SETTING });
        assert_eq!(by_cue, [17, 18, 19, 20, 21, 22]);
        let scattered = |seed| lit(Placement::Scattered, Setting { seed, ..SETTING });
        assert_ne!(scattered(1), scattered(2));
        assert_eq!(scattered(1), scattered(1));
    }
}
