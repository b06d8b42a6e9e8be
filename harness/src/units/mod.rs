//! Quantities: text with a unit on the outside, SI values with a type on the inside.
//!
//! A build file says `"180 mm"`, `"35 mΩ"` or `"-10 °C"`. [`parse`] turns such a text once into a typed
//! [`uom`] quantity; from there on a length cannot be taken for a resistance. Numeric code takes the plain
//! SI number with [`Quantity::si`].

mod gauge;
mod kinds;
pub mod light;
pub mod math;
mod parse;

pub use gauge::{Gauge, GaugeError};
pub use kinds::*;
pub use parse::{parse, QuantityError};

/// A physical quantity that can be read from a text with a unit.
pub trait Quantity: Copy + std::fmt::Debug + PartialEq + 'static {
    /// What it is, for messages: "length".
    const WHAT: &'static str;
    /// A well-formed example, for messages: "180 mm".
    const EXAMPLE: &'static str;
    /// Accepted unit spellings and what one of each is in SI units.
    const UNITS: &'static [(&'static str, f64)];
    /// What is added after scaling to reach SI: 273.15 for degrees Celsius, 0 for all else.
    const OFFSET: f64 = 0.0;
    /// From a number in SI units.
    fn from_si(value: f64) -> Self;
    /// The number in SI units (kelvin for temperatures).
    fn si(self) -> f64;
}
