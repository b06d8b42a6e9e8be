//! Resistance of copper wire from gauge, length, strands and temperature.
//!
//! Sources: diameters ASTM B258; resistivity and temperature law of annealed copper IEC 60028;
//! flexible cores IEC 60228 class 5, maximum resistance at 20 °C.

use crate::units::math;

/// Resistivity of annealed copper at 20 °C, in ohm metre: 1/58 Ω·mm²/m (IEC 60028).
pub const COPPER_RESISTIVITY_OHM_M: f64 = 1e-6 / 58.0;
/// Temperature coefficient of copper at 20 °C, per kelvin (IEC 60028).
pub const COPPER_ALPHA_PER_K: f64 = 0.003_93;

/// A conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Conductor {
    /// Solid wire of an American wire gauge; 0 is 1/0, −1 is 2/0.
    Awg(i32),
    /// `count` strands of gauge `strand_awg`. Strands are longer than the wire by their lay; the
    /// factor 1.02 is common practice (NEC Chapter 9 Table 8 rows of 7 strands agree).
    Strands {
        /// Number of strands.
        count: u32,
        /// Gauge of one strand.
        strand_awg: i32,
    },
    /// Flexible core of IEC 60228 class 5, plain copper; cross-section in mm². From 0.5 to 16 mm²
    /// the table's maximum, between its sizes by interpolation of resistance times area; below
    /// 0.5 mm², where the standard has no row, as for 0.5 mm² in proportion to the area.
    Class5Mm2(f64),
    /// The same, tinned.
    Class5TinnedMm2(f64),
    /// Solid copper of a cross-section in mm².
    SolidMm2(f64),
}

/// Cross-section in mm²; maximum ohm per km at 20 °C plain and tinned. IEC 60228 class 5. Rows above
/// 2.5 mm² from memory.
const CLASS_5: [(f64, f64, f64); 9] = [
    (0.5, 39.0, 40.1),
    (0.75, 26.0, 26.7),
    (1.0, 19.5, 20.0),
    (1.5, 13.3, 13.7),
    (2.5, 7.98, 8.21),
    (4.0, 4.95, 5.09),
    (6.0, 3.30, 3.39),
    (10.0, 1.91, 1.95),
    (16.0, 1.21, 1.24),
];

const LAY_FACTOR: f64 = 1.02;

/// Diameter of a gauge in millimetre: 0.127 · 92^((36 − n)/39) (ASTM B258).
pub fn awg_diameter_mm(awg: i32) -> f64 {
    0.127 * math::pow(92.0, f64::from(36 - awg) / 39.0)
}

/// Copper cross-section of a gauge in mm².
pub fn awg_area_mm2(awg: i32) -> f64 {
    let d = awg_diameter_mm(awg);
    std::f64::consts::FRAC_PI_4 * d * d
}

/// Resistance at a temperature over that at 20 °C.
pub fn copper_temperature_factor(celsius: f64) -> f64 {
    1.0 + COPPER_ALPHA_PER_K * (celsius - 20.0)
}

impl Conductor {
    /// Cross-section of copper in mm² (of the nominal size for class 5).
    pub fn area_mm2(self) -> f64 {
        match self {
            Conductor::Awg(awg) => awg_area_mm2(awg),
            Conductor::Strands { count, strand_awg } => f64::from(count) * awg_area_mm2(strand_awg),
            Conductor::Class5Mm2(a) | Conductor::Class5TinnedMm2(a) | Conductor::SolidMm2(a) => a,
        }
    }

    /// Resistance per metre at 20 °C, in ohm per metre.
    pub fn ohm_per_m_20c(self) -> f64 {
        let solid = COPPER_RESISTIVITY_OHM_M / (self.area_mm2() * 1e-6);
        match self {
            Conductor::Awg(_) | Conductor::SolidMm2(_) => solid,
            Conductor::Strands { count, .. } if count > 1 => solid * LAY_FACTOR,
            Conductor::Strands { .. } => solid,
            Conductor::Class5Mm2(a) => class_5(a, |row| row.1),
            Conductor::Class5TinnedMm2(a) => class_5(a, |row| row.2),
        }
    }

    /// Resistance of `length_m` metre at a copper temperature, in ohm. For a pair count both ways.
    pub fn ohm(self, length_m: f64, celsius: f64) -> f64 {
        self.ohm_per_m_20c() * length_m * copper_temperature_factor(celsius)
    }
}

fn class_5(area_mm2: f64, column: impl Fn(&(f64, f64, f64)) -> f64) -> f64 {
    // Resistance times area varies slowly: that is what is interpolated.
    let product = |row: &(f64, f64, f64)| column(row) * row.0;
    let first = &CLASS_5[0];
    let last = &CLASS_5[CLASS_5.len() - 1];
    let ohm_mm2_per_km = if area_mm2 <= first.0 {
        product(first)
    } else if area_mm2 >= last.0 {
        product(last)
    } else {
        let k = CLASS_5.partition_point(|row| row.0 <= area_mm2) - 1;
        let (a, b) = (&CLASS_5[k], &CLASS_5[k + 1]);
        let t = (area_mm2 - a.0) / (b.0 - a.0);
        product(a) * (1.0 - t) + product(b) * t
    };
    ohm_mm2_per_km / area_mm2 * 1e-3
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauge_24() {
        assert!((awg_diameter_mm(24) - 0.5106).abs() < 1e-4);
        assert!((awg_area_mm2(24) - 0.2047).abs() < 1e-4);
    }

    #[test]
    fn class_5_sizes_between_rows_lie_between_them() {
        let mid = Conductor::Class5Mm2(0.6).ohm_per_m_20c();
        assert!(mid < 0.039 && mid > 0.026);
        assert!((Conductor::Class5Mm2(0.25).ohm_per_m_20c() - 0.078).abs() < 1e-9);
        assert!(Conductor::Class5TinnedMm2(0.6).ohm_per_m_20c() > mid);
    }
}
