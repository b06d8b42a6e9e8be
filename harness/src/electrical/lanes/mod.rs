//! Eight frames of one network solved side by side.
//!
//! The same Newton steps as [`Solver`](super::Solver) takes, each number eight wide: one lane a
//! frame. Each lane has its own drive levels, load amounts, EMFs and cell resistances. It starts from
//! the frame that this lane solved before, and a lane that has settled is not disturbed by one that
//! has not, since a step from a solution leads to itself.
//!
//! A lane is accepted only if it is a solution by the tests of the scalar solver: every pixel's law is
//! met to rounding, the ports' equations hold, and with constant-power loads the operating point is
//! certainly the highest one (see `power`). Every other lane is handed to the scalar solver, which
//! has the line search, the search for the collapse point and the findings. So lanes change how
//! fast a frame is solved, never what comes out.

mod levels;
mod linear;
mod ramps;
mod staged;
mod strip;
mod summary;
mod survey;
mod sweep;
mod vector;
mod walk;

pub use summary::Lane;
pub use vector::LANES;

use super::drive::{check_drive, Drive, StripDrive};
use super::error::{NetworkError, SolveError};
use super::load::{LoadLaw, LoadState};
use super::network::{Network, StripId};
use super::newton::Solver;
use super::pixel::{PixelLaw, MAX_CHANNELS};
use super::reduce::Ports;
use super::solution::Solution;
use linear::Work;
use summary::Summary;
use vector::Lanes;

/// How far the ports' equations may be off, in volt, beside rounding in proportion to the voltages.
const PORT_TOLERANCE_V: f64 = 1e-12;
/// Bound on the eigenvalue that tells the highest operating point; a hair below 1 for rounding.
const HIGHEST: f64 = 0.999;

/// How one lane ended.
#[derive(Debug, Clone, PartialEq)]
enum Outcome {
    Solved,
    /// By the scalar solver, whose solution is kept for this lane.
    Alone(Box<Solution>),
    Failed(SolveError),
}

/// Solves up to [`LANES`] frames of one network at a time. A frame that is solved in its lane
/// allocates nothing.
#[derive(Debug, Clone)]
pub struct LaneSolver {
    scalar: Solver,
    work: Work,
    ports: Vec<Ports>,
    outcome: Vec<Outcome>,
    solution: Solution,
    summary: Summary,
    started: bool,
    used: usize,
}

impl LaneSolver {
    /// Sets the workspace up.
    ///
    /// # Errors
    /// As [`Solver::new`].
    pub fn new(network: &Network) -> Result<Self, NetworkError> {
        Ok(Self::like(network, Solver::new(network)?))
    }

    /// The same from a scalar solver of the same network, which spares reducing it again.
    pub fn like(network: &Network, scalar: Solver) -> Self {
        let mut work = Work::new(&scalar);
        for l in 0..LANES {
            work.take_ports(l, &scalar.ports);
        }
        Self {
            work,
            summary: Summary::new(network, &scalar.strip_port, scalar.reduced.ports),
            ports: vec![scalar.ports.clone(); LANES],
            outcome: vec![Outcome::Solved; LANES],
            solution: scalar.solution.clone(),
            started: false,
            used: 0,
            scalar,
        }
    }

    /// Solves one frame for each drive, at most [`LANES`]. [`solution`](Self::solution) tells what came
    /// out of each.
    ///
    /// # Errors
    /// [`SolveError::BadDrive`] if a drive does not fit the network or there are too many; the lanes then
    /// hold nothing.
    pub fn solve(&mut self, drives: &[Drive<'_>]) -> Result<(), SolveError> {
        self.used = 0;
        let Some(last) = drives.last() else {
            return Ok(());
        };
        if drives.len() > LANES {
            return Err(SolveError::BadDrive {
                what: "frames of a batch",
                expected: format!("at most {LANES}"),
                found: drives.len().to_string(),
            });
        }
        for drive in drives {
            check_drive(&self.scalar, drive)?;
        }
        self.used = drives.len();
        // Lanes without a frame repeat the last one.
        let all: [&Drive<'_>; LANES] = std::array::from_fn(|l| drives.get(l).unwrap_or(last));
        self.take(&all);
        if !self.started {
            self.work.start();
        }
        linear::newton(&mut self.work);
        self.started = true;
        for (l, drive) in drives.iter().enumerate() {
            self.outcome[l] = self.judge(l, drive);
        }
        for l in drives.len()..LANES {
            // Nothing that a lane without a frame was left with is worth starting from, unless it settled.
            if !self.is_solved(l) {
                self.work.start_lane(l);
            }
        }
        Ok(())
    }

    /// The solution of a lane of the last batch.
    ///
    /// # Errors
    /// Why that frame has none.
    pub fn solution(&mut self, lane: usize) -> Result<&Solution, SolveError> {
        if lane >= self.used {
            return Err(SolveError::BadDrive {
                what: "lane",
                expected: format!("one of the {} solved", self.used),
                found: lane.to_string(),
            });
        }
        if self.outcome[lane] == Outcome::Solved {
            self.publish(lane);
        }
        match &self.outcome[lane] {
            Outcome::Solved => Ok(&self.solution),
            Outcome::Alone(solution) => Ok(solution),
            Outcome::Failed(error) => Err(error.clone()),
        }
    }

    /// Supply of a pixel in every lane of the last batch, in volt; not a number where the frame has no
    /// solution or there is no frame.
    pub fn supply_v(&self, strip: StripId, pixel: usize) -> [f64; LANES] {
        let mut v = self.work.strips[strip.index()].supply_v(pixel);
        for (l, slot) in v.iter_mut().enumerate() {
            match self.outcome.get(l).filter(|_| l < self.used) {
                Some(Outcome::Solved) => {}
                Some(Outcome::Alone(s)) => *slot = s.strip(strip).supply_v[pixel],
                Some(Outcome::Failed(_)) | None => *slot = f64::NAN,
            }
        }
        v
    }

    /// How many frames of the last batch went to the scalar solver.
    pub fn solved_alone(&self) -> usize {
        let used = &self.outcome[..self.used];
        used.iter().filter(|o| **o != Outcome::Solved).count()
    }

    /// Newton steps of the last batch.
    pub fn steps(&self) -> usize {
        self.work.steps
    }

    fn take(&mut self, drives: &[&Drive<'_>; LANES]) {
        for (l, drive) in drives.iter().enumerate() {
            for (k, load) in self.work.loads.iter_mut().enumerate() {
                let built = self.scalar.built_loads[k];
                load.amount.0[l] = drive.loads.get(k).copied().unwrap_or(built);
            }
            let cells = &mut self.scalar.cells;
            if drive.sources.is_empty() {
                cells.copy_from_slice(&self.scalar.built_cells);
            } else {
                for (cell, given) in cells.iter_mut().zip(drive.sources) {
                    *cell = (given.emf_v, given.ohm);
                }
            }
            let changed = self.ports[l].set_cells(&self.scalar.reduced, &self.scalar.cells);
            if changed {
                self.work.take_ports(l, &self.ports[l]);
            }
        }
        self.work.settled = false;
        for (k, strip) in self.work.strips.iter_mut().enumerate() {
            let drives: [StripDrive<'_>; LANES] = std::array::from_fn(|l| drives[l].strips[k]);
            take_strip(strip, &drives);
        }
    }

    fn judge(&mut self, l: usize, drive: &Drive<'_>) -> Outcome {
        if self.is_solved(l) {
            return Outcome::Solved;
        }
        match self.scalar.solve(drive) {
            Ok(solution) => {
                let solution = Box::new(solution.clone());
                // The next batch starts this lane from what was found.
                self.restart(l, Some(&solution));
                Outcome::Alone(solution)
            }
            Err(error) => {
                self.work.start_lane(l);
                Outcome::Failed(error)
            }
        }
    }

    fn is_solved(&self, l: usize) -> bool {
        let w = &self.work;
        let p = w.open.len();
        let holds = |row: usize| {
            let lost: f64 = (0..p)
                .map(|c| w.z[row * p + c].0[l] * w.port_a[c].0[l])
                .sum();
            let off = w.port_v[row].0[l] + lost - w.open[row].0[l];
            let rounding = 64.0 * f64::EPSILON * (lost.abs() + w.open[row].0[l].abs());
            // False where any of it is not a number.
            off.abs() <= PORT_TOLERANCE_V + rounding
        };
        w.excess.0[l] <= 0.0 && (0..p).all(holds) && self.is_highest(l)
    }

    /// True if every constant-power load works and there is certainly no higher operating point: the
    /// test of `power`, with the largest eigenvalue bounded by the largest sum of a row. It implies a
    /// stable point, since pixels only add to the second derivative of the co-content.
    fn is_highest(&self, l: usize) -> bool {
        let w = &self.work;
        let p = w.open.len();
        let works = |min_v: f64, k: usize| w.loads[k].v.0[l] >= min_v;
        let n = w.loads.len();
        let weight = |k: usize| match w.loads[k].law {
            LoadLaw::ConstantPower { .. } => w.loads[k].amount.0[l].sqrt() / w.loads[k].v.0[l],
            LoadLaw::ConstantCurrent { .. } | LoadLaw::Injection => 0.0,
        };
        let all_work = (0..n).all(|k| match w.loads[k].law {
            LoadLaw::ConstantPower { min_v } => works(min_v, k),
            LoadLaw::ConstantCurrent { .. } | LoadLaw::Injection => true,
        });
        let sum_of_row = |a: usize| -> f64 {
            let z = |b: usize| w.z[(w.load_port + a) * p + w.load_port + b].0[l];
            (0..n).map(|b| (weight(a) * z(b) * weight(b)).abs()).sum()
        };
        all_work && (0..n).all(|a| sum_of_row(a) < HIGHEST)
    }

    fn publish(&mut self, l: usize) {
        for (to, from) in self.scalar.port_a.iter_mut().zip(&self.work.port_a) {
            *to = from.0[l];
        }
        let ports = &mut self.ports[l];
        // From the currents of the laws, so that the currents add up at every node to rounding.
        ports.cell_currents(
            &self.scalar.reduced,
            Some(self.scalar.port_a.iter().copied()),
        );
        let s = &mut self.solution;
        let columns = (&self.scalar.port_a[..], &ports.emf_v[..]);
        s.fill_linear(&self.scalar.reduced, ports, columns, self.work.steps);
        for (k, load) in self.work.loads.iter().enumerate() {
            s.fill_load(k, (load.v.0[l], load.a.0[l], LoadState::On));
        }
        for (k, strip) in self.work.strips.iter().enumerate() {
            s.fill_strip(k, strip.lane(l));
        }
    }
}

/// Takes what one strip shows in every lane.
fn take_strip(strip: &mut strip::StripLanes, drives: &[StripDrive<'_>; LANES]) {
    let mut frames: [&[u8]; LANES] = [&[]; LANES];
    let mut scales = Lanes::splat(1.0);
    let mut all_levels = true;
    for (l, drive) in drives.iter().enumerate() {
        match *drive {
            StripDrive::Levels(levels) => frames[l] = levels,
            StripDrive::ScaledLevels { levels, scale } => {
                (frames[l], scales.0[l]) = (levels, scale);
            }
            StripDrive::Dark | StripDrive::Currents(_) => all_levels = false,
        }
    }
    if all_levels {
        linear::set_levels(strip, &frames, &scales, None);
        return;
    }
    strip.most_a = strip.law.dark_a();
    let channels = strip.law.channels();
    let mut full = [0.0; MAX_CHANNELS];
    for (c, slot) in full.iter_mut().enumerate().take(channels) {
        *slot = strip.law.full_a(c) / 255.0;
    }
    for (l, drive) in drives.iter().enumerate() {
        match *drive {
            StripDrive::Dark => strip.set_lane(l, |_, _| 0.0),
            StripDrive::Currents(a) => strip.set_lane(l, |i, c| a[i * channels + c]),
            StripDrive::Levels(x) | StripDrive::ScaledLevels { levels: x, .. } => {
                let scale = scales.0[l];
                strip.set_lane(l, |i, c| scale * full[c] * f64::from(x[i * channels + c]));
            }
        }
    }
}
