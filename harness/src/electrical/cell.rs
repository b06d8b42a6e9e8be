//! The cell: open-circuit voltage behind a resistance and up to two RC pairs.
//!
//! `V = OCV(SoC) − i·R0 − Σ v_k`, discharge positive, with `dSoC/dt = −i/(3600·Q)` and
//! `dv_k/dt = i/C_k − v_k/(R_k·C_k)`. For a current that is constant over a step the pairs have the
//! exact solution `v → v·e^(−t/RC) + i·R·(1 − e^(−t/RC))`, so the step may have any length (as long
//! as the tables vary little over it: resistances are read at its start).
//!
//! What it does not know: hysteresis of the OCV, entropy heat, self-discharge, and the fall of
//! resistance at high current that real cells show.

use super::error::NetworkError;
use super::table::{Table1, Table2};
use crate::units::math;

/// Most RC pairs of a cell.
pub const MAX_RC_PAIRS: usize = 2;
/// Temperature of a fresh state, in °C.
pub const REFERENCE_C: f64 = 25.0;

/// One RC pair, over SoC (0..1) and temperature (°C).
#[derive(Debug, Clone, PartialEq)]
pub struct RcPair {
    /// Resistance, in ohm.
    pub ohm: Table2,
    /// Capacitance, in farad.
    pub farad: Table2,
}

/// How far a cell has aged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ageing {
    /// Factor on every resistance, 1 when new.
    pub resistance: f64,
    /// Factor on the capacity, 1 when new.
    pub capacity: f64,
}

impl Default for Ageing {
    fn default() -> Self {
        Self {
            resistance: 1.0,
            capacity: 1.0,
        }
    }
}

/// Lumped thermal model: one temperature for the whole cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermal {
    /// Heat capacity, in joule per kelvin; more than 0.
    pub joule_per_k: f64,
    /// Heat given off to the surroundings, in watt per kelvin; 0 for none.
    pub watt_per_k: f64,
    /// Temperature of the surroundings, in °C.
    pub ambient_c: f64,
}

/// What a cell is.
#[derive(Debug, Clone, PartialEq)]
pub struct CellModel {
    /// Capacity when new, in ampere hour.
    pub capacity_ah: f64,
    /// Open-circuit voltage over SoC (0..1), in volt.
    pub ocv_v: Table1,
    /// Series resistance over SoC and temperature (°C), in ohm.
    pub r0_ohm: Table2,
    /// Up to [`MAX_RC_PAIRS`] RC pairs.
    pub rc: Vec<RcPair>,
    /// How far it has aged.
    pub ageing: Ageing,
    /// If set, the cell warms itself; else its temperature stays.
    pub thermal: Option<Thermal>,
}

/// How a cell is at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellState {
    /// State of charge, 1 full, 0 empty. Counting goes on below 0; the OCV then stays at its end.
    pub soc: f64,
    /// Voltage over each RC pair, in volt.
    pub rc_v: [f64; MAX_RC_PAIRS],
    /// Temperature, in °C.
    pub celsius: f64,
}

impl CellState {
    /// At rest at a state of charge and a temperature.
    pub fn at_rest(soc: f64, celsius: f64) -> Self {
        Self {
            soc,
            rc_v: [0.0; MAX_RC_PAIRS],
            celsius,
        }
    }
}

impl CellModel {
    /// Checks the values that tables do not check themselves.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`] that names the value.
    pub fn check(&self, name: &str) -> Result<(), NetworkError> {
        let positive = |what, value: f64| {
            if value.is_finite() && value > 0.0 {
                return Ok(());
            }
            let expected = "more than 0";
            Err(NetworkError::BadValue {
                name: name.to_owned(),
                what,
                value,
                expected,
            })
        };
        positive("capacity", self.capacity_ah)?;
        positive("ageing factor of the resistance", self.ageing.resistance)?;
        positive("ageing factor of the capacity", self.ageing.capacity)?;
        if let Some(thermal) = &self.thermal {
            positive("heat capacity", thermal.joule_per_k)?;
        }
        if self.rc.len() > MAX_RC_PAIRS {
            return Err(NetworkError::BadValue {
                name: name.to_owned(),
                what: "number of RC pairs",
                value: self.rc.len() as f64,
                expected: "at most 2",
            });
        }
        Ok(())
    }

    /// Open-circuit voltage, in volt.
    pub fn ocv_v(&self, state: &CellState) -> f64 {
        self.ocv_v.at(state.soc)
    }

    /// Series resistance, aged, in ohm.
    pub fn r0_ohm(&self, state: &CellState) -> f64 {
        self.r0_ohm.at(state.soc, state.celsius) * self.ageing.resistance
    }

    /// What the network sees at this moment: an EMF (OCV less the RC pairs) behind R0.
    pub fn thevenin(&self, state: &CellState) -> (f64, f64) {
        let pairs: f64 = state.rc_v[..self.rc.len().min(MAX_RC_PAIRS)].iter().sum();
        (self.ocv_v(state) - pairs, self.r0_ohm(state))
    }

    /// Terminal voltage at a current (discharge positive), in volt.
    pub fn terminal_v(&self, state: &CellState, current_a: f64) -> f64 {
        let (emf_v, ohm) = self.thevenin(state);
        emf_v - current_a * ohm
    }

    /// Heat given off inside the cell, in watt: R0 by the mean square current, the pairs by their voltage. Entropy heat
    /// is left out: below a tenth of the rest at a prop's currents.
    pub fn heat_w(&self, state: &CellState, rms_a: f64) -> f64 {
        let mut heat_w = rms_a * rms_a * self.r0_ohm(state);
        for (pair, v) in self.rc.iter().zip(&state.rc_v) {
            let ohm = pair.ohm.at(state.soc, state.celsius) * self.ageing.resistance;
            if ohm > 0.0 {
                heat_w += v * v / ohm;
            }
        }
        heat_w
    }

    /// Lets a constant current flow for `seconds` (0 or more).
    pub fn step(&self, state: &mut CellState, current_a: f64, seconds: f64) {
        let before = *state;
        state.soc -= current_a * seconds / (3600.0 * self.capacity_ah * self.ageing.capacity);
        let mut heat_w = current_a * current_a * self.r0_ohm(&before);
        for (pair, v) in self.rc.iter().zip(&mut state.rc_v) {
            let ohm = pair.ohm.at(before.soc, before.celsius) * self.ageing.resistance;
            if ohm <= 0.0 {
                *v = 0.0;
                continue;
            }
            heat_w += *v * *v / ohm;
            let tau = ohm * pair.farad.at(before.soc, before.celsius) / self.ageing.resistance;
            // expm1 keeps its accuracy for steps that are short against the time constant.
            let gone = -math::expm1(-seconds / tau);
            *v += (current_a * ohm - *v) * gone;
        }
        if let Some(thermal) = &self.thermal {
            thermal.step(&mut state.celsius, heat_w, seconds);
        }
    }
}

impl Thermal {
    /// Exact for heat that is constant over the step.
    fn step(&self, celsius: &mut f64, heat_w: f64, seconds: f64) {
        if self.watt_per_k > 0.0 {
            let end = self.ambient_c + heat_w / self.watt_per_k;
            let gone = -math::expm1(-seconds * self.watt_per_k / self.joule_per_k);
            *celsius += (end - *celsius) * gone;
        } else {
            *celsius += heat_w * seconds / self.joule_per_k;
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::table::Interpolation;

    fn cell() -> CellModel {
        CellModel {
            capacity_ah: 5.0,
            ocv_v: Table1::new("ocv", &[0.0, 1.0], &[3.0, 4.2], Interpolation::Linear).unwrap(),
            r0_ohm: Table2::constant(0.025),
            rc: vec![RcPair {
                ohm: Table2::constant(0.010),
                farad: Table2::constant(2000.0),
            }],
            ageing: Ageing::default(),
            thermal: None,
        }
    }

    #[test]
    fn one_long_step_equals_many_short_ones() {
        let (mut long, mut short) = (
            CellState::at_rest(0.8, REFERENCE_C),
            CellState::at_rest(0.8, REFERENCE_C),
        );
        cell().step(&mut long, 3.0, 60.0);
        for _ in 0..60_000 {
            cell().step(&mut short, 3.0, 1e-3);
        }
        // 60,000 roundings of the last bit.
        assert!((long.soc - short.soc).abs() < 1e-10);
        assert!((long.rc_v[0] - short.rc_v[0]).abs() < 1e-11);
    }

    #[test]
    fn ageing_raises_the_resistance_and_lowers_the_capacity() {
        let old = CellModel {
            ageing: Ageing {
                resistance: 1.5,
                capacity: 0.8,
            },
            ..cell()
        };
        let mut state = CellState::at_rest(1.0, REFERENCE_C);
        assert!((old.r0_ohm(&state) - 0.0375).abs() < 1e-15);
        old.step(&mut state, 4.0, 3600.0);
        assert!(state.soc.abs() < 1e-12);
    }

    #[test]
    fn a_warm_cell_settles_where_heat_in_is_heat_out() {
        let thermal = Thermal {
            joule_per_k: 60.0,
            watt_per_k: 0.05,
            ambient_c: 20.0,
        };
        let cell = CellModel {
            thermal: Some(thermal),
            rc: vec![],
            ..cell()
        };
        let mut state = CellState::at_rest(1.0, 20.0);
        cell.step(&mut state, 4.0, 1e6);
        assert!((state.celsius - (20.0 + 16.0 * 0.025 / 0.05)).abs() < 1e-9);
    }

    #[test]
    fn wrong_cells_are_refused() {
        assert!(CellModel {
            capacity_ah: 0.0,
            ..cell()
        }
        .check("c")
        .is_err());
        assert!(cell().check("c").is_ok());
        let pair = cell().rc[0].clone();
        assert!(CellModel {
            rc: vec![pair; 3],
            ..cell()
        }
        .check("c")
        .is_err());
    }
}
