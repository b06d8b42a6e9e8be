//! The board's regulator: what it puts out for what it gets, and how long its capacitor holds.

use super::table::Table1;

/// A regulator of a board.
#[derive(Debug, Clone, PartialEq)]
pub enum Regulator {
    /// Linear: the input current is the output current plus what it uses itself.
    Linear {
        /// Set output, in volt.
        output_v: f64,
        /// Dropout in volt over output current in ampere.
        dropout_v: Table1,
        /// Current of its own, in ampere.
        own_a: f64,
    },
    /// Switching: the input power is the output power over the efficiency.
    Switching {
        /// Set output, in volt.
        output_v: f64,
        /// Lowest input at which it works, in volt.
        min_input_v: f64,
        /// Efficiency (0..1) over output current in ampere.
        efficiency: Table1,
        /// Current of its own, in ampere.
        own_a: f64,
    },
}

/// A regulator at work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegulatorState {
    /// Output, in volt.
    pub output_v: f64,
    /// Input current, in ampere.
    pub input_a: f64,
    /// False if the output is below its set value.
    pub regulates: bool,
}

impl Regulator {
    /// Output and input current for an input voltage and an output current.
    ///
    /// In dropout a linear regulator passes the input less its dropout; a switching one below its
    /// lowest input is off.
    pub fn at(&self, input_v: f64, load_a: f64) -> RegulatorState {
        match self {
            Regulator::Linear {
                output_v,
                dropout_v,
                own_a,
            } => {
                let passed = (input_v - dropout_v.at(load_a)).max(0.0);
                RegulatorState {
                    output_v: output_v.min(passed),
                    input_a: load_a + own_a,
                    regulates: passed >= *output_v,
                }
            }
            Regulator::Switching {
                output_v,
                min_input_v,
                efficiency,
                own_a,
            } => {
                let off = input_v.is_nan() || input_v < *min_input_v || input_v <= 0.0;
                if off {
                    return RegulatorState {
                        output_v: 0.0,
                        input_a: 0.0,
                        regulates: false,
                    };
                }
                let power_w = output_v * load_a / efficiency.at(load_a);
                RegulatorState {
                    output_v: *output_v,
                    input_a: power_w / input_v + own_a,
                    regulates: true,
                }
            }
        }
    }

    /// Lowest input at which the output holds its set value at a load, in volt.
    pub fn lowest_input_v(&self, load_a: f64) -> f64 {
        match self {
            Regulator::Linear {
                output_v,
                dropout_v,
                ..
            } => output_v + dropout_v.at(load_a),
            Regulator::Switching { min_input_v, .. } => *min_input_v,
        }
    }
}

/// Time for which a capacitor alone holds a constant current, from `C·ΔV = I·t`, in second.
pub fn hold_up_at_current_s(capacitance_f: f64, from_v: f64, to_v: f64, load_a: f64) -> f64 {
    capacitance_f * (from_v - to_v).max(0.0) / load_a
}

/// Time for which a capacitor alone holds a constant power, from `½C·(V₁² − V₂²) = P·t`, in second.
pub fn hold_up_at_power_s(capacitance_f: f64, from_v: f64, to_v: f64, load_w: f64) -> f64 {
    0.5 * capacitance_f * (from_v * from_v - to_v * to_v).max(0.0) / load_w
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::table::Interpolation;

    // 250 mV at 600 mA (data sheet of a 3.3 V, 600 mA part; from memory).
    fn linear() -> Regulator {
        let dropout_v =
            Table1::new("dropout", &[0.0, 0.6], &[0.0, 0.25], Interpolation::Linear).unwrap();
        Regulator::Linear {
            output_v: 3.3,
            dropout_v,
            own_a: 55e-6,
        }
    }

    #[test]
    fn linear_regulates_until_the_dropout_and_follows_the_input_below() {
        let good = linear().at(3.7, 0.12);
        assert_eq!((good.output_v, good.regulates), (3.3, true));
        assert!((good.input_a - 0.120055).abs() < 1e-12);
        let low = linear().at(3.2, 0.12);
        assert!((low.output_v - 3.15).abs() < 1e-12 && !low.regulates);
        assert!((linear().lowest_input_v(0.12) - 3.35).abs() < 1e-12);
        assert_eq!(linear().at(-1.0, 0.1).output_v, 0.0);
    }

    #[test]
    fn switching_draws_constant_power_until_it_turns_off() {
        let r = Regulator::Switching {
            output_v: 5.0,
            min_input_v: 2.7,
            efficiency: Table1::constant(0.9),
            own_a: 0.0,
        };
        let at = |v| r.at(v, 0.5).input_a * v;
        assert!((at(4.0) - 2.5 / 0.9).abs() < 1e-12 && (at(2.7) - 2.5 / 0.9).abs() < 1e-12);
        assert_eq!(
            r.at(2.69, 0.5),
            RegulatorState {
                output_v: 0.0,
                input_a: 0.0,
                regulates: false
            }
        );
        assert!(!r.at(f64::NAN, 0.5).regulates);
    }

    // 100 µF from 3.3 V to 2.7 V at 50 mA: 1.2 ms.
    #[test]
    fn hold_up() {
        assert!((hold_up_at_current_s(100e-6, 3.3, 2.7, 0.05) - 1.2e-3).abs() < 1e-12);
        assert!((hold_up_at_power_s(100e-6, 4.0, 3.0, 0.35) - 1e-3).abs() < 1e-12);
        assert_eq!(hold_up_at_current_s(100e-6, 2.0, 2.7, 0.05), 0.0);
    }
}
