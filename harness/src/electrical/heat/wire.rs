//! How warm a wire becomes that hangs alone in still air, in a room or within a closed tube.

use super::convection::{across_gap_w_per_m, shed_w_per_m};
use super::where_zero;
use crate::electrical::wire::copper_temperature_factor;

/// Emissivity of insulation and tinned, aged or painted surfaces of wires (handbooks: plastics 0.85 to 0.95; from memory).
const WIRE_EMISSIVITY: f64 = 0.9;
/// Hottest answer, kelvin: beyond it copper has long lost its insulation.
const HOTTEST_K: f64 = 1300.0;

/// Temperature, kelvin, of a wire of a diameter that carries an RMS current, with `ohm_per_m` at 20 °C.
///
/// The wire's surface is taken at its conductor's diameter: insulation makes a thin wire cooler, since it widens the
/// surface by more than it holds heat back (its critical radius, conductivity over film coefficient, is some 10 mm).
/// In a bundle wires share their surface and get hotter than this. With `within` a tube's bore (metres) the wire
/// lies alone in the middle of it and the wall is as warm as `around_k`; else the room is.
///
/// Holds for steady currents; a wire that would run away (resistance rises with heat) reads the upper bound.
pub fn wire_temperature_k(
    diameter_m: f64,
    ohm_per_m: f64,
    rms_a: f64,
    around_k: f64,
    within: Option<f64>,
) -> f64 {
    let balance = |kelvin: f64| {
        let shed = match within {
            Some(bore_m) => across_gap_w_per_m(
                (diameter_m, kelvin),
                (bore_m, around_k),
                WIRE_EMISSIVITY,
                WIRE_EMISSIVITY,
            ),
            None => shed_w_per_m(diameter_m, kelvin, around_k, WIRE_EMISSIVITY),
        };
        let hot_ohm = ohm_per_m * copper_temperature_factor(kelvin - 273.15);
        shed - rms_a * rms_a * hot_ohm
    };
    if rms_a == 0.0 {
        return around_k;
    }
    where_zero(around_k, HOTTEST_K.max(around_k), balance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::electrical::wire::{awg_diameter_mm, Conductor};

    fn rise(awg: i32, a: f64, within: Option<f64>) -> f64 {
        let ohm = Conductor::Awg(awg).ohm_per_m_20c();
        wire_temperature_k(awg_diameter_mm(awg) / 1e3, ohm, a, 303.15, within) - 303.15
    }

    // NEC table 310.17 (single insulated conductors in free air, 30 °C, 90 °C conductor): 14 AWG 35 A, 12 AWG 40 A,
    // 10 AWG 55 A (from memory). A code rating is rounded down, and the bare diameter taken here sheds less: the rise
    // comes out within a third of the 60 K that the rating stands for.
    #[test]
    fn free_air_ratings_of_a_code_come_out_near_their_conductor_temperature() {
        for (awg, a) in [(14, 35.0), (12, 40.0), (10, 55.0)] {
            let k = rise(awg, a, None);
            assert!((40.0..90.0).contains(&k), "{awg} AWG at {a} A: {k} K");
        }
    }

    // Another correlation than ours, worked outside: Morgan, Adv. Heat Transfer 11 (1975) 199, as `ht` 1.2.0 (general-purpose
    // heat-transfer library) computes it, with the air of Incropera and DeWitt, table A.4 (from memory), emissivity 0.9. The
    // two scatter about measurements on either side: agreement to the fifth of the rise that is claimed.
    #[test]
    fn thin_wires_are_as_warm_as_by_another_correlation() {
        for (awg, a, around_k, expected) in [
            (18, 12.0, 303.15, 28.926),
            (22, 5.0, 298.15, 16.725),
            (26, 3.0, 298.15, 19.105),
            (28, 2.0, 298.15, 15.438),
        ] {
            let ohm = Conductor::Awg(awg).ohm_per_m_20c();
            let k =
                wire_temperature_k(awg_diameter_mm(awg) / 1e3, ohm, a, around_k, None) - around_k;
            assert!(
                (k / expected - 1.0).abs() < 0.2,
                "{awg} AWG at {a} A: {k} K"
            );
        }
    }

    #[test]
    fn no_current_no_heat_and_a_tube_is_warmer_than_a_room() {
        assert!(rise(22, 0.0, None) < 1e-6);
        assert!(rise(22, 3.0, Some(0.02)) > rise(22, 3.0, None) * 0.9);
        assert!(rise(26, 3.0, None) > rise(22, 3.0, None));
        assert!(rise(30, 100.0, None) > 900.0);
    }
}
