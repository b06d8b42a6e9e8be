//! What drives a frame, and the checks it must pass.

use super::error::SolveError;
use super::newton::Solver;
use super::pixel::PixelLaw;
use super::strip::StripWork;

/// What drives a frame.
#[derive(Debug, Clone, Copy)]
pub struct Drive<'a> {
    /// One entry a strip, in the order in which strips were added.
    pub strips: &'a [StripDrive<'a>],
    /// Amount of every load in ampere or watt; empty: as built.
    pub loads: &'a [f64],
    /// EMF and resistance of every cell; empty: as built.
    pub sources: &'a [SourceDrive],
}

/// What a strip shows.
#[derive(Debug, Clone, Copy)]
pub enum StripDrive<'a> {
    /// All channels off; dark current flows.
    Dark,
    /// Drive levels 0..255, pixel by pixel, channel by channel.
    Levels(&'a [u8]),
    /// The same, with every set current times `scale` (0 or more): for example the ratio of peak to
    /// average current. The dark current is not scaled.
    ScaledLevels {
        /// Drive levels.
        levels: &'a [u8],
        /// Factor on every set current.
        scale: f64,
    },
    /// Set current of every channel in ampere, pixel by pixel, channel by channel.
    Currents(&'a [f64]),
}

/// EMF and series resistance of a cell in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SourceDrive {
    /// EMF in volt.
    pub emf_v: f64,
    /// Series resistance in ohm.
    pub ohm: f64,
}

impl<L: PixelLaw + Clone> Solver<L> {
    /// Takes all inputs of a frame over into the workspace.
    pub(super) fn take(&mut self, drive: &Drive<'_>) -> Result<(), SolveError> {
        check_drive(self, drive)?;
        for (work, given) in self.strips.iter_mut().zip(drive.strips) {
            take_strip(work, given);
        }
        let amounts = if drive.loads.is_empty() {
            &self.built_loads[..]
        } else {
            drive.loads
        };
        for (work, amount) in self.loads.iter_mut().zip(amounts) {
            work.asked = *amount;
            work.amount = *amount;
        }
        if drive.sources.is_empty() {
            self.cells.copy_from_slice(&self.built_cells);
        } else {
            for (cell, given) in self.cells.iter_mut().zip(drive.sources) {
                *cell = (given.emf_v, given.ohm);
            }
        }
        if self.ports.set_cells(&self.reduced, &self.cells) {
            self.root_valid = false;
        }
        Ok(())
    }
}

/// Checks that a drive fits the network of a solver.
pub(super) fn check_drive<L: PixelLaw + Clone>(
    solver: &Solver<L>,
    drive: &Drive<'_>,
) -> Result<(), SolveError> {
    check_count("drives of strips", solver.strips.len(), drive.strips.len())?;
    for (work, given) in solver.strips.iter().zip(drive.strips) {
        check_strip(work.pixels * work.law.channels(), given)?;
    }
    if !drive.loads.is_empty() {
        check_count("load amounts", solver.loads.len(), drive.loads.len())?;
        for amount in drive.loads {
            check_finite("load amount", *amount)?;
        }
    }
    if !drive.sources.is_empty() {
        check_count("cells", solver.cells.len(), drive.sources.len())?;
        for given in drive.sources {
            check_finite("cell resistance", given.ohm)?;
            if !given.emf_v.is_finite() {
                return Err(bad_drive("EMF of a cell", "a finite voltage", given.emf_v));
            }
        }
    }
    Ok(())
}

fn check_strip(expected: usize, given: &StripDrive<'_>) -> Result<(), SolveError> {
    match *given {
        StripDrive::Dark => Ok(()),
        StripDrive::Levels(levels) => {
            check_count("drive levels of a strip", expected, levels.len())
        }
        StripDrive::ScaledLevels { levels, scale } => {
            check_count("drive levels of a strip", expected, levels.len())?;
            check_finite("scale of a strip", scale)
        }
        StripDrive::Currents(currents) => {
            check_count("set currents of a strip", expected, currents.len())?;
            currents
                .iter()
                .try_for_each(|a| check_finite("set current", *a))
        }
    }
}

fn take_strip<L: PixelLaw + Clone>(work: &mut StripWork<L>, given: &StripDrive<'_>) {
    match *given {
        StripDrive::Dark => {
            work.set_a.fill(0.0);
            let dark = work.law.dark_a();
            work.full_a.fill(dark);
        }
        StripDrive::Levels(levels) => work.set_levels(levels, 1.0),
        StripDrive::ScaledLevels { levels, scale } => work.set_levels(levels, scale),
        StripDrive::Currents(currents) => work.set_currents(currents),
    }
}

fn check_count(what: &'static str, expected: usize, found: usize) -> Result<(), SolveError> {
    if expected == found {
        return Ok(());
    }
    Err(SolveError::BadDrive {
        what,
        expected: expected.to_string(),
        found: found.to_string(),
    })
}

fn check_finite(what: &'static str, value: f64) -> Result<(), SolveError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(bad_drive(what, "0 or more, and finite", value))
    }
}

fn bad_drive(what: &'static str, expected: &str, found: f64) -> SolveError {
    SolveError::BadDrive {
        what,
        expected: expected.to_owned(),
        found: found.to_string(),
    }
}
