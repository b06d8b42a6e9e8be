//! What a bulk capacitor makes of PWM: exact ripple of one node.
//!
//! # Circuit
//! A node is supplied from an EMF through a resistance `R` (all that lies between: cell, contacts,
//! leads; see [`seen_ohm`]) and has a capacitor `C` with the series resistance `r` across it. Loads
//! draw the current `x(t)`. The current `y` out of the source is then
//!
//! ```text
//!   y = k·x + (1−k)·w,   τ·dw/dt = x − w,   τ = (R + r)·C,   k = r / (R + r)
//! ```
//!
//! where `E − R·w` is the voltage inside the capacitor, and the node stands at `E − R·y`. (By
//! Kirchhoff's laws `C·v' = y − x` and `E − R·y = v + r·(y − x)`; put `v = E − R·w` in.) A drive level switches its current on and off, so `x` is constant piece by
//! piece, `w` runs from piece to piece as `x + (w₀ − x)·exp(−t/τ)`, and the periodic state follows
//! from one linear equation: nothing is stepped in time and nothing is approximated.
//!
//! # Moments
//! For one current `I` that is on for the share `d` of the period `T`, with `a = T/τ`:
//!
//! ```text
//!   E[w]   = d·I
//!   Var[w] = I²·( d(1−d) − (1−e^(−d·a))·(1−e^(−(1−d)·a)) / (a·(1−e^(−a))) )
//!   Var[y] = k²·d(1−d)·I² + (1−k²)·Var[w]              (since Cov[x, w] = Var[w])
//!   max y  = I·( k + (1−k)·(1−e^(−d·a)) / (1−e^(−a)) )   at the end of its on-time
//! ```
//!
//! The response to a sum is the sum of the responses; those of oscillators that run free of each
//! other are independent, so their variances and third moments add, and the sum of the maxima,
//! reached when all switch off together, bounds every moment whatever the phases are.
//!
//! # Limits
//! Loads draw constant current while on: a pixel starved of supply gives way and ripples less. One
//! capacitor; for capacitors at different nodes see
//! [`transient`](super::transient). No inductance: in a real prop the leads' inductance and the
//! capacitor's own decide what happens within the first microsecond after an edge.

use super::error::NetworkError;
use super::network::{Network, NodeId};
use super::pixel::{PixelLaw, MAX_CHANNELS};
use super::pwm::PwmFigures;
use super::reduce::Reduced;
use crate::units::math;

/// Resistance that the cell's side shows between two nodes, in ohm: what a capacitor there is
/// charged through. Cells count with the resistances they were built with.
///
/// # Errors
/// [`NetworkError::Singular`] if cells form a loop without resistance.
pub fn seen_ohm<L>(
    network: &Network<L>,
    positive: NodeId,
    negative: NodeId,
) -> Result<f64, NetworkError> {
    let port = [(positive.0, negative.0)];
    let reduced = Reduced::new(&network.topology, &network.sources, &port)?;
    Ok(reduced.z[0])
}

/// A capacitor and the resistance it is charged through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smoothing {
    /// Resistance between EMF and node, in ohm.
    pub source_ohm: f64,
    /// Capacitance, in farad; 0 for no capacitor.
    pub farad: f64,
    /// Series resistance of the capacitor, in ohm.
    pub esr_ohm: f64,
}

/// A stretch of constant current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// How long it lasts, in second.
    pub for_s: f64,
    /// The current drawn, in ampere.
    pub amp: f64,
}

/// The periodic current out of the source.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ripple {
    /// Average over the period, in ampere.
    pub mean_a: f64,
    /// Variance over the period, in ampere squared.
    pub variance_a2: f64,
    /// Third central moment over the period, in ampere cubed.
    pub third_a3: f64,
    /// Lowest momentary value, in ampere.
    pub min_a: f64,
    /// Highest momentary value, in ampere. Times the source resistance: the deepest sag.
    pub max_a: f64,
}

impl Smoothing {
    /// Time constant `(R + r)·C`, in second.
    pub fn tau_s(&self) -> f64 {
        (self.source_ohm + self.esr_ohm) * self.farad
    }

    /// Share `k` of a step of load current that the source sees at once.
    pub fn at_once(&self) -> f64 {
        // Without a capacitor, or behind a source without resistance, there is nothing to smooth.
        if self.tau_s() > 0.0 && self.source_ohm > 0.0 {
            self.esr_ohm / (self.source_ohm + self.esr_ohm)
        } else {
            1.0
        }
    }

    /// The periodic source current for a load that repeats `pieces` for ever. All zero if they last
    /// no time.
    pub fn periodic(&self, pieces: &[Piece]) -> Ripple {
        let tau = self.tau_s();
        periodic(
            self.at_once(),
            pieces.iter().map(|p| Step {
                amp: p.amp,
                // Any unit does, as long as all pieces share it.
                length: if tau > 0.0 { p.for_s / tau } else { p.for_s },
                decay: if p.for_s > 0.0 {
                    math::exp(-p.for_s / tau)
                } else {
                    1.0
                },
            }),
        )
    }
}

/// A piece in units of the time constant, and what is left of a deviation at its end.
#[derive(Clone, Copy)]
struct Step {
    amp: f64,
    length: f64,
    decay: f64,
}

fn periodic(k: f64, steps: impl Iterator<Item = Step> + Clone) -> Ripple {
    let (mut total, mut charge) = (0.0, 0.0);
    for s in steps.clone() {
        total += s.length;
        charge += s.length * s.amp;
    }
    if !(total > 0.0 && total.is_finite()) {
        return Ripple::default();
    }
    let mean = charge / total;
    // All below is the deviation from the mean: the moments come out without cancellation.
    let (mut left, mut gained) = (1.0, 0.0);
    for s in steps.clone() {
        left *= s.decay;
        gained = gained * s.decay + (s.amp - mean) * (1.0 - s.decay);
    }
    let mut w = if left < 1.0 {
        gained / (1.0 - left)
    } else {
        0.0
    };
    let (mut m2, mut m3) = (0.0, 0.0);
    let (mut min, mut max) = (f64::INFINITY, f64::NEG_INFINITY);
    for s in steps.filter(|s| s.length > 0.0) {
        let x = s.amp - mean;
        let u = (1.0 - k) * (w - x);
        let e = s.decay;
        let (i1, i2, i3) = (
            u * (1.0 - e),
            u * u * (1.0 - e * e) / 2.0,
            u * u * u * (1.0 - e * e * e) / 3.0,
        );
        m2 += x * x * s.length + 2.0 * x * i1 + i2;
        m3 += x * x * x * s.length + 3.0 * x * x * i1 + 3.0 * x * i2 + i3;
        // Monotonic within the piece: extremes stand at its ends.
        let (begin, end) = (x + u, x + u * e);
        min = min.min(begin.min(end));
        max = max.max(begin.max(end));
        w = x + (w - x) * e;
    }
    Ripple {
        mean_a: mean,
        variance_a2: m2 / total,
        third_a3: m3 / total,
        min_a: mean + min,
        max_a: mean + max,
    }
}

/// [`PwmFigures`] of the current out of the source, behind a capacitor, for 8-bit drive levels.
///
/// Made once for a part and a place; each frame then costs a few sums.
#[derive(Debug, Clone)]
pub struct SmoothedPwm {
    at_once: f64,
    /// One drive step in units of the time constant.
    step: f64,
    /// What is left of a deviation after a number of drive steps.
    decay: Vec<f64>,
    /// Of one ampere at each level: variance, third central moment, maximum.
    unit: Vec<[f64; 3]>,
}

/// Drive steps in a PWM period.
const STEPS: usize = 255;

impl SmoothedPwm {
    /// For a PWM period in second (above 0).
    pub fn new(smoothing: Smoothing, period_s: f64) -> Self {
        let (tau, at_once) = (smoothing.tau_s(), smoothing.at_once());
        let smooth = tau > 0.0 && at_once < 1.0 && period_s > 0.0;
        let step = if smooth {
            period_s / tau / STEPS as f64
        } else {
            1.0
        };
        let decay: Vec<f64> = (0..=STEPS)
            .map(|n| {
                if smooth {
                    math::exp(-step * n as f64)
                } else {
                    0.0
                }
            })
            .collect();
        let mut this = Self {
            at_once,
            step,
            decay,
            unit: vec![],
        };
        this.unit = (0..=STEPS)
            .map(|level| {
                let ripple = this.stairs(&[(level, 1.0)]);
                [ripple.variance_a2, ripple.third_a3, ripple.max_a]
            })
            .collect();
        this
    }

    /// Source current of the pulses given (level and ampere), all switched on together, longest
    /// first.
    fn stairs(&self, pulses: &[(usize, f64)]) -> Ripple {
        let on: f64 = pulses.iter().map(|(_, a)| a).sum();
        // The k shortest pulses are over in stair k, counted from the back.
        let stair = |k: usize| {
            let ended: f64 = pulses[pulses.len() - k..].iter().map(|(_, a)| a).sum();
            let until = match k {
                k if k < pulses.len() => pulses[pulses.len() - 1 - k].0,
                _ => STEPS,
            };
            let since = if k == 0 {
                0
            } else {
                pulses[pulses.len() - k].0
            };
            let n = until - since;
            Step {
                amp: if k == pulses.len() { 0.0 } else { on - ended },
                length: self.step * n as f64,
                decay: if n == 0 { 1.0 } else { self.decay[n] },
            }
        };
        periodic(self.at_once, (0..=pulses.len()).map(stair))
    }

    /// Figures of a strip that shows `levels` (pixel by pixel, channel by channel), all channels
    /// independent; the counterpart of [`PwmFigures::of_levels`]. `aligned_a` is the highest source
    /// current that any phases can bring about. A tail shorter than one pixel is ignored.
    pub fn of_levels<L: PixelLaw>(&self, law: &L, levels: &[u8]) -> PwmFigures {
        let channels = law.channels();
        let mut figures = dark(law, levels);
        for pixel in levels.chunks_exact(channels) {
            for (c, level) in pixel.iter().enumerate() {
                let (i, [variance, third, max]) = (law.full_a(c), self.unit[usize::from(*level)]);
                figures.mean_a += i * f64::from(*level) / STEPS as f64;
                figures.variance_a2 += i * i * variance;
                figures.third_a3 += i * i * i * third;
                figures.aligned_a += i * max;
            }
        }
        figures
    }

    /// The same if the channels of one pixel switch on together and each pixel on its own; the
    /// counterpart of [`PwmFigures::of_levels_in_phase`].
    pub fn of_levels_in_phase<L: PixelLaw>(&self, law: &L, levels: &[u8]) -> PwmFigures {
        let channels = law.channels();
        let mut figures = dark(law, levels);
        for pixel in levels.chunks_exact(channels) {
            let mut pulses = [(0usize, 0.0); MAX_CHANNELS];
            for (c, level) in pixel.iter().enumerate() {
                pulses[c] = (usize::from(*level), law.full_a(c));
            }
            let pulses = &mut pulses[..channels];
            pulses.sort_unstable_by_key(|(level, _)| std::cmp::Reverse(*level));
            let ripple = self.stairs(pulses);
            figures.mean_a += ripple.mean_a;
            figures.variance_a2 += ripple.variance_a2;
            figures.third_a3 += ripple.third_a3;
            figures.aligned_a += ripple.max_a;
        }
        figures
    }
}

fn dark<L: PixelLaw>(law: &L, levels: &[u8]) -> PwmFigures {
    let dark_a = law.dark_a() * (levels.len() / law.channels()) as f64;
    PwmFigures {
        mean_a: dark_a,
        aligned_a: dark_a,
        ..PwmFigures::default()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::pixel::{Channel, PixelType, Ramp};

    const PERIOD_S: f64 = 1.0 / 1200.0;

    fn bulk(farad: f64) -> Smoothing {
        Smoothing {
            source_ohm: 0.15,
            farad,
            esr_ohm: 0.03,
        }
    }

    fn pixel() -> PixelType {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        let channel = |full_a| Channel { full_a, ramp };
        PixelType::new(
            &[channel(0.012), channel(0.010), channel(0.014)],
            0.0007,
            ramp,
        )
        .unwrap()
    }

    fn pulse(share: f64) -> [Piece; 2] {
        let piece = |for_s, amp| Piece { for_s, amp };
        [
            piece(share * PERIOD_S, 2.0),
            piece((1.0 - share) * PERIOD_S, 0.0),
        ]
    }

    fn near(found: f64, expected: f64, within: f64) {
        assert!(
            (found - expected).abs() <= within * expected.abs().max(1e-12),
            "{found} for {expected}"
        );
    }

    /// The closed forms of the module text, from `E[w·x] = E[w²]` and its like.
    #[test]
    fn one_pulse_has_the_moments_of_the_closed_forms() {
        for (farad, share) in [(1e-4, 0.2), (1e-3, 0.5), (1e-2, 0.9), (1.0, 0.37)] {
            let bulk = bulk(farad);
            let (a, k) = (PERIOD_S / bulk.tau_s(), 0.03 / 0.18);
            let fill = |x: f64| -(-x * a).exp_m1();
            let ripple = bulk.periodic(&pulse(share));
            let plain = share * (1.0 - share);
            let w = plain - fill(share) * fill(1.0 - share) / (a * fill(1.0));
            near(ripple.mean_a, 2.0 * share, 1e-14);
            near(
                ripple.variance_a2,
                4.0 * (k * k * plain + (1.0 - k * k) * w),
                1e-6,
            );
            near(
                ripple.max_a,
                2.0 * (k + (1.0 - k) * fill(share) / fill(1.0)),
                1e-9,
            );
        }
    }

    /// A square wave through a first-order low-pass swings by `tanh(T/4τ)` of itself from edge to
    /// edge (textbooks on pulse circuits; common practice).
    #[test]
    fn a_square_wave_swings_as_the_textbook_says() {
        let no_esr = Smoothing {
            esr_ohm: 0.0,
            ..bulk(2.2e-3)
        };
        let ripple = no_esr.periodic(&pulse(0.5));
        let swing = 2.0 * (PERIOD_S / (4.0 * no_esr.tau_s())).tanh();
        near(ripple.max_a - ripple.min_a, swing, 1e-12);
        assert!(ripple.third_a3.abs() < 1e-15);
    }

    #[test]
    fn without_a_capacitor_nothing_is_smoothed() {
        let levels: Vec<u8> = (0..90u8).map(|i| i.wrapping_mul(37)).collect();
        let none = Smoothing {
            farad: 0.0,
            ..bulk(0.0)
        };
        let stiff = Smoothing {
            source_ohm: 0.0,
            ..bulk(1e-3)
        };
        for smoothing in [none, stiff] {
            let smooth = SmoothedPwm::new(smoothing, PERIOD_S);
            let same = |a: PwmFigures, b: PwmFigures| {
                near(a.mean_a, b.mean_a, 1e-13);
                near(a.variance_a2, b.variance_a2, 1e-12);
                near(a.aligned_a, b.aligned_a, 1e-12);
            };
            let (free, free_of) = (
                smooth.of_levels(&pixel(), &levels),
                PwmFigures::of_levels(&pixel(), &levels),
            );
            same(free, free_of);
            near(free.third_a3, free_of.third_a3, 1e-10);
            // In phase the figures keep the third moment of independent channels, the exact ones do not.
            same(
                smooth.of_levels_in_phase(&pixel(), &levels),
                PwmFigures::of_levels_in_phase(&pixel(), &levels),
            );
        }
    }

    /// The stairs of the table against the same stairs given in seconds.
    #[test]
    fn a_pixel_in_phase_equals_its_pieces() {
        let smooth = SmoothedPwm::new(bulk(1e-3), PERIOD_S);
        for levels in [
            [200u8, 10, 90],
            [0, 255, 90],
            [90, 90, 90],
            [0, 0, 0],
            [255; 3],
        ] {
            let mut edges: Vec<f64> = levels.iter().map(|l| f64::from(*l) / 255.0).collect();
            edges.extend([0.0, 1.0]);
            edges.sort_by(f64::total_cmp);
            let law = pixel();
            let pieces: Vec<Piece> = (edges.windows(2))
                .map(|e| Piece {
                    for_s: (e[1] - e[0]) * PERIOD_S,
                    amp: (0..3)
                        .filter(|c| f64::from(levels[*c]) / 255.0 > e[0])
                        .map(|c| law.full_a(c))
                        .sum(),
                })
                .collect();
            let expected = bulk(1e-3).periodic(&pieces);
            let found = smooth.of_levels_in_phase(&law, &levels);
            near(found.mean_a - law.dark_a(), expected.mean_a, 1e-12);
            near(found.variance_a2, expected.variance_a2, 1e-9);
            near(found.third_a3, expected.third_a3, 1e-7);
            near(found.aligned_a - law.dark_a(), expected.max_a, 1e-12);
        }
    }

    /// Whatever the phases of two pulses, the source never gives more than `aligned_a`.
    #[test]
    fn no_phases_exceed_the_aligned_current() {
        let law = pixel();
        let smooth = SmoothedPwm::new(bulk(5e-4), PERIOD_S);
        let aligned = smooth.of_levels(&law, &[100, 60, 0]).aligned_a - law.dark_a();
        let mut highest = 0.0f64;
        for shift in 0..255usize {
            let on = |step: usize, from: usize, level: usize| (step + 255 - from) % 255 < level;
            let pieces: Vec<Piece> = (0..255)
                .map(|step| Piece {
                    for_s: PERIOD_S / 255.0,
                    amp: if on(step, 0, 100) { 0.012 } else { 0.0 }
                        + if on(step, shift, 60) { 0.010 } else { 0.0 },
                })
                .collect();
            highest = highest.max(bulk(5e-4).periodic(&pieces).max_a);
        }
        assert!(highest <= aligned + 1e-12, "{highest} {aligned}");
        near(highest, aligned, 1e-9);
    }

    #[test]
    fn the_seen_resistance_is_that_of_the_network() {
        let mut b = Network::<PixelType>::builder();
        let (cell, plus, minus) = (b.node("cell"), b.node("plus"), b.node("minus"));
        b.source("cell", cell, minus, 3.7, 0.05);
        b.resistor("lead", cell, plus, 0.1);
        b.resistor("bleeder", plus, minus, 0.3);
        let seen = seen_ohm(&b.build().unwrap(), plus, minus).unwrap();
        near(seen, 0.15 * 0.3 / 0.45, 1e-12);
    }
}
