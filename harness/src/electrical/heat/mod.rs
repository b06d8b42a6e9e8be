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

/// Where a rising function passes zero between two bounds; the nearer bound where it does not.
///
/// Heat balances rise with temperature, so this always ends and never leaves the bounds. False position after Anderson
/// and Björck (BIT 13 (1973) 253): the end that stays is weighed less the longer it stays. Every third step halves,
/// which bounds their number whatever the function. The bounds themselves are not looked at: at the temperature of the
/// surroundings nothing is shed and nothing spreads, which is no balance.
pub(super) fn where_zero(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    let (mut at_low, mut at_high) = (f64::NEG_INFINITY, f64::INFINITY);
    for step in 1..=MOST_STEPS {
        if high - low <= NARROW * high.abs() {
            break;
        }
        let middle = f64::midpoint(low, high);
        let chord = high - at_high * (high - low) / (at_high - at_low);
        let halve = step.is_multiple_of(3) || !(chord > low && chord < high);
        let next = if halve { middle } else { chord };
        let found = rising(next);
        let weight = |same: f64| match 1.0 - found / same {
            m if m > 0.0 => m,
            _ => 0.5,
        };
        if found < 0.0 {
            at_high *= if halve { 1.0 } else { weight(at_low) };
            (low, at_low) = (next, found);
        } else {
            at_low *= if halve { 1.0 } else { weight(at_high) };
            (high, at_high) = (next, found);
        }
    }
    f64::midpoint(low, high)
}

const MOST_STEPS: usize = 90;
/// Width at which two bounds are one.
const NARROW: f64 = 1e-13;

#[cfg(test)]
mod tests {
    use super::where_zero;
    use std::cell::Cell;

    /// The zero found, and how often the function was looked at.
    fn found(low: f64, high: f64, rising: impl Fn(f64) -> f64) -> (f64, u32) {
        let looks = Cell::new(0);
        let at = where_zero(low, high, |x| {
            looks.set(looks.get() + 1);
            rising(x)
        });
        (at, looks.get())
    }

    #[test]
    fn zeros_are_found_to_twelve_digits_in_few_looks() {
        type Rising = fn(f64) -> f64;
        let cases: [(f64, Rising); 4] = [
            (10.0, |x| x.powf(1.25) - 10.0f64.powf(1.25)),
            (0.5, |x| x * x * x - 0.125),
            (300.0, |x| (x / 300.0).powi(4) - 1.0),
            (2.0, |x| if x < 2.0 { -1e-9 } else { f64::INFINITY }),
        ];
        for (zero, rising) in cases {
            let (at, looks) = found(0.0, 600.0, rising);
            assert!((at / zero - 1.0).abs() < 1e-12, "{zero}: {at}");
            assert!(looks <= 130, "{zero}: {looks}");
        }
        let (_, looks) = found(0.0, 600.0, |x| x.powf(1.25) - 17.78);
        assert!(looks <= 25, "{looks}");
    }

    #[test]
    fn without_a_zero_it_is_the_nearer_bound() {
        let near = |at: f64, bound: f64| (at - bound).abs() < 1e-12;
        assert!(near(where_zero(1.0, 2.0, |x| x), 1.0));
        assert!(near(where_zero(1.0, 2.0, |x| x - 5.0), 2.0));
        assert!(near(where_zero(1.0, 2.0, |_| f64::NAN), 1.0));
    }

    #[test]
    fn a_bound_at_which_nothing_happens_is_no_zero() {
        let at = where_zero(0.0, 600.0, |x| if x > 0.0 { x - 5.0 } else { 0.0 });
        assert!((at - 5.0).abs() < 1e-11, "{at}");
    }
}
