//! The same batch by its parts: levels, loads and cells are set one by one, so that a batch can be solved
//! again with other cells or more current at little cost.
//!
//! After [`LaneSolver::run`] the lanes are read by [`LaneSolver::lane`]; a lane that was not solved is the
//! caller's to solve alone and to hand back by [`LaneSolver::restart`].

use super::linear;
use super::summary::Lane;
use super::vector::{Lanes, LANES};
use super::LaneSolver;
use crate::electrical::drive::SourceDrive;
use crate::electrical::error::SolveError;
use crate::electrical::network::{LoadId, StripId};
use crate::electrical::pixel::PixelLaw;
use crate::electrical::pwm::LevelSums;
use crate::electrical::solution::Solution;

impl LaneSolver {
    /// Shows drive levels on a strip, one frame a lane, and gives the sums of each.
    ///
    /// # Errors
    /// [`SolveError::BadDrive`] if a frame does not fit the strip.
    pub fn show(
        &mut self,
        strip: StripId,
        frames: &[&[u8]; LANES],
    ) -> Result<[LevelSums; LANES], SolveError> {
        let strip = &mut self.work.strips[strip.index()];
        let expected = strip.pixels * strip.law.channels();
        if let Some(wrong) = frames.iter().find(|f| f.len() != expected) {
            return Err(SolveError::BadDrive {
                what: "drive levels of a strip",
                expected: expected.to_string(),
                found: wrong.len().to_string(),
            });
        }
        self.work.settled = false;
        let mut sums = [LevelSums::default(); LANES];
        linear::set_levels(strip, frames, &Lanes::splat(1.0), Some(&mut sums));
        Ok(sums)
    }

    /// Multiplies the set currents of a strip, a factor a lane.
    pub fn rescale(&mut self, strip: StripId, by: &[f64; LANES]) {
        self.work.settled = false;
        linear::rescale(&mut self.work.strips[strip.index()], &Lanes(*by));
    }

    /// Amounts of the loads in one lane, ampere or watt; what lacks stays.
    pub fn ask(&mut self, lane: usize, amounts: &[f64]) {
        for (load, amount) in self.work.loads.iter_mut().zip(amounts) {
            load.amount.0[lane % LANES] = *amount;
        }
    }

    /// EMF and resistance of the cells in one lane; what lacks stays.
    pub fn supply(&mut self, lane: usize, cells: &[SourceDrive]) {
        let lane = lane % LANES;
        let kept = &mut self.scalar.cells;
        kept.copy_from_slice(&self.ports[lane].cells);
        for (cell, given) in kept.iter_mut().zip(cells) {
            *cell = (given.emf_v, given.ohm);
        }
        if self.ports[lane].set_cells(&self.scalar.reduced, &self.scalar.cells) {
            self.work.take_ports(lane, &self.ports[lane]);
        }
    }

    /// Solves the batch as it is set and tells which lanes hold a solution.
    pub fn run(&mut self) -> [bool; LANES] {
        self.used = 0;
        if !self.started {
            self.work.start();
        }
        linear::newton(&mut self.work);
        self.started = true;
        let solved = std::array::from_fn(|l| self.is_solved(l));
        self.summary
            .take(&self.scalar.reduced, &mut self.ports, &self.work);
        solved
    }

    /// Looks along the strips as well, for [`Reading::strip_supply`](crate::electrical::Reading::strip_supply) and
    /// [`Reading::rail_peak_a`](crate::electrical::Reading::rail_peak_a).
    pub fn survey(&mut self) {
        self.summary.take_strips(&self.work);
    }

    /// One lane of the last [`run`](Self::run), where it holds a solution.
    pub fn lane(&self, lane: usize) -> Lane<'_> {
        Lane {
            of: &self.summary,
            work: &self.work,
            lane,
        }
    }

    /// Lets a lane go on from a solution that was found elsewhere; without one, from open ports.
    pub fn restart(&mut self, lane: usize, solution: Option<&Solution>) {
        let lane = lane % LANES;
        let Some(solution) = solution else {
            self.work.start_lane(lane);
            return;
        };
        self.work.settled = false;
        for (k, strip) in self.work.strips.iter_mut().enumerate() {
            strip.restart_lane(lane, &solution.strip(StripId::from_index(k)).supply_v);
        }
        for (k, load) in self.work.loads.iter_mut().enumerate() {
            load.v.0[lane] = solution.load_v(LoadId::from_index(k));
        }
    }
}
