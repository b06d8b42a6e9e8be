//! Heat by natural convection and radiation between cylinders and still air.

use super::air::Air;
use super::STEFAN_BOLTZMANN;
use crate::units::math;
use std::f64::consts::PI;

const GRAVITY_M_S2: f64 = 9.806_65;

/// Mean Nusselt number of a horizontal cylinder in still air or another fluid.
///
/// Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049: holds for Rayleigh numbers up to 10¹², down to those of
/// thin wires, all Prandtl numbers. An upright or slanted tube of a prop's length sheds about as much; below a length of
/// some ten diameters the ends matter too.
pub fn nusselt_horizontal_cylinder(rayleigh: f64, prandtl: f64) -> f64 {
    let damping = math::pow(1.0 + math::pow(0.559 / prandtl, 9.0 / 16.0), 8.0 / 27.0);
    math::powi(
        0.60 + 0.387 * math::pow(rayleigh.max(0.0), 1.0 / 6.0) / damping,
        2,
    )
}

/// Rayleigh number of air at a film temperature over a length and a temperature difference.
pub fn rayleigh(air: &Air, length_m: f64, difference_k: f64) -> f64 {
    let buoyancy = GRAVITY_M_S2 * air.expansion * difference_k.abs() * math::powi(length_m, 3);
    buoyancy * air.prandtl / (air.viscosity * air.viscosity)
}

/// Heat that a metre of horizontal cylinder sheds into a still room, watts, by convection and radiation; negative
/// where the room is warmer. `emissivity` is that of its surface; the room is taken as black and as warm as its air.
pub fn shed_w_per_m(diameter_m: f64, surface_k: f64, room_k: f64, emissivity: f64) -> f64 {
    let air = Air::at(f64::midpoint(surface_k, room_k));
    let number = rayleigh(&air, diameter_m, surface_k - room_k);
    let film = nusselt_horizontal_cylinder(number, air.prandtl) * air.conductivity / diameter_m;
    let radiated =
        emissivity * STEFAN_BOLTZMANN * (math::powi(surface_k, 4) - math::powi(room_k, 4));
    PI * diameter_m * (film * (surface_k - room_k) + radiated)
}

/// By which factor natural convection raises the conduction of the gas between two horizontal concentric cylinders,
/// 1 or more.
///
/// Raithby and Hollands (1975), as Incropera and DeWitt give it: Prandtl numbers from 0.7, Rayleigh numbers of the gap
/// up to 10⁷. Eccentric cylinders, such as a strip that lies on the wall, pass more heat.
pub fn gap_factor(air: &Air, inner_m: f64, outer_m: f64, difference_k: f64) -> f64 {
    let gap = f64::midpoint(outer_m, -inner_m);
    let shape = math::powi(math::log(outer_m / inner_m), 4)
        / (math::powi(gap, 3) * math::powi(math::pow(inner_m, -0.6) + math::pow(outer_m, -0.6), 5));
    let number = shape * rayleigh(air, gap, difference_k);
    let pr = air.prandtl;
    (0.386 * math::pow(pr / (0.861 + pr), 0.25) * math::pow(number, 0.25)).max(1.0)
}

/// Heat that passes a metre of the gap between two horizontal concentric cylinders, watts: gas and radiation between
/// grey walls. Where the inner one fills the outer there is no gap to speak of, and no bound: infinite.
pub fn across_gap_w_per_m(
    inner: (f64, f64),
    outer: (f64, f64),
    inner_emissivity: f64,
    outer_emissivity: f64,
) -> f64 {
    let ((inner_m, inner_k), (outer_m, outer_k)) = (inner, outer);
    if inner_m >= outer_m {
        return f64::INFINITY;
    }
    let air = Air::at(f64::midpoint(inner_k, outer_k));
    let factor = gap_factor(&air, inner_m, outer_m, inner_k - outer_k);
    let gas =
        2.0 * PI * factor * air.conductivity * (inner_k - outer_k) / math::log(outer_m / inner_m);
    let resistance = 1.0 / inner_emissivity + (inner_m / outer_m) * (1.0 / outer_emissivity - 1.0);
    let radiated =
        PI * inner_m * STEFAN_BOLTZMANN * (math::powi(inner_k, 4) - math::powi(outer_k, 4))
            / resistance;
    gas + radiated
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, share: f64) {
        assert!((value / expected - 1.0).abs() < share, "{value} {expected}");
    }

    // `ht` 1.2.0 (general-purpose heat-transfer library), Nu_horizontal_cylinder_Churchill_Chu(Pr, Gr).
    #[test]
    fn nusselt_equals_the_general_purpose_library() {
        for (pr, gr, nu) in [
            (0.7, 1e1, HT[0]),
            (0.7, 1e2, HT[1]),
            (0.72, 1e4, HT[2]),
            (0.707, 1e6, HT[3]),
        ] {
            near(nusselt_horizontal_cylinder(pr * gr, pr), nu, 1e-9);
        }
    }
    const HT: [f64; 4] = [
        1.0896517131621524,
        1.5662598014541056,
        4.053450091237143,
        13.186910938041061,
    ];

    // Incropera and DeWitt, example 9.4 (inputs from memory): D 0.1 m, 165 °C in 23 °C, Ra 5.07e6, Nu 23.3, 441 W/m
    // with emissivity 0.85. Ours takes its own properties of air, hence 3 %.
    #[test]
    fn a_steam_pipe_sheds_what_the_textbook_says() {
        let shed = shed_w_per_m(0.1, 438.15, 296.15, 0.85);
        near(shed, 763.0, 0.03);
    }

    // A tube of 60 mm at 70 °C in a room of 30 °C: Nu 12.556 (exercise text with its air table).
    #[test]
    fn a_tube_as_thick_as_a_lantern_equals_the_exercise() {
        let air = Air {
            conductivity: 0.02735,
            viscosity: 1.798e-5,
            prandtl: 0.7228,
            expansion: 1.0 / 323.0,
        };
        let number = rayleigh(&air, 0.06, 40.0);
        near(
            nusselt_horizontal_cylinder(number, air.prandtl),
            12.556,
            2e-3,
        );
    }

    // Morgan (1975) as `ht` 1.2.0 computes it, radiation and handbook air added by hand (Incropera and DeWitt, table A.4, from
    // memory): tubes of 20, 30 and 60 mm, emissivity 0.9. Two correlations differ by some 5 %.
    #[test]
    fn tubes_shed_what_another_correlation_says() {
        for (diameter_m, surface_k, room_k, expected) in [
            (0.02, 328.15, 298.15, 26.112),
            (0.03, 318.15, 298.15, 22.985),
            (0.06, 343.15, 303.15, 98.276),
        ] {
            near(
                shed_w_per_m(diameter_m, surface_k, room_k, 0.9),
                expected,
                0.08,
            );
        }
    }

    // Worked solution of a heat-transfer textbook, chapter on natural convection (read in a copy): cylinders of 4 and
    // 7 cm at 45 and 33.34 °C, k 0.02656, ν 1.694e-5, Pr 0.7257; effective conductivity 0.03751 W/(m·K).
    #[test]
    fn the_gap_of_two_tubes_equals_the_worked_solution() {
        let air = Air {
            conductivity: 0.02656,
            viscosity: 1.694e-5,
            prandtl: 0.7257,
            expansion: 0.003_203,
        };
        let effective = gap_factor(&air, 0.04, 0.07, 45.0 - 33.34) * air.conductivity;
        near(effective, 0.03751, 2e-3);
    }

    #[test]
    fn a_narrow_gap_conducts_only_and_equal_temperatures_pass_nothing() {
        let air = Air::at(300.0);
        assert!((gap_factor(&air, 0.02, 0.021, 1.0) - 1.0).abs() < 1e-12);
        assert_eq!(
            across_gap_w_per_m((0.01, 300.0), (0.02, 300.0), 0.9, 0.9),
            0.0
        );
        assert!(across_gap_w_per_m((0.02, 310.0), (0.02, 300.0), 0.9, 0.9).is_infinite());
    }
}
