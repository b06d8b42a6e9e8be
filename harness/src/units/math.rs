//! Functions that a machine does not compute by itself, the same to the last bit everywhere.
//!
//! The standard library takes these from the system, whose last digits differ from one to the next. What computes
//! results takes them from here, so that a report's engine in a browser gives the numbers that the command gives.

pub use libm::{cbrt, cos, cosh, exp, expm1, hypot, log, log10, pow, sinh, tanh};

/// A whole power, by squaring: always in the same order.
pub fn powi(base: f64, exponent: u32) -> f64 {
    let (mut power, mut result, mut left) = (base, 1.0, exponent);
    while left > 0 {
        if left & 1 == 1 {
            result *= power;
        }
        power *= power;
        left >>= 1;
    }
    result
}

#[cfg(test)]
mod tests {
    use super::powi;

    #[test]
    fn whole_powers_are_products() {
        assert_eq!(powi(3.0, 0), 1.0);
        assert_eq!(powi(0.1, 1), 0.1);
        assert_eq!(powi(-2.0, 5), -32.0);
        assert_eq!(powi(1.5, 4), 5.0625);
    }
}
