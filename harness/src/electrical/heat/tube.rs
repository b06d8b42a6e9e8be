//! A closed tube with heat in it: how warm its outside is, its bore, and what lies in it.
//!
//! # Model
//! Heat goes from what lies in the tube across the air gap (natural convection between cylinders, and radiation) to
//! the bore, through the wall, and from the outside to still air (Churchill and Chu) and by radiation to the room.
//! A source shorter than the tube warms the wall over its own length and, by conduction along the wall, a stretch
//! beyond: the wall is a long fin. With `m = √(hP/kA)` (h: film coefficient of the outside, P and A: perimeter and
//! cross-section of the wall) and heat q' a metre over a length a, the wall's rise at the middle of the source is
//! `q'/(hP) · (1 − e^(−m·a/2))`, the solution of `kA·θ'' = hP·θ − q'` on an infinite fin.
//!
//! # Where it holds
//! Steady state; still air; a tube that nobody holds (a hand sheds or brings heat) and the sun does not reach; heat
//! spread evenly over the length of each source. Light that leaves the tube is not deducted: all electrical power
//! counts as heat, which overstates a bright clear tube by a fifth or so.

use super::convection::{across_gap_w_per_m, shed_w_per_m};
use super::where_zero;
use crate::units::math;
use std::f64::consts::PI;

/// Emissivity of what lies in a tube: insulation, circuit boards, wrapped cells (plastics in handbooks; from memory).
pub const CONTENT_EMISSIVITY: f64 = 0.9;
/// Warmest answer above the surroundings, kelvin.
const MOST_K: f64 = 600.0;

/// A tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeShape {
    /// Outer diameter, metres.
    pub outer_m: f64,
    /// Wall thickness, metres.
    pub wall_m: f64,
    /// Length, metres.
    pub length_m: f64,
    /// Thermal conductivity of the wall, W/(m·K).
    pub conductivity: f64,
    /// Emissivity of the outside.
    pub emissivity: f64,
}

/// Heat in a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatSource {
    /// Heat, watts.
    pub heat_w: f64,
    /// Length along the tube over which it is spread, metres; what is longer than the tube counts as its length.
    pub length_m: f64,
    /// Diameter of what gives the heat, metres, for the air gap around it.
    pub diameter_m: f64,
}

/// Temperatures at the warmest place, kelvin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeHeat {
    /// Outside of the tube.
    pub outside_k: f64,
    /// Bore of the tube.
    pub bore_k: f64,
    /// Surface of the source in it.
    pub content_k: f64,
}

impl TubeShape {
    /// Inner diameter, metres.
    pub fn bore_m(&self) -> f64 {
        self.outer_m - 2.0 * self.wall_m
    }

    /// Where it is warmest over one of its sources; the others warm it with their heat spread over the tube.
    pub fn warmest(&self, sources: &[HeatSource], surroundings_k: f64) -> TubeHeat {
        let none = TubeHeat {
            outside_k: surroundings_k,
            bore_k: surroundings_k,
            content_k: surroundings_k,
        };
        (0..sources.len())
            .map(|i| self.over(sources, i, surroundings_k))
            .fold(none, |a, b| TubeHeat {
                outside_k: a.outside_k.max(b.outside_k),
                bore_k: a.bore_k.max(b.bore_k),
                content_k: a.content_k.max(b.content_k),
            })
    }

    /// Temperatures in the middle of one source; the heat of the others counts as spread over the tube.
    pub fn over(&self, sources: &[HeatSource], which: usize, surroundings_k: f64) -> TubeHeat {
        let mut spread_w_per_m = 0.0;
        let mut own = None;
        for (i, s) in sources.iter().enumerate() {
            if i == which {
                own = Some(s);
            } else {
                spread_w_per_m += s.heat_w.max(0.0) / self.length_m;
            }
        }
        let (heat_w_per_m, length_m, diameter_m) = own.map_or((0.0, self.length_m, 0.0), |s| {
            let length = s.length_m.min(self.length_m);
            (s.heat_w.max(0.0) / length, length, s.diameter_m)
        });
        // The fin's film coefficient depends on the rise it gives: both come out of one balance.
        let local_w_per_m = |rise_k: f64| {
            let shed = shed_w_per_m(
                self.outer_m,
                surroundings_k + rise_k,
                surroundings_k,
                self.emissivity,
            );
            let per_k = if rise_k > 0.0 { shed / rise_k } else { 0.0 };
            let section = PI * (self.outer_m - self.wall_m) * self.wall_m;
            let m = (per_k / (self.conductivity * section)).sqrt();
            let left = if length_m < self.length_m {
                1.0 - math::exp(-m * length_m / 2.0)
            } else {
                1.0
            };
            (shed, left)
        };
        // Through the wall goes at most what comes up at this place.
        let through = spread_w_per_m + heat_w_per_m;
        let rise_k = if through == 0.0 {
            0.0
        } else {
            where_zero(0.0, MOST_K, |rise| {
                let (shed, left) = local_w_per_m(rise);
                shed - spread_w_per_m - heat_w_per_m * left
            })
        };
        let outside_k = surroundings_k + rise_k;
        let wall = math::log(self.outer_m / self.bore_m()) / (2.0 * PI * self.conductivity);
        let bore_k = outside_k + through * wall;
        let content_k = if heat_w_per_m > 0.0 && diameter_m > 0.0 && diameter_m < self.bore_m() {
            where_zero(bore_k, bore_k + MOST_K, |kelvin| {
                across_gap_w_per_m(
                    (diameter_m, kelvin),
                    (self.bore_m(), bore_k),
                    CONTENT_EMISSIVITY,
                    CONTENT_EMISSIVITY,
                ) - heat_w_per_m
            })
        } else {
            bore_k
        };
        TubeHeat {
            outside_k,
            bore_k,
            content_k,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUBE: TubeShape = TubeShape {
        outer_m: 0.03,
        wall_m: 0.002,
        length_m: 0.3,
        conductivity: 0.2,
        emissivity: 0.9,
    };

    fn even(heat_w: f64) -> HeatSource {
        HeatSource {
            heat_w,
            length_m: 1.0,
            diameter_m: 0.012,
        }
    }

    // Churchill and Chu with handbook air: a tube of 30 mm at 45 °C in a room of 25 °C, emissivity 0.9, sheds
    // 11.55 W/(m²·K), 6.5 W on 0.3 m (computed from the correlation; properties from memory).
    #[test]
    fn a_hand_held_tube_at_forty_five_degrees() {
        let heat = TUBE.warmest(&[even(6.53)], 298.15);
        assert!((heat.outside_k - 318.15).abs() < 0.5, "{heat:?}");
    }

    #[test]
    fn heat_in_is_heat_out_at_every_wall() {
        let heat = TUBE.warmest(&[even(3.0)], 293.15);
        let out = shed_w_per_m(0.03, heat.outside_k, 293.15, 0.9) * 0.3;
        assert!((out - 3.0).abs() < 1e-6, "{out}");
        let wall = 2.0 * PI * 0.2 * 0.3 * (heat.bore_k - heat.outside_k) / (30.0f64 / 26.0).ln();
        assert!((wall - 3.0).abs() < 1e-6, "{wall}");
        let gap = across_gap_w_per_m((0.012, heat.content_k), (0.026, heat.bore_k), 0.9, 0.9) * 0.3;
        assert!((gap - 3.0).abs() < 1e-6, "{gap}");
    }

    // The fin equation solved by finite differences (tridiagonal), with the film coefficient the tube settles at.
    #[test]
    fn a_short_source_equals_the_fin_equation() {
        for conductivity in [0.2, 16.0, 200.0] {
            let tube = TubeShape {
                conductivity,
                length_m: 100.0,
                ..TUBE
            };
            let source = HeatSource {
                heat_w: 1.0,
                length_m: 0.07,
                diameter_m: 0.021,
            };
            let rise = tube.warmest(&[source], 298.15).outside_k - 298.15;
            let per_k = shed_w_per_m(0.03, 298.15 + rise, 298.15, 0.9) / rise;
            let section = PI * 0.028 * 0.002;
            let found = fin_by_differences(conductivity * section, per_k, 1.0 / 0.07, 0.07);
            assert!(
                (rise / found - 1.0).abs() < 2e-3,
                "{conductivity}: {rise} {found}"
            );
        }
    }

    /// Rise at the middle of a heated stretch: half the fin, symmetric, 3 m long.
    fn fin_by_differences(ka: f64, per_k: f64, q: f64, heated_m: f64) -> f64 {
        let (n, dx) = (60_000, 3.0 / 60_000.0);
        let g = ka / (dx * dx);
        let (mut c, mut d) = (vec![0.0; n], vec![0.0; n]);
        for i in 0..n {
            let source = if (i as f64) * dx < heated_m / 2.0 {
                q
            } else {
                0.0
            };
            let up = if i == 0 { 2.0 * g } else { g };
            let low = if i == 0 { 0.0 } else { g };
            let before: (f64, f64) = if i == 0 {
                (0.0, 0.0)
            } else {
                (c[i - 1], d[i - 1])
            };
            let pivot = 2.0 * g + per_k - low * before.0;
            c[i] = up / pivot;
            d[i] = (source + low * before.1) / pivot;
        }
        let mut x = d[n - 1];
        for i in (0..n - 1).rev() {
            x = d[i] + c[i] * x;
        }
        x
    }

    #[test]
    fn metal_spreads_what_plastic_keeps_in_place() {
        let source = HeatSource {
            heat_w: 2.0,
            length_m: 0.05,
            diameter_m: 0.02,
        };
        let metal = TubeShape {
            conductivity: 200.0,
            ..TUBE
        };
        let (plastic, metal) = (
            TUBE.warmest(&[source], 298.15),
            metal.warmest(&[source], 298.15),
        );
        assert!(plastic.outside_k > metal.outside_k + 10.0);
        assert_eq!(TUBE.warmest(&[], 298.15).outside_k, 298.15);
    }
}
