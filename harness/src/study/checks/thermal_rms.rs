//! Root mean square current over a part's thermal time.

use crate::units::math;

/// A first-order thermal average of the squared current: what a part that heats with i² and cools with
/// time constant τ "feels". It starts at the first value, as if that had flowed for ever, so a short
/// trace is judged cautiously.
#[derive(Debug, Clone, Copy)]
pub(super) struct ThermalRms {
    tau_s: f64,
    mean_square: Option<f64>,
    /// Length of the last frame, and what of the mean square outlives it: nearly every frame is as long as the
    /// one before.
    kept: (f64, f64),
}

impl ThermalRms {
    /// For a part with a thermal time constant, seconds.
    pub(super) fn new(tau_s: f64) -> Self {
        Self {
            tau_s,
            mean_square: None,
            kept: (0.0, 1.0),
        }
    }

    /// Takes the RMS current of the next frame and gives the thermal RMS, amperes.
    pub(super) fn next(&mut self, rms_a: f64, period_s: f64) -> f64 {
        let square = rms_a * rms_a;
        let old = self.mean_square.unwrap_or(square);
        if self.kept.0 != period_s {
            self.kept = (period_s, math::exp(-period_s / self.tau_s));
        }
        let new = square + (old - square) * self.kept.1;
        self.mean_square = Some(new);
        new.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_settles_with_its_time_constant() {
        let mut rms = ThermalRms::new(2.0);
        rms.next(0.0, 0.01);
        let mut last = 0.0;
        for _ in 0..200 {
            last = rms.next(3.0, 0.01);
        }
        // After one time constant the mean square has come 1 − 1/e of the way.
        let expected = (9.0 * (1.0 - (-1.0f64).exp())).sqrt();
        assert!((last - expected).abs() < 1e-9, "{last} {expected}");
    }

    #[test]
    fn a_steady_current_is_its_own_average_at_once() {
        assert!((ThermalRms::new(10.0).next(1.5, 0.016) - 1.5).abs() < 1e-12);
    }
}
