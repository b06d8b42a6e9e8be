//! The bulk capacitors of a prop at work: how much of each strip's pulsing they deliver.
//!
//! For the coincidence peak each capacitor becomes a source of the current that it delivers in that moment, found by
//! [`smoothing`](crate::electrical::smoothing): what lies before it sees the smoothed peak, what lies behind it the
//! whole. How it is coupled to a strip is read off the network by drawing a small current at the capacitor.

use super::circuit::Circuit;
use super::lower::Lowered;
use crate::build::parts::Capacitor;
use crate::build::prop::{PartKind, Prop};
use crate::electrical::smoothing::kept_share;
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
            let caps = lowered.capacitors.iter().map(|c| s.load_v(c.load)).collect();
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
                let transfer = lift(&strips, &strips_before, i) / loop_ohm;
                let delivered = 1.0 - kept_share(transfer, loop_ohm * farad, *period).sqrt();
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
    periods.fold(0.0, |most: f64, p| if p > most || p.is_nan() { p } else { most })
}

/// Longest PWM period of a strip's pixels, seconds; not a number where their frequency is not known.
fn period_s(prop: &Prop, part: usize) -> f64 {
    match prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(s)) => s
            .pixel
            .pwm
            .as_ref()
            .map_or(f64::NAN, |f| 1.0 / f.low.si()),
        _ => f64::NAN,
    }
}
