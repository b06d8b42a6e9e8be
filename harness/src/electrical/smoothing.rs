//! How much of the pixels' pulsing a bulk capacitor keeps from what lies before it.
//!
//! # Derivation
//! A channel of duty `d` draws a pulse train of period `T` with random phase. Its autocovariance over a lag `s < T` is
//! `C(s) = max(d − s/T, 0) + max(d − 1 + s/T, 0) − d²` (in units of I²), repeated every period; `C(0) = d(1−d)`.
//!
//! A capacitor `C` with series resistance `r` lies beside the channel; from there back to the cell's EMF the network
//! has the resistance `R` (cell, contacts, switches, wires: all that the capacitor sees). What flows before the
//! capacitor is the pulse train through `H = (1 + jωrC)/(1 + jω(R+r)C) = α + (1−α)·L`, with `α = r/(R+r)` and `L` a
//! first-order low-pass of time constant `τ = (R+r)C`. For such a low-pass both its covariance with its input and its
//! own variance are `V = ∫ e^(−s/τ) C(s) ds/τ` from 0 to ∞, which with `x = T/τ` comes to
//!
//! ```text
//!   V = d(1−d) − (1 − e^(−x·d)) (1 − e^(−x·(1−d))) / (x (1 − e^(−x)))
//! ```
//!
//! so that the variance before the capacitor is `α²·d(1−d) + (1−α²)·V`. Pixels run on their own, variances add, and the
//! spread of the coincidence peak and of the RMS shrinks by the root of the share that is left. That share is largest at
//! half drive: [`kept_share`] gives it there, one figure for every frame, exact for half drive and an upper bound for
//! any other: `1 − (4/x)·tanh(x/4)` for V.
//!
//! Where the channel does not hang right at the capacitor, `1 − α = Z/(R+r)` with `Z` the transfer resistance between
//! the two places: the voltage at the capacitor for a current drawn at the strip. With several capacitors only the one
//! that helps a strip most is counted.
//!
//! # Limits
//! The current is a mean plus pulses about it: the sag of the mean stays. The capacitor does nothing for the strip's
//! own rails and its leads from the capacitor. Slower changes, from frame to frame, pass it unhindered (they are longer
//! than τ by far). The network between is taken as linear, and pixels as current sinks.

/// Share of a pulse train's variance at a duty that passes a low-pass of time constant `period / x`.
pub fn passed(duty: f64, x: f64) -> f64 {
    let whole = duty * (1.0 - duty);
    if whole <= 0.0 || x <= 0.0 {
        return 0.0;
    }
    let gone = |y: f64| -(-y).exp_m1();
    1.0 - gone(x * duty) * gone(x * (1.0 - duty)) / (x * gone(x) * whole)
}

/// Share of the variance that is left before a capacitor: at most this, at any drive.
///
/// `transfer` is the share `1 − α` of the pulse that the capacitor could deliver at once (0..1), `tau_s` its time
/// constant with the network, `period_s` that of the pulses. Without figures, all of it is left.
pub fn kept_share(transfer: f64, tau_s: f64, period_s: f64) -> f64 {
    let alpha = 1.0 - transfer.clamp(0.0, 1.0);
    let x = period_s / tau_s;
    if !x.is_finite() || x <= 0.0 {
        return 1.0;
    }
    let square = alpha * alpha;
    (square + (1.0 - square) * passed(0.5, x)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    // ngspice 36+, transient run over 20 periods of 2.5 ms: 1 A at duty 0.3 behind 0.2 Ω beside 1000 µF with 50 mΩ gives
    // 0.300000 A mean and 0.457011 A RMS in the source; SciPy's `lfilter` of the same transfer function the other duties.
    #[test]
    fn the_variance_before_the_capacitor_equals_a_circuit_simulator() {
        let (alpha, x) = (0.05 / 0.25, 2.5e-3 / (0.25 * 1e-3));
        let left = |d: f64| {
            let whole = d * (1.0 - d);
            whole * (alpha * alpha + (1.0 - alpha * alpha) * passed(d, x))
        };
        let spice = 0.457_011f64.powi(2) - 0.300_000_4f64.powi(2);
        assert!((left(0.3) - spice).abs() < 1e-5, "{} {spice}", left(0.3));
        for (d, variance) in [
            (0.1, 0.029_316),
            (0.3, 0.118_856),
            (0.5, 0.155_277),
            (0.8, 0.077_002),
        ] {
            assert!((left(d) / variance - 1.0).abs() < 1e-3, "{d}: {}", left(d));
        }
    }

    #[test]
    fn half_drive_is_the_bound_of_every_drive() {
        for x in [0.01, 0.3, 1.0, 4.0, 12.0, 100.0] {
            let most = passed(0.5, x);
            assert!((most - (1.0 - 4.0 / x * (x / 4.0).tanh())).abs() < 1e-9, "{x}");
            for level in 1..255 {
                assert!(passed(f64::from(level) / 255.0, x) <= most + 1e-12);
            }
        }
    }

    #[test]
    fn no_capacitor_keeps_all_and_a_huge_one_only_what_its_resistance_lets_by() {
        assert_eq!(kept_share(1.0, 0.0, 2.5e-3), 1.0);
        assert_eq!(kept_share(1.0, 1e-3, f64::NAN), 1.0);
        assert!((kept_share(0.0, 1e-3, 2.5e-3) - 1.0).abs() < 1e-12);
        assert!(kept_share(1.0, 10.0, 2.5e-3) < 1e-6);
        assert!((kept_share(0.8, 10.0, 2.5e-3) - 0.04).abs() < 1e-3);
    }
}
