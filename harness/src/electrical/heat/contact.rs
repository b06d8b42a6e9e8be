//! How much hotter the touching spot of a contact is than the metal around it.

use crate::units::math;

/// Lorenz number, V²/K² (theory of metals: π²k²/3e²).
const LORENZ: f64 = 2.44e-8;

/// Temperature of the touching spot, kelvin, at a voltage across the contact, the metal around being at `metal_k`.
///
/// Kohlrausch's relation `T² = T₀² + U²/4L` (Holm, Electric Contacts): whatever the spot's size and shape, so long as
/// the voltage lies over the spot alone and all heat leaves through the metal. A stated contact resistance also holds
/// springs and terminals, so the figure is an upper bound.
pub fn spot_temperature_k(volts: f64, metal_k: f64) -> f64 {
    math::hypot(metal_k, volts / (2.0 * LORENZ.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    // Holm's table of softening and melting voltages (from memory): silver melts (962 °C) at 0.37 V, copper (1085 °C)
    // at 0.43 V, gold (1064 °C) at 0.43 V; measured, with real metals' Lorenz numbers.
    #[test]
    fn melting_voltages_give_about_the_melting_points() {
        for (volts, celsius) in [(0.37, 962.0), (0.43, 1085.0), (0.43, 1064.0)] {
            let found = spot_temperature_k(volts, 293.15);
            let share = found / (celsius + 273.15);
            assert!((0.9..1.15).contains(&share), "{volts} V: {found} K");
        }
        assert!((spot_temperature_k(0.0, 300.0) - 300.0).abs() < 1e-12);
        assert!(spot_temperature_k(0.02, 300.0) - 300.0 < 10.0);
    }
}
