//! Newton's method on the ports of a reduced network.
//!
//! # Convergence
//! Pixels and current sinks draw no less at a higher supply, so without constant-power loads the
//! solution is the minimum of a convex function (the co-content; Millar, Phil. Mag. 42, 1951) and
//! is unique. Newton's step points downhill on it. When full steps do not make good progress the
//! step is cut at the minimum along it, which makes the descent certain; clip ramps are piecewise
//! linear, so the iteration then ends exactly after finitely many steps.
//!
//! # Constant power
//! A constant-power load draws more at a lower supply. There may be two operating points (the
//! higher one is the real one) or none. The solver first solves with these loads at share 0, which
//! has one solution and does not depend on any earlier frame, then raises them to share 1. If that
//! fails it finds by bisection the largest share that has a stable operating point and reports
//! [`Collapse`]. *Stable* means that the second derivative of the co-content is positive definite.
//! A load whose supply stays below its lowest working supply even while it draws nothing is off,
//! and the frame is solved without it.

use super::dense;
use super::error::{Collapse, NetworkError, SolveError};
use super::load::{LoadState, LoadWork};
use super::network::Network;
use super::pixel::{PixelLaw, PixelType};
use super::reduce::{Ports, Reduced};
use super::solution::Solution;
use super::strip::{Excess, StripWork};

/// Full Newton steps without a look at progress.
const FREE_STEPS: usize = 3;
/// Bound on the steps of one attempt.
const MAX_STEPS: usize = 200;
/// Bound on the steps of an attempt with constant-power loads: near the collapse point each step
/// halves the distance, so 60 reach rounding.
const MAX_STEPS_POWER: usize = 60;
/// How closely the largest share is found, as a share of itself.
const SHARE_TOLERANCE: f64 = 1e-7;

/// What drives a frame.
#[derive(Debug, Clone, Copy)]
pub struct Drive<'a> {
    /// One entry a strip, in the order in which strips were added.
    pub strips: &'a [StripDrive<'a>],
    /// Amount of every load in ampere or watt; empty: as built.
    pub loads: &'a [f64],
    /// EMF and resistance of every cell; empty: as built.
    pub sources: &'a [SourceDrive],
}

/// What a strip shows.
#[derive(Debug, Clone, Copy)]
pub enum StripDrive<'a> {
    /// All channels off; dark current flows.
    Dark,
    /// Drive levels 0..255, pixel by pixel, channel by channel.
    Levels(&'a [u8]),
    /// The same, with every set current times `scale` (0 or more): for example the ratio of peak to
    /// average current. The dark current is not scaled.
    ScaledLevels {
        /// Drive levels.
        levels: &'a [u8],
        /// Factor on every set current.
        scale: f64,
    },
    /// Set current of every channel in ampere, pixel by pixel, channel by channel.
    Currents(&'a [f64]),
}

/// EMF and series resistance of a cell in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SourceDrive {
    /// EMF in volt.
    pub emf_v: f64,
    /// Series resistance in ohm.
    pub ohm: f64,
}

/// Why an attempt did not end in an operating point.
#[derive(Debug, Clone, Copy)]
struct Stuck {
    residual_a: f64,
    steps: usize,
}

/// Solves the frames of one network. Holds all memory it needs: a frame allocates nothing.
#[derive(Debug, Clone)]
pub struct Solver<L = PixelType> {
    reduced: Reduced,
    ports: Ports,
    strips: Vec<StripWork<L>>,
    loads: Vec<LoadWork>,
    /// First port of each strip; loads follow after the strips.
    strip_port: Vec<usize>,
    load_port: usize,
    cells: Vec<(f64, f64)>,
    built_cells: Vec<(f64, f64)>,
    built_loads: Vec<f64>,
    matrix: Vec<f64>,
    pivots: Vec<usize>,
    port_v: Vec<f64>,
    port_a: Vec<f64>,
    diag: Vec<f64>,
    off: Vec<f64>,
    fixed: Vec<f64>,
    root: Vec<f64>,
    root_valid: bool,
    any_power: bool,
    started: bool,
    solution: Solution,
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

    fn take(&mut self, drive: &Drive<'_>) -> Result<(), SolveError> {
        check_count("drives of strips", self.strips.len(), drive.strips.len())?;
        for (work, given) in self.strips.iter_mut().zip(drive.strips) {
            take_strip(work, given)?;
        }
        if !drive.loads.is_empty() {
            check_count("load amounts", self.loads.len(), drive.loads.len())?;
        }
        let amounts = if drive.loads.is_empty() {
            &self.built_loads[..]
        } else {
            drive.loads
        };
        for (work, amount) in self.loads.iter_mut().zip(amounts) {
            check_finite("load amount", *amount)?;
            work.asked = *amount;
        }
        if drive.sources.is_empty() {
            self.cells.copy_from_slice(&self.built_cells);
        } else {
            check_count("cells", self.cells.len(), drive.sources.len())?;
            for (cell, given) in self.cells.iter_mut().zip(drive.sources) {
                check_finite("cell resistance", given.ohm)?;
                if !given.emf_v.is_finite() {
                    return Err(bad_drive("EMF of a cell", "a finite voltage", given.emf_v));
                }
                *cell = (given.emf_v, given.ohm);
            }
        }
        if self.ports.set_cells(&self.reduced, &self.cells) {
            self.root_valid = false;
        }
        Ok(())
    }

    fn start_from_open_circuit(&mut self) {
        for (work, first) in self.strips.iter_mut().zip(&self.strip_port) {
            work.v.fill(self.ports.open[*first]);
        }
        for (k, work) in self.loads.iter_mut().enumerate() {
            work.v = self.ports.open[self.load_port + k];
        }
    }

    fn solve_with_power(&mut self) -> Result<usize, SolveError> {
        for load in &mut self.loads {
            load.state = LoadState::On;
        }
        self.set_share(0.0);
        let mut steps = self.attempt(MAX_STEPS)?;
        for load in &mut self.loads {
            // Even without its own current the supply is too low: it is off, whatever the others do.
            if load.law.is_constant_power() && load.v < load.min_v() {
                load.state = LoadState::Off;
            }
        }
        loop {
            let collapse = match self.raise_to_full() {
                Ok(more) => return Ok(steps + more),
                Err(collapse) => collapse,
            };
            // Perhaps the frame stands with that load off, because the others alone hold its
            // supply down. If not, it can neither run nor stay off: that is the finding.
            let load = &mut self.loads[collapse.load];
            if collapse.supply_v > load.min_v() * 1.001 {
                return Err(SolveError::Collapse(collapse));
            }
            load.state = LoadState::Off;
            self.set_share(0.0);
            steps += self.attempt(MAX_STEPS)?;
            match self.raise_to_full() {
                Ok(more) => {
                    let load = &self.loads[collapse.load];
                    if load.v < load.min_v() {
                        return Ok(steps + more);
                    }
                    return Err(SolveError::Collapse(collapse));
                }
                Err(next) if self.loads[next.load].state == LoadState::On => {
                    self.set_share(0.0);
                    steps += self.attempt(MAX_STEPS)?;
                }
                Err(_) => return Err(SolveError::Collapse(collapse)),
            }
        }
    }

    /// From the solution at share 0 to share 1, or the largest share that stands.
    fn raise_to_full(&mut self) -> Result<usize, Collapse> {
        let mut good = 0.0;
        let mut culprit = self.weakest_load();
        let mut supply_v = culprit.map_or(0.0, |k| self.loads[k].v);
        if culprit.is_none() {
            return Ok(0);
        }
        let mut bad = f64::INFINITY;
        let mut next = 1.0;
        loop {
            self.set_share(next);
            let result = self.attempt(MAX_STEPS_POWER);
            let stands = result.is_ok() && self.all_on_work() && self.is_stable();
            if stands {
                if next >= 1.0 {
                    return Ok(result.map_or(0, |s| s));
                }
                good = next;
                culprit = self.weakest_load();
                supply_v = culprit.map_or(0.0, |k| self.loads[k].v);
            } else {
                bad = next;
                // Start again from the solution at share 0: it is certain and above the one sought.
                self.set_share(0.0);
                if self.attempt(MAX_STEPS).is_err() {
                    break;
                }
            }
            if bad - good < SHARE_TOLERANCE * bad {
                break;
            }
            next = 0.5 * (good + bad);
        }
        Err(Collapse {
            load: culprit.unwrap_or(0),
            largest_share: good,
            supply_v,
        })
    }

    fn set_share(&mut self, share: f64) {
        for load in &mut self.loads {
            load.amount = match (load.law.is_constant_power(), load.state) {
                (true, LoadState::Off) => 0.0,
                (true, LoadState::On) => load.asked * share,
                (false, _) => load.asked,
            };
        }
    }

    fn all_on_work(&self) -> bool {
        self.loads.iter().all(|l| {
            !l.law.is_constant_power()
                || l.state == LoadState::Off
                || l.asked == 0.0
                || l.v >= l.min_v()
        })
    }

    /// The running constant-power load that fails first: the one nearest its lowest working supply
    /// if any is within a thousandth of it, else the one that bears most of the instability.
    fn weakest_load(&self) -> Option<usize> {
        let p = self.reduced.ports;
        let mut worst = None;
        let mut worst_rank = f64::NEG_INFINITY;
        for (k, load) in self.loads.iter().enumerate() {
            if !load.law.is_constant_power() || load.state == LoadState::Off || load.asked == 0.0 {
                continue;
            }
            let port = self.load_port + k;
            let at_limit = load.v < load.min_v() * 1.001;
            let burden = self.ports.z[port * p + port] * load.asked / (load.v * load.v).max(1e-12);
            let rank = if at_limit {
                1e12 + load.min_v() / load.v.max(1e-6)
            } else {
                burden
            };
            if rank > worst_rank {
                (worst, worst_rank) = (Some(k), rank);
            }
        }
        worst
    }

    /// Newton's method at the present amounts, from the present supplies.
    fn attempt(&mut self, max_steps: usize) -> Result<usize, Stuck> {
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

    fn evaluate(&mut self) {
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
    fn linearise(&mut self) {
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

    /// Positive definite second derivative of the co-content: with Z = R·Rᵀ this is 1 + Rᵀ·Y·R.
    fn is_stable(&mut self) -> bool {
        let p = self.reduced.ports;
        if !self.root_valid {
            self.root.copy_from_slice(&self.ports.z);
            if !dense::cholesky(&mut self.root, p, true) {
                return false;
            }
            self.root_valid = true;
        }
        self.linearise();
        for a in 0..p {
            for b in 0..=a {
                let mut sum = f64::from(u8::from(a == b));
                for k in 0..p {
                    let ra = self.root[k * p + a];
                    let mut yb = self.diag[k] * self.root[k * p + b];
                    if k > 0 {
                        yb += self.off[k - 1] * self.root[(k - 1) * p + b];
                    }
                    if k + 1 < p {
                        yb += self.off[k] * self.root[(k + 1) * p + b];
                    }
                    sum += ra * yb;
                }
                self.matrix[a * p + b] = sum;
                self.matrix[b * p + a] = sum;
            }
        }
        dense::cholesky(&mut self.matrix, p, false)
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
        self.ports.cell_currents(&self.reduced, Some(&self.port_a));
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

fn take_strip<L: PixelLaw + Clone>(
    work: &mut StripWork<L>,
    given: &StripDrive<'_>,
) -> Result<(), SolveError> {
    let expected = work.pixels * work.law.channels();
    match *given {
        StripDrive::Dark => {
            work.set_a.fill(0.0);
            let dark = work.law.dark_a();
            work.full_a.fill(dark);
        }
        StripDrive::Levels(levels) => {
            check_count("drive levels of a strip", expected, levels.len())?;
            work.set_levels(levels, 1.0);
        }
        StripDrive::ScaledLevels { levels, scale } => {
            check_count("drive levels of a strip", expected, levels.len())?;
            check_finite("scale of a strip", scale)?;
            work.set_levels(levels, scale);
        }
        StripDrive::Currents(currents) => {
            check_count("set currents of a strip", expected, currents.len())?;
            for a in currents {
                check_finite("set current", *a)?;
            }
            work.set_currents(currents);
        }
    }
    Ok(())
}

fn check_count(what: &'static str, expected: usize, found: usize) -> Result<(), SolveError> {
    if expected == found {
        return Ok(());
    }
    Err(SolveError::BadDrive {
        what,
        expected: expected.to_string(),
        found: found.to_string(),
    })
}

fn check_finite(what: &'static str, value: f64) -> Result<(), SolveError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(bad_drive(what, "0 or more, and finite", value))
    }
}

fn bad_drive(what: &'static str, expected: &str, found: f64) -> SolveError {
    SolveError::BadDrive {
        what,
        expected: expected.to_owned(),
        found: found.to_string(),
    }
}
