//! Newton's method on the ports of a reduced network.
//!
//! # Convergence
//! Pixels and current sinks draw no less at a higher supply, so without constant-power loads the
//! solution is the minimum of a convex function (the co-content; Millar, Phil. Mag. 42, 1951) and
//! is unique. Newton's step points downhill on it. When full steps do not make good progress the
//! step is cut at the minimum along it, which makes the descent certain; clip ramps are piecewise
//! linear, so the iteration then ends exactly after finitely many steps.

use super::dense;
use super::drive::Drive;
use super::error::{NetworkError, SolveError};
use super::load::LoadWork;
use super::network::Network;
use super::pixel::{PixelLaw, PixelType};
use super::reduce::{Ports, Reduced};
use super::solution::Solution;
use super::strip::{Excess, StripWork};

/// Full Newton steps without a look at progress.
const FREE_STEPS: usize = 3;
/// Bound on the steps of one attempt.
pub(super) const MAX_STEPS: usize = 200;
/// Why an attempt did not end in an operating point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stuck {
    residual_a: f64,
    steps: usize,
}

/// Solves the frames of one network. Holds all memory it needs: a frame allocates nothing.
#[derive(Debug, Clone)]
pub struct Solver<L = PixelType> {
    pub(super) reduced: Reduced,
    pub(super) ports: Ports,
    pub(super) strips: Vec<StripWork<L>>,
    pub(super) loads: Vec<LoadWork>,
    /// First port of each strip; loads follow after the strips.
    pub(super) strip_port: Vec<usize>,
    pub(super) load_port: usize,
    pub(super) cells: Vec<(f64, f64)>,
    pub(super) built_cells: Vec<(f64, f64)>,
    pub(super) built_loads: Vec<f64>,
    pub(super) matrix: Vec<f64>,
    pub(super) pivots: Vec<usize>,
    pub(super) port_v: Vec<f64>,
    pub(super) port_a: Vec<f64>,
    pub(super) diag: Vec<f64>,
    pub(super) off: Vec<f64>,
    pub(super) fixed: Vec<f64>,
    pub(super) root: Vec<f64>,
    pub(super) root_valid: bool,
    pub(super) any_power: bool,
    pub(super) started: bool,
    pub(super) solution: Solution,
}

impl<L: PixelLaw + Clone> Solver<L> {
    /// Reduces the network to its ports and sets the workspace up.
    ///
    /// # Errors
    /// [`NetworkError::Singular`] if cells form a loop without resistance.
    pub fn new(network: &Network<L>) -> Result<Self, NetworkError> {
        let mut ends = Vec::new();
        let mut strip_port = Vec::new();
        let mut strips = Vec::new();
        for (spec, breaks) in network.strips.iter().zip(&network.topology.breaks) {
            strip_port.push(ends.len());
            ends.extend(breaks.iter().map(|b| (b.pos, b.neg)));
            strips.push(StripWork::new(
                &spec.law,
                spec.pixels,
                spec.rail_pos_ohm + spec.rail_neg_ohm,
                breaks.iter().map(|b| b.pixel).collect(),
            ));
        }
        let load_port = ends.len();
        ends.extend(network.loads.iter().map(|l| (l.positive.0, l.negative.0)));
        let reduced = Reduced::new(&network.topology, &network.sources, &ends)?;
        let cells: Vec<_> = network.sources.iter().map(|s| (s.emf_v, s.ohm)).collect();
        let ports = Ports::new(&reduced, &cells);
        let p = ends.len();
        Ok(Self {
            reduced,
            ports,
            strips,
            loads: network
                .loads
                .iter()
                .map(|l| LoadWork::new(l.law, l.amount))
                .collect(),
            strip_port,
            load_port,
            built_cells: cells.clone(),
            cells,
            built_loads: network.loads.iter().map(|l| l.amount).collect(),
            matrix: vec![0.0; p * p],
            pivots: vec![0; p],
            port_v: vec![0.0; p],
            port_a: vec![0.0; p],
            diag: vec![0.0; p],
            off: vec![0.0; p],
            fixed: vec![0.0; p],
            root: vec![0.0; p * p],
            root_valid: false,
            any_power: network.loads.iter().any(|l| l.law.is_constant_power()),
            started: false,
            solution: Solution::new(network),
        })
    }

    /// Solves one frame.
    ///
    /// # Errors
    /// [`SolveError::Collapse`] if no operating point exists, [`SolveError::BadDrive`] if the drive
    /// does not fit, [`SolveError::NoConvergence`] if the iteration hits its bound.
    pub fn solve(&mut self, drive: &Drive<'_>) -> Result<&Solution, SolveError> {
        self.take(drive)?;
        if !self.started {
            self.start_from_open_circuit();
        }
        // A failed attempt leaves no state that is worth starting from.
        self.started = false;
        let steps = if self.any_power {
            self.solve_with_power()?
        } else {
            self.attempt(MAX_STEPS).map_err(SolveError::from)?
        };
        self.started = true;
        self.publish(steps);
        Ok(&self.solution)
    }

    /// The last frame solved.
    pub fn solution(&self) -> &Solution {
        &self.solution
    }

    fn start_from_open_circuit(&mut self) {
        for (work, first) in self.strips.iter_mut().zip(&self.strip_port) {
            work.v.fill(self.ports.open[*first]);
        }
        for (k, work) in self.loads.iter_mut().enumerate() {
            work.v = self.ports.open[self.load_port + k];
        }
    }

    /// Newton's method at the present amounts, from the present supplies.
    pub(super) fn attempt(&mut self, max_steps: usize) -> Result<usize, Stuck> {
        let mut merit = f64::INFINITY;
        let mut last = Excess::default();
        self.evaluate();
        for step in 1..=max_steps {
            if !self.linear_step() {
                return Err(Stuck {
                    residual_a: f64::INFINITY,
                    steps: step,
                });
            }
            self.evaluate();
            let mut excess = self.excess();
            if excess.worst <= 1.0 {
                return Ok(step);
            }
            if !excess.sum_a.is_finite() {
                return Err(Stuck {
                    residual_a: f64::INFINITY,
                    steps: step,
                });
            }
            // The first step leads from anywhere to a state that obeys the linear laws; only from
            // there on is the slope along a step defined.
            let slow = step > FREE_STEPS && excess.sum_a > 0.5 * merit;
            if step > 1 && (slow || step > 4 * FREE_STEPS) && self.search_line() {
                // Not an end: the port currents are still those of the full step.
                excess = self.excess();
            }
            merit = excess.sum_a;
            last = excess;
        }
        Err(Stuck {
            residual_a: last.max_a,
            steps: max_steps,
        })
    }

    pub(super) fn evaluate(&mut self) {
        for strip in &mut self.strips {
            strip.evaluate();
        }
        for load in &mut self.loads {
            load.evaluate();
        }
    }

    fn excess(&self) -> Excess {
        let mut excess = Excess::default();
        for strip in &self.strips {
            strip.excess(&mut excess);
        }
        for load in &self.loads {
            excess.add(load.a, load.lin, load.slope_s, load.v);
        }
        excess
    }

    /// Solves the network linearised at the present state; false if that has no solution.
    fn linear_step(&mut self) -> bool {
        self.linearise();
        let p = self.reduced.ports;
        if p == 0 {
            return true;
        }
        self.stamp();
        if !dense::factor(&mut self.matrix, &mut self.pivots, p) {
            return false;
        }
        for row in 0..p {
            self.port_v[row] = self.ports.open[row]
                - dense::dot(&self.ports.z[row * p..(row + 1) * p], &self.fixed);
        }
        dense::solve(&self.matrix, &self.pivots, p, &mut self.port_v);
        for port in 0..p {
            let mut a = self.diag[port] * self.port_v[port] + self.fixed[port];
            if port + 1 < p {
                a += self.off[port] * self.port_v[port + 1];
            }
            if port > 0 {
                a += self.off[port - 1] * self.port_v[port - 1];
            }
            self.port_a[port] = a;
        }
        for (strip, first) in self.strips.iter_mut().zip(&self.strip_port) {
            let k = strip.breaks.len();
            strip.back_substitute(&self.port_v[*first..first + k]);
        }
        for (k, load) in self.loads.iter_mut().enumerate() {
            load.step_to(self.port_v[self.load_port + k]);
        }
        true
    }

    /// Norton form of everything at the ports: a symmetric tridiagonal matrix and a vector.
    pub(super) fn linearise(&mut self) {
        self.off.fill(0.0);
        for (strip, first) in self.strips.iter_mut().zip(&self.strip_port) {
            strip.eliminate();
            let k = strip.breaks.len();
            self.diag[*first..first + k].copy_from_slice(&strip.norton.diag);
            self.off[*first..first + k - 1].copy_from_slice(&strip.norton.off);
            self.fixed[*first..first + k].copy_from_slice(&strip.norton.fixed);
        }
        for (k, load) in self.loads.iter().enumerate() {
            self.diag[self.load_port + k] = load.slope_s;
            self.fixed[self.load_port + k] = load.a - load.slope_s * load.v;
        }
    }

    /// matrix = 1 + Z·Y with the tridiagonal Y of the ports.
    fn stamp(&mut self) {
        let p = self.reduced.ports;
        for (row, out) in self.matrix.chunks_exact_mut(p).enumerate() {
            let z = &self.ports.z[row * p..(row + 1) * p];
            for c in 0..p {
                let mut sum = z[c] * self.diag[c];
                if c > 0 {
                    sum += z[c - 1] * self.off[c - 1];
                }
                if c + 1 < p {
                    sum += z[c + 1] * self.off[c];
                }
                out[c] = sum;
            }
            out[row] += 1.0;
        }
    }

    /// Cuts the last step at the minimum of the co-content along it; false if the full step stays.
    fn search_line(&mut self) -> bool {
        let mut slope_hi = self.slope_at(1.0);
        let mut slope_lo = self.slope_at(0.0);
        let (mut lo, mut hi) = (0.0, 1.0);
        let enough = 1e-3 * slope_lo.abs();
        if !(slope_lo < 0.0 && slope_hi > enough) {
            self.evaluate();
            return false;
        }
        // False position with halving of the stale end (Illinois; Dowell and Jarratt, BIT 11, 1971).
        let mut share = 1.0;
        let mut last_side = 0;
        for _ in 0..60 {
            share = (lo * slope_hi - hi * slope_lo) / (slope_hi - slope_lo);
            let slope = self.slope_at(share);
            if slope.abs() <= enough || hi - lo < 1e-12 {
                break;
            }
            let side = if slope < 0.0 { -1 } else { 1 };
            if slope < 0.0 {
                (lo, slope_lo) = (share, slope);
                if side == last_side {
                    slope_hi *= 0.5;
                }
            } else {
                (hi, slope_hi) = (share, slope);
                if side == last_side {
                    slope_lo *= 0.5;
                }
            }
            last_side = side;
        }
        for strip in &mut self.strips {
            strip.shorten(share);
        }
        for load in &mut self.loads {
            load.shorten(share);
        }
        self.evaluate();
        true
    }

    fn slope_at(&mut self, share: f64) -> f64 {
        self.strips
            .iter_mut()
            .map(|s| s.slope_at(share))
            .sum::<f64>()
            + self.loads.iter().map(|l| l.slope_at(share)).sum::<f64>()
    }

    fn publish(&mut self, steps: usize) {
        // From the currents of the laws, so that the currents add up at every node to rounding.
        self.ports
            .cell_currents(&self.reduced, Some(self.port_a.iter().copied()));
        let columns = (&self.port_a[..], &self.ports.emf_v[..]);
        self.solution.fill(
            &self.reduced,
            &self.ports,
            columns,
            &self.strips,
            &self.loads,
            steps,
        );
    }
}

impl From<Stuck> for SolveError {
    fn from(stuck: Stuck) -> Self {
        SolveError::NoConvergence {
            residual_a: stuck.residual_a,
            iterations: stuck.steps,
        }
    }
}
