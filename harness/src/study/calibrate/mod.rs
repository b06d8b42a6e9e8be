//! Calibration: the prop's own figures from what a meter read while it played.
//!
//! What is not modelled, and so ends up in the parameters or in the residuals: the drift of the meter's clock
//! against the board's, the warming of strip and cell during the log, and whatever else the board does.

mod agreement;
mod align;
mod fit;
mod frames;
mod judge;
mod overrides;
mod parameter;
mod preset;
mod problem;
mod series;
mod simulate;
mod statistics;

pub use agreement::{agreements, Agreement, Group, Meeting, Pair};
pub use align::Alignment;
pub use fit::Fit;
pub use frames::Frames;
pub use judge::{judge, Confusion, Estimate, Judged, Standing};
pub use overrides::{not_taken, overrides};
pub use parameter::{
    contacts_ohm, on_supply, parameters, pixel_types, source_ohm, Parameter, Wanted, What,
};
pub use preset::{calibration_cues, calibration_preset, step_count, STEP_S};
pub use problem::{Observed, Predicted, Problem, Quantity};
pub use series::{Piece, Series};
pub use simulate::{can_tap, Tap};
pub use statistics::Certainty;

use crate::build::diag::{InputError, InputErrors};
use crate::build::measured::Measured;
use crate::build::prop::Prop;
use crate::profile::condition::Condition;
use crate::study::watch::StudyError;
use align::align;

/// A correlation below this is no match: the log shows something else.
const LEAST_CORRELATION: f64 = 0.5;
/// Fewest readings that are compared.
const FEWEST_READINGS: usize = 20;

/// A log with what it shows.
#[derive(Debug, Clone)]
pub struct Log {
    /// The readings.
    pub measured: Measured,
    /// Index of the play it shows.
    pub play: usize,
    /// Where its voltage was measured; at the cell where `None`.
    pub tap: Option<Tap>,
}

/// The circumstances of the bench.
#[derive(Debug, Clone, Copy)]
pub struct Circumstances {
    /// State of charge and temperature.
    pub condition: Condition,
    /// Whether the speaker was plugged in.
    pub speaker: bool,
    /// What to fit; by what the logs hold where `None`.
    pub wanted: Option<Wanted>,
}

/// A calibration.
#[derive(Debug)]
pub struct Calibration {
    /// When each play began on the clock of each log, as correlation has it.
    pub alignments: Vec<Alignment>,
    /// The fit and how sure it is.
    pub judged: Judged,
    /// Predicted against measured, one entry a measured quantity.
    pub agreements: Vec<Agreement>,
}

/// Calibrates a prop with logs of plays.
///
/// # Errors
/// Logs that do not show the plays, or a netlist that cannot be solved.
pub fn calibrate(
    prop: &Prop,
    plays: &[Frames],
    logs: &[Log],
    circumstances: Circumstances,
) -> Result<Calibration, StudyError> {
    let mut taps: Vec<Tap> = Vec::new();
    let mut observed = Vec::new();
    for (index, log) in logs.iter().enumerate() {
        observed.extend(observe(index, log, plays, &mut taps));
    }
    let ammeters: Vec<usize> = (0..logs.len())
        .filter(|k| {
            logs.get(*k)
                .is_some_and(|l| !l.measured.current_a.is_empty())
        })
        .collect();
    let voltage = observed
        .iter()
        .any(|o: &Observed| o.quantity != Quantity::Current);
    let wanted = circumstances
        .wanted
        .unwrap_or_else(|| Wanted::usual(voltage));
    let mut problem = Problem {
        prop,
        condition: circumstances.condition,
        speaker: circumstances.speaker,
        plays,
        taps,
        observed,
        parameters: parameters(prop, &circumstances.condition, wanted, &ammeters),
    };
    let start = problem.start();
    let stated = problem.predict(&start)?;
    let mut alignments = Vec::new();
    for (index, log) in logs.iter().enumerate() {
        let (alignment, width_s) = align_log(&problem, &stated, index, log)?;
        problem
            .parameters
            .push(parameter::lag(index, alignment.lag_s, width_s));
        let length_s = plays.get(log.play).map_or(0.0, Frames::length_s);
        for o in problem.observed.iter_mut().filter(|o| o.log == index) {
            o.within(alignment.lag_s, length_s);
        }
        alignments.push(alignment);
    }
    let readings: usize = problem.observed.iter().map(|o| o.series.pieces.len()).sum();
    if readings < FEWEST_READINGS {
        let error = InputError::whole(format!(
            "only {readings} readings lie within the play, {FEWEST_READINGS} and more are needed"
        ));
        return Err(InputErrors::from(error.help("log for longer, or more often")).into());
    }
    let judged = judge(&problem)?;
    let agreements = agreements(&problem, &stated, &judged.fit.predicted, &judged.fit.x);
    Ok(Calibration {
        alignments,
        judged,
        agreements,
    })
}

/// The series of a log.
fn observe(index: usize, log: &Log, plays: &[Frames], taps: &mut Vec<Tap>) -> Vec<Observed> {
    let period_s = plays.get(log.play).map_or(1.0, |f| f.period_s);
    let mut out = Vec::new();
    let mut push = |values: &[f64], quantity| {
        if !values.is_empty() {
            out.push(Observed {
                log: index,
                play: log.play,
                quantity,
                series: Series::of(&log.measured, values, period_s),
            });
        }
    };
    push(&log.measured.current_a, Quantity::Current);
    let quantity = match log.tap {
        None => Quantity::CellVoltage,
        Some(tap) => {
            let known = taps.iter().position(|t| *t == tap);
            Quantity::TapVoltage(known.unwrap_or_else(|| {
                taps.push(tap);
                taps.len() - 1
            }))
        }
    };
    push(&log.measured.voltage_v, quantity);
    out
}

/// Aligns the current of a log, or its voltage where it has no current.
fn align_log(
    problem: &Problem<'_>,
    stated: &Predicted,
    index: usize,
    log: &Log,
) -> Result<(Alignment, f64), InputErrors> {
    let name = &log.measured.name;
    let first = problem.observed.iter().find(|o| o.log == index);
    let found = first.and_then(|o| {
        let summed = stated.of(o.play, o.quantity)?;
        Some((align(&o.series, summed)?, o.series.width_s))
    });
    let play = problem.plays.get(log.play).map_or("", |p| p.name.as_str());
    let Some((alignment, width_s)) = found else {
        let error = InputError::whole(format!(
            "{name}: cannot be aligned with {play}: one of the two does not change, or they are too short"
        ));
        return Err(error
            .help("log a play that goes from dark to bright and back, from before it begins")
            .into());
    };
    if alignment.correlation < LEAST_CORRELATION {
        let error = InputError::whole(format!(
            "{name}: does not show {play}: the best correlation is {:.2} at a lag of {:.3} s",
            alignment.correlation, alignment.lag_s
        ));
        return Err(error
            .help("name what was played: --preset NAME, with the cues that were given, --cues FILE")
            .into());
    }
    Ok((alignment, width_s))
}
