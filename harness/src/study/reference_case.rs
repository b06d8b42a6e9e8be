//! A circuit whose answer is known in closed form, to tell whether an installation computes as it should.

use crate::electrical::{
    Channel, Drive, Feed, Network, NetworkError, PixelType, Rail, Ramp, Solver, StripDrive,
    StripSpec,
};

/// Pixels of the strip.
const PIXELS: usize = 60;
/// Electromotive force of the cell, and its resistance.
const CELL_V: f64 = 4.0;
const CELL_OHM: f64 = 0.05;
/// Rail resistance from pixel to pixel, each rail.
const RAIL_OHM: f64 = 0.004;
/// Current of a pixel: an ideal sink.
const PIXEL_A: f64 = 0.01;

/// Solved and known supply at the last pixel of a strip, volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceCase {
    /// What the solver gives.
    pub solved_v: f64,
    /// What Ohm's law gives by hand.
    pub known_v: f64,
}

impl ReferenceCase {
    /// Whether both agree to a nanovolt.
    pub fn holds(&self) -> bool {
        (self.solved_v - self.known_v).abs() < 1e-9
    }
}

/// A strip of `n` ideal sinks of current `i` fed at its first pixel. Between pixel `k` and the next both
/// rails carry the current of the `n − 1 − k` pixels behind, so the supply of the last one is
/// `E − R·n·i − 2·r·i·n·(n − 1)/2` (Ohm's and Kirchhoff's laws).
///
/// # Errors
/// The solver refuses the circuit or finds no operating point: the installation is at fault.
pub fn reference_case() -> Result<ReferenceCase, String> {
    let solved_v = solved().map_err(|e| e.to_string())??;
    let n = PIXELS as f64;
    let known_v = CELL_V - CELL_OHM * n * PIXEL_A - RAIL_OHM * PIXEL_A * n * (n - 1.0);
    Ok(ReferenceCase { solved_v, known_v })
}

fn solved() -> Result<Result<f64, String>, NetworkError> {
    let ramp = Ramp {
        off_v: 0.0,
        full_v: 0.01,
    };
    let channel = Channel {
        full_a: PIXEL_A,
        ramp,
    };
    let mut builder = Network::builder();
    let (plus, minus) = (builder.node("plus"), builder.node("minus"));
    builder.source("cell", plus, minus, CELL_V, CELL_OHM);
    let feed = |rail, node| Feed {
        rail,
        pixel: 0,
        node,
        ohm: 0.0,
    };
    let strip = builder.strip(StripSpec {
        name: "strip".to_owned(),
        law: PixelType::new(&[channel], 0.0, ramp)?,
        pixels: PIXELS,
        rail_pos_ohm: RAIL_OHM,
        rail_neg_ohm: RAIL_OHM,
        feeds: vec![feed(Rail::Positive, plus), feed(Rail::Negative, minus)],
    });
    let mut solver = Solver::new(&builder.build()?)?;
    let solution = solver.solve(&Drive {
        strips: &[StripDrive::Levels(&[255; PIXELS])],
        loads: &[],
        sources: &[],
    });
    Ok(match solution {
        // The last pixel has the lowest supply.
        Ok(solution) => Ok(solution.strip(strip).min_supply_v),
        Err(error) => Err(error.to_string()),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_solver_agrees_with_the_closed_form() {
        let case = reference_case().unwrap();
        // By hand: 4 − 0.05·0.6 − 0.004·0.01·60·59 = 3.8284 V.
        assert!((case.known_v - 3.8284).abs() < 1e-12);
        assert!(case.holds(), "{case:?}");
        let off = ReferenceCase {
            solved_v: case.known_v + 2e-9,
            ..case
        };
        assert!(!off.holds());
    }
}
