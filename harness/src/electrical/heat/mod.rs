//! Heat: how warm a wire, a contact, a closed tube and what is in it become in still air.
//!
//! Everything here is steady state and an estimate, good to a fifth or so of a temperature rise at best: the
//! correlations themselves scatter by 10 to 20 % about measurements (Incropera and DeWitt say so of both), still air
//! is never quite still, and a hand, a sleeve or the sun changes more than that. Each function states where its
//! formula holds.

pub mod air;
pub mod contact;
pub mod convection;
pub mod tube;
pub mod wire;

/// Stefan and Boltzmann's constant, W/(m²·K⁴) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Where a rising function passes zero between two bounds, by halving; the nearer bound where it does not.
///
/// Heat balances rise with temperature, so this always ends and never leaves the bounds.
pub(super) fn where_zero(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
