//! Voltages of a network with capacitors at any nodes under currents that repeat, exactly.
//!
//! # Derivation
//! Seen from its ports the network is `V = open − Z·I` (see the reduction in this layer). Let the
//! first ports carry capacitors `C` with series resistances `r` and the others known currents `x`.
//! With the voltage `u` inside each capacitor,
//!
//! ```text
//!   (Z_cc + diag r)·I_c = open_c − Z_cl·x − u =: u* − u,      C·u' = I_c
//! ```
//!
//! In the coordinates `m = Qᵀ·√C·u`, where `√C·(Z_cc + diag r)·√C = Q·diag(τ)·Qᵀ` (symmetric, by
//! reciprocity), every mode runs on its own: `τ·m' = m* − m`. The time constants are all real and
//! positive: such a network cannot ring. While `x` is constant the modes are exponentials, and that
//! they are the same after a whole period is one linear equation for each mode.
//!
//! # Limits
//! Currents are given: whatever draws more or less as its supply moves has to be put in as a
//! resistance or at its operating point. No inductance. For a single node
//! [`ripple`](super::ripple) gives moments and maxima as well.

use super::error::NetworkError;
use super::network::{Network, NodeId};
use super::reduce::Reduced;
use crate::units::math;

/// A capacitor between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacitor {
    /// Node of its plus.
    pub positive: NodeId,
    /// Node of its minus.
    pub negative: NodeId,
    /// Capacitance, in farad; more than 0.
    pub farad: f64,
    /// Series resistance, in ohm.
    pub esr_ohm: f64,
}

/// A stretch of constant currents.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// How long it lasts, in second.
    pub for_s: f64,
    /// The current drawn at each port, in ampere.
    pub amps: Vec<f64>,
}

/// The linear part of a network with its capacitors.
#[derive(Debug, Clone)]
pub struct Transient {
    capacitors: usize,
    draws: usize,
    open: Vec<f64>,
    z: Vec<f64>,
    root_farad: Vec<f64>,
    /// Columns of Q and the time constants, in second.
    modes: Vec<f64>,
    tau_s: Vec<f64>,
}

impl Transient {
    /// Takes the resistances and cells of a network; its strips and loads draw nothing here. Currents
    /// are drawn from the first to the second node of each of `draws`; one of 0 A only watches.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`] for a capacitor without capacitance or with a negative resistance,
    /// [`NetworkError::Singular`] where nothing limits the current of a capacitor.
    pub fn new<L>(
        network: &Network<L>,
        capacitors: &[Capacitor],
        draws: &[(NodeId, NodeId)],
    ) -> Result<Self, NetworkError> {
        for c in capacitors {
            check("capacitance", c.farad, c.farad > 0.0, "more than 0 F")?;
            check(
                "series resistance",
                c.esr_ohm,
                c.esr_ohm >= 0.0,
                "0 ohm or more",
            )?;
        }
        let ends: Vec<(usize, usize)> = (capacitors.iter())
            .map(|c| (c.positive.0, c.negative.0))
            .chain(draws.iter().map(|(p, n)| (p.0, n.0)))
            .collect();
        let reduced = Reduced::new(&network.topology, &network.sources, &ends)?;
        let (n, p, s) = (capacitors.len(), reduced.ports, reduced.sources);
        let open = (0..p)
            .map(|row| {
                (network.sources.iter().zip(&reduced.h[row * s..]))
                    .map(|(source, h)| h * source.emf_v)
                    .sum()
            })
            .collect();
        let root_farad: Vec<f64> = capacitors.iter().map(|c| c.farad.sqrt()).collect();
        let mut matrix = vec![0.0; n * n];
        for a in 0..n {
            for b in 0..n {
                let esr = if a == b { capacitors[a].esr_ohm } else { 0.0 };
                matrix[a * n + b] = root_farad[a] * (reduced.z[a * p + b] + esr) * root_farad[b];
            }
        }
        let modes = eigen(&mut matrix, n);
        let tau_s: Vec<f64> = (0..n).map(|k| matrix[k * n + k]).collect();
        let longest = tau_s.iter().fold(0.0, |m: f64, t| m.max(*t));
        if tau_s.iter().any(|t| t.is_nan() || *t <= 1e-12 * longest) {
            return Err(NetworkError::Singular);
        }
        Ok(Self {
            capacitors: n,
            draws: draws.len(),
            open,
            z: reduced.z,
            root_farad,
            modes,
            tau_s,
        })
    }

    /// The time constants, in second.
    pub fn time_constants_s(&self) -> &[f64] {
        &self.tau_s
    }

    /// The state that repeats itself under `stretches`; none if they last no time or one of them does
    /// not name a current for each port.
    pub fn periodic<'a>(&'a self, stretches: &'a [Stretch]) -> Option<Periodic<'a>> {
        let period_s: f64 = stretches.iter().map(|s| s.for_s).sum();
        let fits = stretches
            .iter()
            .all(|s| s.amps.len() == self.draws && s.for_s >= 0.0);
        if !(fits && period_s > 0.0 && period_s.is_finite()) {
            return None;
        }
        let ends: Vec<Vec<f64>> = stretches.iter().map(|s| self.ends(&s.amps)).collect();
        let mut starts = vec![vec![0.0; self.capacitors]; stretches.len()];
        for (k, tau) in self.tau_s.iter().enumerate() {
            // Counted from the average, so that little cancels.
            let weighed = |(s, e): (&Stretch, &Vec<f64>)| s.for_s * e[k];
            let mean = stretches.iter().zip(&ends).map(weighed).sum::<f64>() / period_s;
            let mut m = 0.0;
            for (s, e) in stretches.iter().zip(&ends) {
                m += (e[k] - mean - m) * -math::expm1(-s.for_s / tau);
            }
            m /= -math::expm1(-period_s / tau);
            for ((s, e), start) in stretches.iter().zip(&ends).zip(&mut starts) {
                start[k] = mean + m;
                m += (e[k] - mean - m) * -math::expm1(-s.for_s / tau);
            }
        }
        Some(Periodic {
            of: self,
            stretches,
            period_s,
            starts,
            ends,
        })
    }

    /// Where each mode would end under these currents.
    fn ends(&self, amps: &[f64]) -> Vec<f64> {
        let (n, p) = (self.capacitors, self.open.len());
        let inside: Vec<f64> = (0..n)
            .map(|c| {
                let lost: f64 = (self.z[c * p + n..(c + 1) * p].iter().zip(amps))
                    .map(|(z, a)| z * a)
                    .sum();
                self.root_farad[c] * (self.open[c] - lost)
            })
            .collect();
        (0..n)
            .map(|k| (0..n).map(|c| self.modes[c * n + k] * inside[c]).sum())
            .collect()
    }

    /// Voltages of all ports for modes that are `left` from their ends.
    fn ports_v(&self, left: &[f64], amps: &[f64], out: &mut Vec<f64>) {
        let (n, p) = (self.capacitors, self.open.len());
        let drawn: Vec<f64> = (0..n)
            .map(|c| {
                let pulled = |k: usize| self.modes[c * n + k] * left[k] / self.tau_s[k];
                self.root_farad[c] * (0..n).map(pulled).sum::<f64>()
            })
            .chain(amps.iter().copied())
            .collect();
        out.clear();
        for port in 0..p {
            let z = &self.z[port * p..(port + 1) * p];
            out.push(self.open[port] - z.iter().zip(&drawn).map(|(z, a)| z * a).sum::<f64>());
        }
    }
}

/// A state that repeats itself.
#[derive(Debug, Clone)]
pub struct Periodic<'a> {
    of: &'a Transient,
    stretches: &'a [Stretch],
    period_s: f64,
    starts: Vec<Vec<f64>>,
    ends: Vec<Vec<f64>>,
}

impl Periodic<'_> {
    /// How long until it repeats, in second.
    pub fn period_s(&self) -> f64 {
        self.period_s
    }

    /// Voltages over the ports at a time in second, in volt: capacitors first, then draws. At an edge
    /// those after it.
    pub fn at(&self, time_s: f64, out: &mut Vec<f64>) {
        let mut rest = time_s.rem_euclid(self.period_s);
        let mut k = 0;
        while k + 1 < self.stretches.len() && rest >= self.stretches[k].for_s {
            rest -= self.stretches[k].for_s;
            k += 1;
        }
        let left: Vec<f64> = (self.starts[k].iter().zip(&self.ends[k]))
            .zip(&self.of.tau_s)
            .map(|((start, end), tau)| (end - start) * math::exp(-rest / tau))
            .collect();
        self.of.ports_v(&left, &self.stretches[k].amps, out);
    }
}

fn check(
    what: &'static str,
    value: f64,
    good: bool,
    expected: &'static str,
) -> Result<(), NetworkError> {
    if good && value.is_finite() {
        return Ok(());
    }
    Err(NetworkError::BadValue {
        name: "capacitor".to_owned(),
        what,
        value,
        expected,
    })
}

/// Eigenvectors (columns) of a symmetric matrix, whose diagonal is left with the eigenvalues. By
/// Jacobi's rotations (Golub and Van Loan, Matrix Computations, section 8.5).
fn eigen(a: &mut [f64], n: usize) -> Vec<f64> {
    let mut q = vec![0.0; n * n];
    for k in 0..n {
        q[k * n + k] = 1.0;
    }
    // Quadratic convergence: five or six sweeps do; the bound only guards against NaN.
    for _ in 0..40 {
        let mut moved = false;
        for i in 0..n {
            for j in i + 1..n {
                let small = f64::EPSILON * (a[i * n + i] * a[j * n + j]).abs().sqrt();
                if a[i * n + j].abs() > small {
                    rotate(a, &mut q, n, (i, j));
                    moved = true;
                }
            }
        }
        if !moved {
            break;
        }
    }
    q
}

fn rotate(a: &mut [f64], q: &mut [f64], n: usize, (i, j): (usize, usize)) {
    let theta = (a[j * n + j] - a[i * n + i]) / (2.0 * a[i * n + j]);
    let t = theta.signum() / (theta.abs() + math::hypot(theta, 1.0));
    let c = 1.0 / math::hypot(t, 1.0);
    let s = t * c;
    let turn = |m: &mut [f64], x: usize, y: usize| {
        (m[x], m[y]) = (c * m[x] - s * m[y], s * m[x] + c * m[y]);
    };
    for k in 0..n {
        turn(a, k * n + i, k * n + j);
        turn(q, k * n + i, k * n + j);
    }
    for k in 0..n {
        turn(a, i * n + k, j * n + k);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::electrical::ripple::{Piece, Smoothing};
    use crate::electrical::PixelType;

    const PERIOD_S: f64 = 5e-4;

    /// Cell 0.1 Ω, lead 0.05 Ω, a node with a capacitor or two, and the draw there.
    fn one_node(capacitors: &[(f64, f64)]) -> Transient {
        let mut b = Network::<PixelType>::builder();
        let (cell, plus, minus) = (b.node("cell"), b.node("plus"), b.node("minus"));
        b.source("cell", cell, minus, 3.7, 0.1);
        b.resistor("lead", cell, plus, 0.05);
        let at = |(farad, esr_ohm): &(f64, f64)| Capacitor {
            positive: plus,
            negative: minus,
            farad: *farad,
            esr_ohm: *esr_ohm,
        };
        let capacitors: Vec<Capacitor> = capacitors.iter().map(at).collect();
        Transient::new(&b.build().unwrap(), &capacitors, &[(plus, minus)]).unwrap()
    }

    fn pulse(share: f64) -> Vec<Stretch> {
        let stretch = |for_s, amp| Stretch {
            for_s,
            amps: vec![amp],
        };
        vec![
            stretch(share * PERIOD_S, 2.0),
            stretch((1.0 - share) * PERIOD_S, 0.1),
        ]
    }

    #[test]
    fn one_node_equals_the_closed_form() {
        let transient = one_node(&[(1e-3, 0.02)]);
        assert!((transient.time_constants_s()[0] - 0.17e-3).abs() < 1e-15);
        let stretches = pulse(0.3);
        let run = transient.periodic(&stretches).unwrap();
        let pieces: Vec<Piece> = (stretches.iter())
            .map(|s| Piece {
                for_s: s.for_s,
                amp: s.amps[0],
            })
            .collect();
        let ripple = Smoothing {
            source_ohm: 0.15,
            farad: 1e-3,
            esr_ohm: 0.02,
        }
        .periodic(&pieces);
        let mut v = vec![];
        // The deepest sag stands just before the end of the pulse, the highest supply just before the
        // next.
        run.at(0.3 * PERIOD_S * (1.0 - 1e-12), &mut v);
        assert!((v[1] - (3.7 - 0.15 * ripple.max_a)).abs() < 1e-10, "{v:?}");
        run.at(-1e-16, &mut v);
        assert!((v[1] - (3.7 - 0.15 * ripple.min_a)).abs() < 1e-10, "{v:?}");
        assert!((v[0] - v[1]).abs() < 1e-15);
    }

    /// Two equal capacitors side by side are one of twice the size and half the resistance.
    #[test]
    fn capacitors_side_by_side_add() {
        let (two, one) = (one_node(&[(5e-4, 0.04); 2]), one_node(&[(1e-3, 0.02)]));
        let stretches = pulse(0.6);
        let (a, b) = (
            two.periodic(&stretches).unwrap(),
            one.periodic(&stretches).unwrap(),
        );
        let (mut va, mut vb) = (vec![], vec![]);
        for k in 0..50 {
            let t = PERIOD_S * f64::from(k) / 50.0;
            a.at(t, &mut va);
            b.at(t, &mut vb);
            assert!((va[2] - vb[1]).abs() < 1e-12, "{t}: {va:?} {vb:?}");
        }
    }

    #[test]
    fn what_cannot_be_computed_is_refused() {
        let transient = one_node(&[(1e-3, 0.0)]);
        assert!(transient.periodic(&[]).is_none());
        let short = [Stretch {
            for_s: 1.0,
            amps: vec![],
        }];
        assert!(transient.periodic(&short).is_none());
        let mut b = Network::<PixelType>::builder();
        let (plus, minus) = (b.node("plus"), b.node("minus"));
        b.source("cell", plus, minus, 3.7, 0.0);
        let network = b.build().unwrap();
        let capacitor = |farad| Capacitor {
            positive: plus,
            negative: minus,
            farad,
            esr_ohm: 0.0,
        };
        assert!(Transient::new(&network, &[capacitor(1e-3)], &[]).is_err());
        assert!(Transient::new(&network, &[capacitor(-1.0)], &[]).is_err());
    }
}
