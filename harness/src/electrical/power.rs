//! Constant-power loads: the higher operating point, or the finding that there is none.
//!
//! A constant-power load draws more at a lower supply. There may be two operating points (the
//! higher one is the real one) or none. The solver first solves with these loads at share 0, which
//! has one solution and does not depend on any earlier frame, then raises them to share 1. If there
//! is no operating point it reports the largest share that has a stable one as a [`Collapse`]. *Stable* means that the second derivative of the co-content is positive definite.
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

/// Step of the share that is taken where other operating points cannot be ruled out.
const SMALL_STEP: f64 = 1.0 / 64.0;
/// Bound on the attempts of one frame. A path needs about a hundred; there are as many paths as the
/// pixels have corners at most, and more than a few have never been seen.
const MAX_ATTEMPTS: usize = 5000;
/// How far beyond the end of a path the supply is let slide, as a share of the share.
const SLIDE_SHARE: f64 = 1e-3;
/// Bound on the steps of a slide. Past the end of a path by the share e it takes about π/√e steps
/// through the narrow place, so this is ample.
const MAX_SLIDE: usize = 1000;
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
    ///
    /// A step that ends where the solution is certainly the only one above is taken whatever its
    /// length; else the share rises in small steps, so that the path is not left for a lower
    /// operating point while a higher one exists. Where the path ends the supply is let slide: below
    /// it, where the pixels are starved and draw less, there may be another operating point.
    fn raise_to_full(&mut self) -> Result<usize, Collapse> {
        if self.weakest_load().is_none() {
            return Ok(0);
        }
        self.keep_state();
        let (mut good, mut step, mut steps) = (0.0, 1.0, 0);
        let mut end = self.describe(good);
        for _ in 0..MAX_ATTEMPTS {
            let next = f64::min(1.0, good + step);
            if let Some(more) = self.try_share(next, step <= SMALL_STEP) {
                steps += more;
                if next >= 1.0 {
                    return Ok(steps);
                }
                good = next;
                end = self.describe(good);
                self.keep_state();
                step *= 2.0;
                continue;
            }
            self.restore_state();
            step *= 0.5;
            if step > SHARE_TOLERANCE * good.max(1e-6) {
                continue;
            }
            let beyond = f64::min(1.0, good * (1.0 + SLIDE_SHARE) + 1e-9);
            match self.slide(beyond) {
                Some(more) => steps += more,
                None => return Err(end),
            }
            if beyond >= 1.0 {
                return Ok(steps);
            }
            good = beyond;
            end = self.describe(good);
            self.keep_state();
            step = SMALL_STEP;
        }
        Err(end)
    }

    fn describe(&self, share: f64) -> Collapse {
        let load = self.weakest_load().unwrap_or(0);
        let supply_v = self.loads.get(load).map_or(0.0, |l| l.v);
        Collapse {
            load,
            largest_share: share,
            supply_v,
        }
    }

    /// Newton's method at a share from the present state; none if it does not end in an operating
    /// point that can be trusted.
    fn try_share(&mut self, share: f64, small: bool) -> Option<usize> {
        self.set_share(share);
        let steps = self.attempt(MAX_STEPS_POWER).ok()?;
        let trusted = self.all_on_work() && self.is_stable() && (small || self.is_highest());
        trusted.then_some(steps)
    }

    /// From above, with each load held at the current it draws at the last supply: the supply falls
    /// step by step until it stands, or a load gives up.
    fn slide(&mut self, share: f64) -> Option<usize> {
        self.set_share(share);
        let mut steps = 0;
        for _ in 0..MAX_SLIDE {
            let mut fall = 0.0_f64;
            for load in &mut self.loads {
                load.hold();
            }
            let solved = self.attempt(MAX_STEPS);
            for load in &mut self.loads {
                fall = fall.max(load.release());
            }
            steps += solved.ok()?;
            if !self.all_on_work() {
                return None;
            }
            if fall < 1e-6 {
                break;
            }
        }
        self.try_share(share, true).map(|more| steps + more)
    }

    /// True if there is certainly no operating point above the present one.
    ///
    /// Held at the currents they draw at supply V, the loads leave a supply T(V), which rises with
    /// V; operating points are V = T(V). The slope of T is at most Z·P/V², less where pixels give
    /// way, and less at a higher V. If it is below 1 in the sense of its largest eigenvalue, two
    /// such points cannot both lie at or above the present supply.
    fn is_highest(&mut self) -> bool {
        let p = self.reduced.ports;
        let n = self.loads.len();
        let weight = |l: &super::load::LoadWork| {
            if l.law.is_constant_power() {
                l.amount.max(0.0).sqrt() / l.v
            } else {
                0.0
            }
        };
        for (a, la) in self.loads.iter().enumerate() {
            for (b, lb) in self.loads.iter().enumerate() {
                let z = self.ports.z[(self.load_port + a) * p + self.load_port + b];
                let one = f64::from(u8::from(a == b));
                self.matrix[a * n + b] = one - weight(la) * z * weight(lb);
            }
        }
        dense::cholesky(&mut self.matrix[..n * n], n, false)
    }

    fn keep_state(&mut self) {
        for strip in &mut self.strips {
            strip.v_kept.copy_from_slice(&strip.v);
        }
        for load in &mut self.loads {
            load.v_kept = load.v;
        }
    }

    fn restore_state(&mut self) {
        for strip in &mut self.strips {
            strip.v.copy_from_slice(&strip.v_kept);
        }
        for load in &mut self.loads {
            load.v = load.v_kept;
        }
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use crate::electrical::{Drive, LoadLaw, Network, PixelType, Solver};

    /// 5 W from 3.7 V behind 0.1 Ω balance at (E ± √(E² − 4PR))/2: only the higher voltage is
    /// stable, since at the lower one a small loss of supply draws more than the cell gains.
    #[test]
    fn only_the_higher_operating_point_is_stable() {
        let mut b = Network::<PixelType>::builder();
        let (plus, minus) = (b.node("plus"), b.node("minus"));
        b.source("cell", plus, minus, 3.7, 0.1);
        b.load(
            "amplifier",
            plus,
            minus,
            LoadLaw::ConstantPower { min_v: 0.05 },
            5.0,
        );
        let mut solver = Solver::new(&b.build().unwrap()).unwrap();
        solver
            .solve(&Drive {
                strips: &[],
                loads: &[],
                sources: &[],
            })
            .unwrap();
        assert!(solver.is_stable() && solver.is_highest());
        solver.loads[0].v = 0.5 * (3.7 - (3.7f64 * 3.7 - 2.0).sqrt());
        solver.evaluate();
        assert!(!solver.is_stable() && !solver.is_highest());
    }
}
