//! Readings against a prediction with free parameters: residuals and how they change.

use super::frames::Frames;
use super::parameter::{apply, Parameter, What};
use super::series::{Piece, Series, Summed};
use super::simulate::{simulate, Readings, Tap};
use crate::build::prop::Prop;
use crate::electrical::NetworkError;
use crate::profile::condition::Condition;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Step of a parameter, in natural scale, by which its effect is found.
const STEP: f64 = 1e-4;
/// Pieces this many widths from the ends of the play are not compared: the lag may still move.
const MARGIN: f64 = 2.5;

/// What a series measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Current out of the source.
    Current,
    /// Voltage at the cell.
    CellVoltage,
    /// Voltage at one of the taps.
    TapVoltage(usize),
}

/// A series with what it is compared to.
#[derive(Debug, Clone)]
pub struct Observed {
    /// Which log it is from.
    pub log: usize,
    /// Which play it shows.
    pub play: usize,
    /// What it measures.
    pub quantity: Quantity,
    /// The readings.
    pub series: Series,
}

impl Observed {
    /// Leaves out what lies beyond the play, when the play began at `lag_s`.
    pub fn within(&mut self, lag_s: f64, length_s: f64) {
        let margin = (MARGIN + 0.5) * self.series.width_s;
        let range = lag_s + margin..lag_s + length_s - margin;
        self.series.pieces.retain(|p| range.contains(&p.time_s));
    }
}

/// Everything that does not change while parameters do.
#[derive(Debug)]
pub struct Problem<'a> {
    /// The prop as stated.
    pub prop: &'a Prop,
    /// State of charge and temperature on the bench.
    pub condition: Condition,
    /// Whether the speaker was plugged in.
    pub speaker: bool,
    /// The plays.
    pub plays: &'a [Frames],
    /// Voltages measured elsewhere than at the cell.
    pub taps: Vec<Tap>,
    /// The readings.
    pub observed: Vec<Observed>,
    /// The parameters.
    pub parameters: Vec<Parameter>,
}

/// Readings of every play, ready to be averaged.
#[derive(Debug, Clone)]
pub struct Predicted {
    plays: Vec<(Summed, Summed, Vec<Summed>)>,
}

impl Predicted {
    /// The prediction of a quantity of a play.
    pub fn of(&self, play: usize, quantity: Quantity) -> Option<&Summed> {
        let (current, cell, taps) = self.plays.get(play)?;
        match quantity {
            Quantity::Current => Some(current),
            Quantity::CellVoltage => Some(cell),
            Quantity::TapVoltage(k) => taps.get(k),
        }
    }
}

impl Problem<'_> {
    /// Where the parameters start.
    pub fn start(&self) -> Vec<f64> {
        self.parameters.iter().map(|p| p.start).collect()
    }

    /// Plays everything with given parameters.
    ///
    /// # Errors
    /// A netlist that cannot be solved.
    pub fn predict(&self, x: &[f64]) -> Result<Predicted, NetworkError> {
        let prop = apply(self.prop, &self.parameters, x);
        let plays = self.plays.par_iter().map(|frames| {
            let Readings {
                current_a,
                cell_v,
                tap_v,
            } = simulate(&prop, self.condition, frames, &self.taps, self.speaker)?;
            let sum = |v: &Vec<f64>| Summed::of(v, frames.period_s);
            Ok((
                sum(&current_a),
                sum(&cell_v),
                tap_v.iter().map(sum).collect(),
            ))
        });
        Ok(Predicted {
            plays: plays.collect::<Result<_, NetworkError>>()?,
        })
    }

    /// When the play began on the clock of a log, seconds.
    pub fn lag_s(&self, log: usize, x: &[f64]) -> f64 {
        self.extra(&What::Lag(log), x)
    }

    fn extra(&self, what: &What, x: &[f64]) -> f64 {
        let mut both = self.parameters.iter().zip(x);
        both.find(|(p, _)| p.what == *what)
            .map_or(0.0, |(p, x)| p.value(*x))
    }

    /// What a series should read, piece by piece.
    pub fn read(&self, observed: &Observed, predicted: &Predicted, x: &[f64]) -> Vec<f64> {
        let Some(summed) = predicted.of(observed.play, observed.quantity) else {
            return Vec::new();
        };
        let lag_s = self.lag_s(observed.log, x);
        let zero_a = match observed.quantity {
            Quantity::Current => self.extra(&What::MeterZero(observed.log), x),
            _ => 0.0,
        };
        let pieces = observed.series.pieces.iter();
        pieces
            .map(|p| summed.mean(p.time_s - lag_s, p.width_s) + zero_a)
            .collect()
    }

    /// Readings less predictions of every series, one after the other.
    pub fn residuals(&self, predicted: &Predicted, x: &[f64]) -> Vec<f64> {
        let each = self.observed.iter().flat_map(|o| {
            let read = self.read(o, predicted, x);
            let pieces = o.series.pieces.iter();
            pieces
                .zip(read)
                .map(|(p, r)| p.value - r)
                .collect::<Vec<f64>>()
        });
        each.collect()
    }

    /// How the residuals change with every parameter, in natural scale.
    ///
    /// # Errors
    /// A netlist that cannot be solved.
    pub fn jacobian(&self, predicted: &Predicted, x: &[f64]) -> Result<DMatrix<f64>, NetworkError> {
        let base = self.residuals(predicted, x);
        let columns = (0..self.parameters.len()).into_par_iter().map(|k| {
            let Some(parameter) = self.parameters.get(k) else {
                return Ok(Vec::new());
            };
            match parameter.what {
                What::Lag(log) => Ok(self.by_lag(log, parameter.scale, predicted, x)),
                What::MeterZero(log) => Ok(self.by_zero(log, parameter.scale)),
                _ => {
                    let mut moved = x.to_vec();
                    // Inwards where a step outwards would leave the bounds.
                    let at = x.get(k).copied().unwrap_or(0.0);
                    let step = if at + STEP > parameter.high {
                        -STEP
                    } else {
                        STEP
                    };
                    if let Some(slot) = moved.get_mut(k) {
                        *slot += step;
                    }
                    let there = self.residuals(&self.predict(&moved)?, &moved);
                    Ok(base
                        .iter()
                        .zip(there)
                        .map(|(b, t)| (t - b) / step)
                        .collect())
                }
            }
        });
        let columns: Vec<Vec<f64>> = columns.collect::<Result<_, NetworkError>>()?;
        Ok(DMatrix::from_fn(base.len(), columns.len(), |i, k| {
            columns
                .get(k)
                .and_then(|c| c.get(i))
                .copied()
                .unwrap_or(0.0)
        }))
    }

    fn by_lag(&self, log: usize, scale: f64, predicted: &Predicted, x: &[f64]) -> Vec<f64> {
        let lag_s = self.lag_s(log, x);
        let each = self.observed.iter().flat_map(|o| {
            let summed = predicted.of(o.play, o.quantity).filter(|_| o.log == log);
            let slope = move |p: &Piece| {
                summed.map_or(0.0, |s| s.slope(p.time_s - lag_s, p.width_s) * scale)
            };
            // A later start shows an earlier part of the play: the prediction falls as it rises.
            o.series.pieces.iter().map(slope)
        });
        each.collect()
    }

    fn by_zero(&self, log: usize, scale: f64) -> Vec<f64> {
        let each = self.observed.iter().flat_map(|o| {
            let own = o.log == log && o.quantity == Quantity::Current;
            o.series
                .pieces
                .iter()
                .map(move |_| if own { -scale } else { 0.0 })
        });
        each.collect()
    }
}
