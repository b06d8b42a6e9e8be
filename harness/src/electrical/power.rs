//! Constant-power loads: the higher operating point, or the finding that there is none.
//!
//! A constant-power load draws more at a lower supply. There may be two operating points (the
//! higher one is the real one) or none. The solver first solves with these loads at share 0, which
//! has one solution and does not depend on any earlier frame, then raises them to share 1. If that
//! fails it finds by bisection the largest share that has a stable operating point and reports
//! [`Collapse`]. *Stable* means that the second derivative of the co-content is positive definite.
//! A load whose supply stays below its lowest working supply even while it draws nothing is off,
//! and the frame is solved without it.

use super::dense;
use super::error::{Collapse, SolveError};
use super::load::LoadState;
use super::newton::{Solver, MAX_STEPS};
use super::pixel::PixelLaw;

/// Bound on the steps of an attempt with constant-power loads: near the collapse point each step
/// halves the distance, so 60 reach rounding.
const MAX_STEPS_POWER: usize = 60;
/// How closely the largest share is found, as a share of itself.
const SHARE_TOLERANCE: f64 = 1e-7;

/// A supply below this times the lowest working supply counts as at that limit.
const AT_LIMIT: f64 = 1.001;

impl<L: PixelLaw + Clone> Solver<L> {
    /// Solves a network that has constant-power loads.
    pub(super) fn solve_with_power(&mut self) -> Result<usize, SolveError> {
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
        let mut first = None;
        for _ in 0..=self.loads.len() {
            match self.raise_to_full() {
                Ok(more) if self.off_stay_off() => return Ok(steps + more),
                Ok(_) => break,
                Err(collapse) => {
                    first = first.or(Some(collapse));
                    // Perhaps the frame stands with that load off, because the others alone hold
                    // its supply down. Past the collapse point proper there is no such hope.
                    let load = &mut self.loads[collapse.load];
                    if collapse.supply_v > load.min_v() * AT_LIMIT {
                        break;
                    }
                    load.state = LoadState::Off;
                    self.set_share(0.0);
                    steps += self.attempt(MAX_STEPS)?;
                }
            }
        }
        let none = Collapse {
            load: 0,
            largest_share: 0.0,
            supply_v: 0.0,
        };
        Err(SolveError::Collapse(first.unwrap_or(none)))
    }

    /// A load that is off must find too little supply to start.
    fn off_stay_off(&self) -> bool {
        self.loads
            .iter()
            .all(|l| l.state == LoadState::On || l.asked == 0.0 || l.v < l.min_v())
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
            let at_limit = load.v < load.min_v() * AT_LIMIT;
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
}
