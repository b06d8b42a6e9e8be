//! How sure a fit is: covariance, intervals, and which parameters the data cannot tell apart.
//!
//! Covariance after Huber, *Robust Statistics* (1981), chapter 7: the mean square of the clipped residuals over
//! the square of the share that is not clipped, times the inverse of JᵀJ (formula from memory). Residuals that
//! follow one another alike carry less than their number says: the variance grows by (1 + ρ)/(1 − ρ) with ρ
//! their correlation from one to the next, and the degrees of freedom shrink by as much (common practice).

use super::fit::{Fit, HUBER};
use nalgebra::DMatrix;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// How sure a fit is.
#[derive(Debug, Clone)]
pub struct Certainty {
    /// Standard error of each degree of freedom, in natural scale.
    pub error: Vec<f64>,
    /// What a standard error is multiplied with for the half-width of the 95 % interval.
    pub t_95: f64,
    /// Readings, and how many independent ones they are worth.
    pub readings: (usize, f64),
    /// Correlation of a residual with the next.
    pub correlation: f64,
    /// Readings further out than three spreads.
    pub outliers: usize,
    /// Directions in the degrees of freedom with their standard errors, the least certain first.
    pub directions: Vec<(f64, Vec<f64>)>,
}

/// Judges a fit; `lengths` are the numbers of readings of each series.
pub(super) fn certainty(fit: &Fit, lengths: &[usize]) -> Certainty {
    let z: Vec<f64> = fit
        .residuals
        .iter()
        .zip(&fit.sigma)
        .map(|(r, s)| r / s)
        .collect();
    let n = z.len() as f64;
    let k = fit.jacobian.ncols() as f64;
    let clipped: Vec<f64> = z.iter().map(|z| z.clamp(-HUBER, HUBER)).collect();
    let free = z.iter().filter(|z| z.abs() <= HUBER).count() as f64 / n.max(1.0);
    let square: f64 = clipped.iter().map(|c| c * c).sum::<f64>() / (n - k).max(1.0);
    // Huber's correction for the number of parameters.
    let grown = 1.0 + k / n.max(1.0) * (1.0 - free) / free.max(0.1);
    let variance = grown * grown * square / free.max(0.1).powi(2);
    let correlation = next_correlation(&clipped, lengths);
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    let worth = n / inflation;
    let s = (variance * inflation).sqrt();
    let directions = directions(&fit.jacobian, s);
    let error = (0..fit.jacobian.ncols())
        .map(|dof| {
            let parts = directions
                .iter()
                .map(|(e, v)| (e * v.get(dof).copied().unwrap_or(0.0)).powi(2));
            parts.sum::<f64>().sqrt()
        })
        .collect();
    Certainty {
        error,
        t_95: t_quantile((worth - k).max(1.0)),
        readings: (z.len(), worth),
        correlation,
        outliers: z.iter().filter(|z| z.abs() > 3.0).count(),
        directions,
    }
}

/// The quantile of Student's t that leaves 2.5 % above it.
fn t_quantile(freedom: f64) -> f64 {
    // The normal quantile, and the first term of its expansion in 1/freedom: beyond some thousands the
    // inversion below loses digits that this does not.
    const NORMAL: f64 = 1.959_964;
    if freedom > 5000.0 {
        return NORMAL + NORMAL * (NORMAL * NORMAL + 1.0) / (4.0 * freedom);
    }
    StudentsT::new(0.0, 1.0, freedom).map_or(NORMAL, |t| t.inverse_cdf(0.975))
}

/// Correlation of each residual with the next of its series; 0 where it is within what chance gives, and
/// never so near to 1 that nothing would be left.
fn next_correlation(values: &[f64], lengths: &[usize]) -> f64 {
    let (mut product, mut square) = (0.0, 0.0);
    let mut rest = values;
    for length in lengths {
        let (own, after) = rest.split_at((*length).min(rest.len()));
        rest = after;
        product += own
            .iter()
            .zip(own.iter().skip(1))
            .map(|(a, b)| a * b)
            .sum::<f64>();
        square += own.iter().map(|a| a * a).sum::<f64>();
    }
    let rho = product / square.max(f64::MIN_POSITIVE);
    let chance = 2.0 / (values.len().max(1) as f64).sqrt();
    if rho > chance {
        rho.min(0.98)
    } else {
        0.0
    }
}

/// Singular directions of a scaled Jacobian with the standard error along each, the largest first. A direction
/// that changes nothing has an infinite one, which is written as a very large number.
fn directions(jacobian: &DMatrix<f64>, s: f64) -> Vec<(f64, Vec<f64>)> {
    if jacobian.ncols() == 0 {
        return Vec::new();
    }
    // The triangle of the QR decomposition has the same singular values and is no larger than it must be.
    let svd = jacobian.clone().qr().r().svd(false, true);
    let Some(vectors) = svd.v_t else {
        return Vec::new();
    };
    let largest = svd.singular_values.iter().copied().fold(0.0, f64::max);
    let floor = largest * 1e-12 + f64::MIN_POSITIVE;
    let both = svd.singular_values.iter().zip(vectors.row_iter());
    let mut out: Vec<(f64, Vec<f64>)> = both
        .map(|(value, v)| (s / value.max(floor), v.iter().copied().collect()))
        .collect();
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_student() {
        // Any table of Student's t: 2.571 at 5 degrees of freedom, 2.042 at 30, 1.960 at infinity.
        for (freedom, want) in [(5.0, 2.571), (30.0, 2.042), (1e7, 1.960)] {
            assert!((t_quantile(freedom) - want).abs() < 6e-4, "{freedom}");
        }
    }

    #[test]
    fn alike_neighbours_count_less() {
        let alternating: Vec<f64> = (0..100)
            .map(|k| if k % 2 == 0 { 1.0 } else { -1.0 })
            .collect();
        assert_eq!(next_correlation(&alternating, &[100]), 0.0);
        let slow: Vec<f64> = (0..100).map(|k| (f64::from(k) * 0.1).sin()).collect();
        assert!(next_correlation(&slow, &[100]) > 0.9);
    }

    #[test]
    fn what_changes_nothing_is_the_least_certain_direction() {
        // Two columns that are equal: their difference is not determined, their sum is.
        let j = DMatrix::from_fn(50, 2, |i, _| 1.0 + i as f64);
        let d = directions(&j, 1.0);
        assert!(d[0].0 > 1e3 && d[1].0 < 0.01, "{d:?}");
        assert!((d[0].1[0] + d[0].1[1]).abs() < 1e-6);
    }
}
