//! The bulk capacitors of a prop at work: how much of each strip's pulsing they deliver.
//!
//! For the coincidence peak each capacitor becomes a source of the current that it delivers in that moment: what lies
//! before it sees the smoothed peak, what lies behind it (the strip's rails and its leads from the capacitor) the whole.
//!
//! # How much
//! A capacitor `C` with series resistance `r` passes on to the source the share `|H|² = α² + (1−α²)/(1 + (ωτ)²)` of the
//! variance at a frequency `ω`, with `α = r/(R+r)`, `τ = (R+r)·C` and `R` what it sees back to the cell's EMF. Pixels pulse
//! with their PWM period: all of their variance lies at its frequency and its multiples, and `|H|²` falls with
//! frequency, so at most the share at the PWM frequency itself gets by, whatever the drive levels and however the
//! channels lie to each other. That bound is taken for every frame; what really gets by is up to a quarter less
//! ([`ripple`](crate::electrical::ripple) has the exact figure of given levels). Pixels run on their own, variances add,
//! and the spread of the coincidence peak and of the RMS shrinks by the root of the share.
//!
//! # Where
//! Where a strip does not hang right at the capacitor, a step of its current reaches the source at once for the share
//! `α = 1 − Z/(R+r)` with `Z` the transfer resistance between the two places, read off the network by a small current
//! at the capacitor. With several capacitors only the one that helps a strip most is counted.
//!
//! # Limits
//! The sag of the mean stays, and changes from frame to frame pass unhindered: they are longer than the time constant by
//! far. The network between is taken as linear and pixels as current sinks; in a starved frame the capacitor delivers no
//! more than its share of what the strip really swings by.

use super::circuit::Circuit;
use super::lower::Lowered;
use crate::build::parts::Capacitor;
use crate::build::prop::{PartKind, Prop};
use crate::electrical::{Drive, SolveError, Solver, SourceDrive, StripDrive};
use crate::units::Quantity;

/// Current drawn to find the couplings, amperes: small against what pixels draw, large against rounding.
const PROBE_A: f64 = 0.05;
/// Pulses that a capacitor lessens by less than this share are left as they are.
const WORTH: f64 = 0.02;
/// How far a delivered current may pass its share: as a factor, and in amperes.
const CLOSE: f64 = 1.002;
const NEAR_A: f64 = 1e-4;

/// What the capacitors do for the strips.
#[derive(Debug, Default)]
pub(super) struct Bulk {
    /// For each strip: the capacitor that helps it most (among [`Lowered::capacitors`]) and the share of the pulses'
    /// height that it delivers.
    help: Vec<Option<(usize, f64)>>,
}

impl Bulk {
    /// Reads the couplings off a network whose cells are as given.
    pub(super) fn new(
        prop: &Prop,
        lowered: &Lowered,
        solver: &mut Solver,
        sources: &[SourceDrive],
    ) -> Result<Self, SolveError> {
        let periods: Vec<f64> = lowered
            .circuit
            .strips
            .iter()
            .map(|s| period_s(prop, s.part))
            .collect();
        let mut help = vec![None; periods.len()];
        let mut loads = vec![0.0; lowered.load_names.len()];
        let dark = vec![StripDrive::Dark; periods.len()];
        let mut supplies = |loads: &[f64]| -> Result<(Vec<f64>, Vec<f64>), SolveError> {
            let s = solver.solve(&Drive {
                strips: &dark,
                loads,
                sources,
            })?;
            let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
            let caps = lowered
                .capacitors
                .iter()
                .map(|c| s.load_v(c.load))
                .collect();
            let strips = lowered.strips.iter().map(|id| mean(&s.strip(*id).supply_v));
            Ok((caps, strips.collect()))
        };
        let (caps_before, strips_before) = supplies(&loads)?;
        for (k, capacitor) in lowered.capacitors.iter().enumerate() {
            let Some(slot) = loads.get_mut(capacitor.load.index()) else {
                continue;
            };
            *slot = PROBE_A;
            let after = supplies(&loads);
            if let Some(slot) = loads.get_mut(capacitor.load.index()) {
                *slot = 0.0;
            }
            let (caps, strips) = after?;
            let Some(PartKind::Capacitor(part)) = prop.parts.get(capacitor.part).map(|p| &p.kind)
            else {
                continue;
            };
            let (farad, ohm) = figures(part, lowered.circuit.condition.cautious);
            // The probe is a source: it lifts.
            let lift = |after: &[f64], before: &[f64], i: usize| {
                let (a, b) = (after.get(i).copied(), before.get(i).copied());
                (a.unwrap_or(f64::NAN) - b.unwrap_or(f64::NAN)) / PROBE_A
            };
            let loop_ohm = lift(&caps, &caps_before, k) + ohm;
            for (i, (slot, period)) in help.iter_mut().zip(&periods).enumerate() {
                let transfer_ohm = lift(&strips, &strips_before, i);
                let delivered = 1.0 - kept_share(transfer_ohm, loop_ohm, farad, *period).sqrt();
                let best = slot.map_or(WORTH, |(_, d): (usize, f64)| d);
                if delivered > best {
                    *slot = Some((k, delivered));
                }
            }
        }
        Ok(Self { help })
    }

    /// Whether any capacitor helps.
    pub(super) fn helps(&self) -> bool {
        self.help.iter().any(Option::is_some)
    }

    /// Whether capacitors that deliver so much do more than their share of such swings.
    pub(super) fn exceeds(&self, delivered_a: f64, swings: impl Iterator<Item = f64>) -> bool {
        let each = self.help.iter().zip(swings);
        let share: f64 = each.map(|(h, a)| h.map_or(0.0, |(_, s)| s * a)).sum();
        delivered_a > share * CLOSE + NEAR_A
    }

    /// Writes what each capacitor delivers in the peak moment to the loads, amperes; `swings` is by how much each
    /// strip's peak lies above its average.
    pub(super) fn deliver(
        &self,
        lowered: &Lowered,
        swings: impl Iterator<Item = f64>,
        loads: &mut [f64],
    ) {
        for c in &lowered.capacitors {
            if let Some(slot) = loads.get_mut(c.load.index()) {
                *slot = 0.0;
            }
        }
        for (help, swing_a) in self.help.iter().zip(swings) {
            let Some((k, share)) = help else { continue };
            let slot = lowered
                .capacitors
                .get(*k)
                .and_then(|c| loads.get_mut(c.load.index()));
            if let Some(slot) = slot.filter(|_| swing_a > 0.0) {
                *slot += share * swing_a;
            }
        }
    }
}

/// Share of the pulses' variance that is left before a capacitor: at most this, at any drive. `loop_ohm` is what the
/// capacitor sees with its own resistance. Without figures, all of it is left.
fn kept_share(transfer_ohm: f64, loop_ohm: f64, farad: f64, period_s: f64) -> f64 {
    let alpha = 1.0 - (transfer_ohm / loop_ohm).clamp(0.0, 1.0);
    let turns = 2.0 * std::f64::consts::PI * loop_ohm * farad / period_s;
    if !turns.is_finite() || alpha.is_nan() {
        return 1.0;
    }
    let square = alpha * alpha;
    square + (1.0 - square) / (1.0 + turns * turns)
}

/// Capacitance and series resistance; the cautious ends smooth least.
fn figures(part: &Capacitor, cautious: bool) -> (f64, f64) {
    let ohm = part.series_resistance.as_ref();
    if cautious {
        (part.capacitance.low_si(), ohm.map_or(0.0, |r| r.high_si()))
    } else {
        (part.capacitance.si(), ohm.map_or(0.0, |r| r.si()))
    }
}

/// Longest PWM period of all strips, seconds; not a number where one is not known.
pub fn longest_period_s(prop: &Prop, circuit: &Circuit) -> f64 {
    let periods = circuit.strips.iter().map(|s| period_s(prop, s.part));
    periods.fold(
        0.0,
        |most: f64, p| if p > most || p.is_nan() { p } else { most },
    )
}

/// Longest PWM period of a strip's pixels, seconds; not a number where their frequency is not known.
fn period_s(prop: &Prop, part: usize) -> f64 {
    match prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(s)) => s.pixel.pwm.as_ref().map_or(f64::NAN, |f| 1.0 / f.low.si()),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::ripple::{SmoothedPwm, Smoothing};
    use crate::electrical::{Channel, PixelType, PwmFigures, Ramp};

    // ngspice, transient run over 20 periods of 2.5 ms: 1 A at duty 0.3 behind 0.2 Ω beside 1000 µF with 50 mΩ gives
    // 0.300000 A mean and 0.457011 A RMS in the source; SciPy's `lfilter` of the same transfer function gives the
    // variances at the other duties; a pure sine of the PWM frequency is let by to the whole bound (impedances, by hand).
    #[test]
    fn the_bound_holds_in_a_circuit_simulator_at_every_duty() {
        let bound = kept_share(0.2, 0.25, 1e-3, 2.5e-3);
        let spice = 0.457_011f64.powi(2) - 0.300_000_4f64.powi(2);
        for (duty, variance) in [
            (0.1, 0.029_316),
            (0.3, spice),
            (0.5, 0.155_277),
            (0.8, 0.077_002),
        ] {
            let share = variance / (duty * (1.0 - duty));
            assert!(
                share < bound && share > 0.4 * bound,
                "{duty}: {share} {bound}"
            );
        }
        let omega = 2.0 * std::f64::consts::PI * 400.0;
        let (rc, tau) = (omega * 0.05 * 1e-3, omega * 0.25 * 1e-3);
        let sine = (1.0 + rc * rc) / (1.0 + tau * tau);
        assert!((bound / sine - 1.0).abs() < 1e-12, "{bound} {sine}");
    }

    // Against the exact ripple of channels in phase, on many frames.
    #[test]
    fn the_bound_holds_for_the_exact_ripple_of_any_levels() {
        let ramp = Ramp {
            off_v: 0.5,
            full_v: 1.0,
        };
        let channel = |full_a| Channel { full_a, ramp };
        let law = PixelType::new(&[0.012, 0.011, 0.013].map(channel), 0.0, ramp).unwrap();
        for farad in [1e-5, 1e-4, 1e-3, 1e-2] {
            let smoothing = Smoothing {
                source_ohm: 0.2,
                farad,
                esr_ohm: 0.02,
            };
            let exact = SmoothedPwm::new(smoothing, 2.5e-3);
            let bound = kept_share(0.2, 0.22, farad, 2.5e-3);
            for seed in 0..200u32 {
                let levels: Vec<u8> = (0..3u32)
                    .map(|i| (seed.wrapping_mul(2_654_435_761).rotate_left(9 * i) >> 24) as u8)
                    .collect();
                let left = exact.of_levels_in_phase(&law, &levels).variance_a2;
                let whole = PwmFigures::of_levels_in_phase(&law, &levels).variance_a2;
                assert!(left <= bound * whole + 1e-15, "{levels:?} {farad}");
            }
        }
    }

    #[test]
    fn no_capacitor_keeps_all_and_a_huge_one_only_what_its_resistance_lets_by() {
        assert!((kept_share(0.2, 0.25, 0.0, 2.5e-3) - 1.0).abs() < 1e-12);
        assert!((kept_share(0.2, 0.25, 1e-3, f64::NAN) - 1.0).abs() < 1e-12);
        assert!((kept_share(0.0, 0.25, 1e-3, 2.5e-3) - 1.0).abs() < 1e-12);
        assert!(kept_share(0.25, 0.25, 100.0, 2.5e-3) < 1e-6);
        assert!((kept_share(0.2, 0.25, 100.0, 2.5e-3) - 0.04).abs() < 1e-3);
    }
}
