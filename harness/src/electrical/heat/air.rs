//! Dry air at sea level, as far as natural convection asks.

use crate::units::math;

/// Pressure of the standard atmosphere, Pa.
const PRESSURE_PA: f64 = 101_325.0;
/// Gas constant of dry air, J/(kg·K).
const GAS_J_PER_KG_K: f64 = 287.05;
/// Heat capacity at constant pressure, J/(kg·K); within 0.5 % from −50 to 150 °C.
const HEAT_J_PER_KG_K: f64 = 1007.0;
/// Freezing point of water, kelvin: where Sutherland's laws are anchored.
const ANCHOR_K: f64 = 273.15;

/// Properties of air at a film temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Thermal conductivity, W/(m·K).
    pub conductivity: f64,
    /// Kinematic viscosity, m²/s.
    pub viscosity: f64,
    /// Prandtl number.
    pub prandtl: f64,
    /// Thermal expansion, 1/K: that of an ideal gas.
    pub expansion: f64,
}

impl Air {
    /// At a film temperature in kelvin, by Sutherland's laws (constants as in White, Viscous Fluid Flow; from
    /// memory). Good to 3 % from −50 to 200 °C.
    pub fn at(kelvin: f64) -> Self {
        let t = kelvin.clamp(150.0, 1000.0);
        let law = |at_anchor: f64, sutherland_k: f64| {
            at_anchor * math::pow(t / ANCHOR_K, 1.5) * (ANCHOR_K + sutherland_k)
                / (t + sutherland_k)
        };
        let conductivity = law(0.0241, 194.0);
        let dynamic = law(1.716e-5, 110.4);
        Self {
            conductivity,
            viscosity: dynamic * GAS_J_PER_KG_K * t / PRESSURE_PA,
            prandtl: dynamic * HEAT_J_PER_KG_K / conductivity,
            expansion: 1.0 / t,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, share: f64) {
        assert!((value / expected - 1.0).abs() < share, "{value} {expected}");
    }

    // Table A.4 of Incropera and DeWitt at 300 and 350 K (from memory); at 50 °C a heat-transfer exercise text's table.
    #[test]
    fn properties_are_those_of_handbook_tables() {
        for (kelvin, k, nu, pr) in [
            (300.0, 0.0263, 15.89e-6, 0.707),
            (350.0, 0.0300, 20.92e-6, 0.700),
            (323.15, 0.02735, 17.98e-6, 0.7228),
        ] {
            let air = Air::at(kelvin);
            near(air.conductivity, k, 0.03);
            near(air.viscosity, nu, 0.02);
            near(air.prandtl, pr, 0.035);
        }
    }
}
