//! Bounded robust least squares.
//!
//! Levenberg and Marquardt's method (crate `levenberg-marquardt`, after MINPACK) on parameters that a sine keeps
//! within their bounds; around it readings that lie far out lose weight after Huber (1964, tuning constant 1.345:
//! 95 % of the efficiency of least squares on normal noise), with the spread of each series taken from the
//! median of its absolute residuals. Constants are common practice.

use super::problem::{Predicted, Problem};
use crate::electrical::NetworkError;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned};

/// Huber's tuning constant, in standard deviations.
pub(super) const HUBER: f64 = 1.345;
/// Median absolute deviation of the normal distribution, as a share of its standard deviation, inverted.
const MAD_TO_SIGMA: f64 = 1.4826;
/// Rounds of weighting.
const MOST_ROUNDS: usize = 8;
/// The weights have settled when no parameter moves by more than this, in natural scale.
const SETTLED: f64 = 1e-5;
/// Least spread of a series, as a share of the size of its readings: a log without noise has rounding still.
const LEAST_SPREAD: f64 = 1e-5;

/// Parameters that move together: one entry is one degree of freedom.
pub(super) type Free = Vec<Vec<usize>>;

/// Where a fit ended.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Every parameter in natural scale, also those that were held.
    pub x: Vec<f64>,
    /// What it predicts.
    pub predicted: Predicted,
    /// Residuals in the unit of each reading.
    pub residuals: Vec<f64>,
    /// Spread that each residual was divided by.
    pub sigma: Vec<f64>,
    /// How the residuals change with each degree of freedom, divided by the spread.
    pub jacobian: DMatrix<f64>,
    /// Spread of each series.
    pub spread: Vec<f64>,
}

struct Solver<'a> {
    problem: &'a Problem<'a>,
    free: &'a Free,
    /// Values of what is held.
    held: Vec<f64>,
    /// Angles of the degrees of freedom.
    angles: DVector<f64>,
    /// Square root of weight over spread, for each residual.
    weight: &'a [f64],
    state: Option<(Vec<f64>, Predicted)>,
    error: Option<NetworkError>,
}

impl Solver<'_> {
    fn bounds(&self, dof: usize) -> (f64, f64) {
        let first = self.free.get(dof).and_then(|g| g.first());
        let p = first.and_then(|k| self.problem.parameters.get(*k));
        p.map_or((0.0, 1.0), |p| (p.low, p.high))
    }

    fn angle_of(&self, dof: usize, x: f64) -> f64 {
        let (low, high) = self.bounds(dof);
        // At a bound itself the sine has no slope: begin a little inside.
        (2.0 * (x - low) / (high - low) - 1.0)
            .clamp(-0.98, 0.98)
            .asin()
    }

    fn x(&self) -> Vec<f64> {
        let mut x = self.held.clone();
        for (dof, angle) in self.angles.iter().enumerate() {
            let (low, high) = self.bounds(dof);
            let value = low + (high - low) * (angle.sin() + 1.0) / 2.0;
            for k in self.free.get(dof).into_iter().flatten() {
                if let Some(slot) = x.get_mut(*k) {
                    *slot = value;
                }
            }
        }
        x
    }

    fn play(&mut self) {
        let x = self.x();
        match self.problem.predict(&x) {
            Ok(p) => self.state = Some((x, p)),
            Err(e) => {
                self.state = None;
                self.error = Some(e);
            }
        }
    }

    /// How residuals change with each degree of freedom, in natural scale.
    fn by_dof(&self) -> Option<DMatrix<f64>> {
        let (x, predicted) = self.state.as_ref()?;
        let all = self.problem.jacobian(predicted, x).ok()?;
        Some(gather(&all, self.free))
    }
}

/// Adds the columns of parameters that move together.
fn gather(all: &DMatrix<f64>, free: &Free) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(all.nrows(), free.len());
    for (dof, group) in free.iter().enumerate() {
        for k in group {
            let mut column = out.column_mut(dof);
            column += all.column(*k);
        }
    }
    out
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Solver<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, angles: &DVector<f64>) {
        self.angles = angles.clone();
        self.play();
    }

    fn params(&self) -> DVector<f64> {
        self.angles.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let (x, predicted) = self.state.as_ref()?;
        let r = self.problem.residuals(predicted, x);
        let weighted = r.iter().zip(self.weight).map(|(r, w)| r * w);
        Some(DVector::from_iterator(r.len(), weighted))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let mut j = self.by_dof()?;
        for (mut row, w) in j.row_iter_mut().zip(self.weight) {
            row *= *w;
        }
        for (dof, angle) in self.angles.iter().enumerate() {
            let (low, high) = self.bounds(dof);
            let mut column = j.column_mut(dof);
            column *= (high - low) / 2.0 * angle.cos();
        }
        Some(j)
    }
}

/// Fits the free parameters; the others stay at their start.
///
/// # Errors
/// A netlist that cannot be solved.
pub(super) fn fit(problem: &Problem<'_>, free: &Free) -> Result<Fit, NetworkError> {
    let mut x = problem.start();
    let mut spread = first_spread(problem);
    let mut weight = flat(problem, &spread);
    let mut last: Option<Vec<f64>> = None;
    for _ in 0..MOST_ROUNDS {
        x = least_squares(problem, free, x, &weight)?;
        let predicted = problem.predict(&x)?;
        let residuals = problem.residuals(&predicted, &x);
        spread = spreads(problem, &residuals);
        weight = huber(&residuals, &flat(problem, &spread));
        let moved = last.as_ref().map_or(f64::INFINITY, |l| {
            l.iter()
                .zip(&x)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max)
        });
        if moved < SETTLED {
            break;
        }
        last = Some(x.clone());
    }
    let predicted = problem.predict(&x)?;
    let residuals = problem.residuals(&predicted, &x);
    let inverse = flat(problem, &spread);
    let mut jacobian = gather(&problem.jacobian(&predicted, &x)?, free);
    for (mut row, w) in jacobian.row_iter_mut().zip(&inverse) {
        row *= *w;
    }
    Ok(Fit {
        x,
        predicted,
        residuals,
        sigma: inverse.iter().map(|w| 1.0 / w).collect(),
        jacobian,
        spread,
    })
}

fn least_squares(
    problem: &Problem<'_>,
    free: &Free,
    x: Vec<f64>,
    weight: &[f64],
) -> Result<Vec<f64>, NetworkError> {
    let mut solver = Solver {
        problem,
        free,
        angles: DVector::zeros(free.len()),
        held: x,
        weight,
        state: None,
        error: None,
    };
    let start = free.iter().enumerate().map(|(dof, group)| {
        let first = group.first().and_then(|k| solver.held.get(*k));
        solver.angle_of(dof, first.copied().unwrap_or(0.0))
    });
    solver.angles = DVector::from_iterator(free.len(), start.collect::<Vec<f64>>());
    solver.play();
    let method = LevenbergMarquardt::new().with_patience(6).with_tol(1e-9);
    let (mut solver, _) = method.minimize(solver);
    if solver.state.is_none() {
        if let Some(error) = solver.error.take() {
            return Err(error);
        }
    }
    Ok(solver.x())
}

/// The range of residuals that each series has.
fn ranges(problem: &Problem<'_>) -> Vec<std::ops::Range<usize>> {
    let mut start = 0;
    let each = problem.observed.iter().map(|o| {
        let range = start..start + o.series.pieces.len();
        start = range.end;
        range
    });
    each.collect()
}

/// A twentieth of the spread of the readings: a first guess of what the model leaves over.
fn first_spread(problem: &Problem<'_>) -> Vec<f64> {
    let each = problem.observed.iter().map(|o| {
        let n = o.series.pieces.len().max(1) as f64;
        let mean = o.series.pieces.iter().map(|p| p.value).sum::<f64>() / n;
        let square = o.series.pieces.iter().map(|p| (p.value - mean).powi(2));
        ((square.sum::<f64>() / n).sqrt() / 20.0).max(least(problem, o))
    });
    each.collect()
}

fn least(_: &Problem<'_>, o: &super::problem::Observed) -> f64 {
    let largest = o.series.pieces.iter().map(|p| p.value.abs());
    (largest.fold(0.0, f64::max) * LEAST_SPREAD).max(1e-9)
}

/// The spread of each series from the median of its absolute residuals.
fn spreads(problem: &Problem<'_>, residuals: &[f64]) -> Vec<f64> {
    let each = problem
        .observed
        .iter()
        .zip(ranges(problem))
        .map(|(o, range)| {
            let own = residuals.get(range).unwrap_or_default();
            let mut sizes: Vec<f64> = own.iter().map(|r| r.abs()).collect();
            let middle = sizes.len() / 2;
            if sizes.is_empty() {
                return 1.0;
            }
            let median = *sizes.select_nth_unstable_by(middle, f64::total_cmp).1;
            (median * MAD_TO_SIGMA).max(least(problem, o))
        });
    each.collect()
}

/// One over the spread, for each residual.
fn flat(problem: &Problem<'_>, spread: &[f64]) -> Vec<f64> {
    let each = problem.observed.iter().zip(spread);
    each.flat_map(|(o, s)| std::iter::repeat_n(1.0 / s, o.series.pieces.len()))
        .collect()
}

/// The square root of Huber's weight, over the spread.
fn huber(residuals: &[f64], inverse: &[f64]) -> Vec<f64> {
    let both = residuals.iter().zip(inverse);
    both.map(|(r, w)| {
        let size = (r * w).abs();
        if size <= HUBER {
            *w
        } else {
            w * (HUBER / size).sqrt()
        }
    })
    .collect()
}
