//! The fit that the data can carry: what it cannot tell apart is told, and held or tied.

use super::fit::{fit, Fit, Free};
use super::parameter::{Parameter, What};
use super::problem::Problem;
use super::statistics::{certainty, Certainty};
use crate::build::parts::CHANNEL_NAMES;
use crate::electrical::NetworkError;
use serde::Serialize;

/// A direction with a standard error above this, in natural scale, is not determined: a 95 % interval of
/// two fifths of the stated value either way says less than most data sheets.
const UNDETERMINED: f64 = 0.2;
/// A parameter takes part in a direction with at least this share.
const TAKES_PART: f64 = 0.3;

/// How a parameter came to its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Fitted on its own.
    Fitted,
    /// Fitted by a factor that it shares with others.
    Shared,
    /// Left at its start: the data does not determine it.
    Held,
    /// Stopped at the end of what is allowed.
    AtBound,
}

/// A parameter with its value and how sure it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    /// The parameter.
    pub parameter: Parameter,
    /// Where it started, SI units.
    pub stated: f64,
    /// Its value, SI units.
    pub value: f64,
    /// Half-width of its 95 % interval, SI units; `None` where it was held or stopped at a bound.
    pub half_width: Option<f64>,
    /// How it came to its value.
    pub standing: Standing,
}

/// Parameters that the data cannot tell apart, or says nothing about.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Confusion {
    /// Their names.
    pub parameters: Vec<String>,
    /// What was done about it, in words.
    pub done: String,
    /// What would tell.
    pub advice: String,
}

/// A fit with its judgement.
#[derive(Debug)]
pub struct Judged {
    /// Where it ended.
    pub fit: Fit,
    /// Every parameter.
    pub estimates: Vec<Estimate>,
    /// What the data does not determine.
    pub confusions: Vec<Confusion>,
    /// How sure the whole is.
    pub certainty: Certainty,
}

/// Fits, finds what is not determined, ties or holds it, and fits again until the rest is.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn judge(problem: &Problem<'_>) -> Result<Judged, NetworkError> {
    let lengths: Vec<usize> = problem
        .observed
        .iter()
        .map(|o| o.series.pieces.len())
        .collect();
    let mut free: Free = (0..problem.parameters.len()).map(|k| vec![k]).collect();
    let mut confusions = Vec::new();
    loop {
        let fitted = fit(problem, &free)?;
        let sure = certainty(&fitted, &lengths);
        let vague = sure
            .directions
            .first()
            .filter(|(error, _)| *error > UNDETERMINED);
        let confusion = vague.and_then(|(_, v)| resolve(problem, &mut free, v));
        match confusion {
            Some(c) => {
                // What ties more than an earlier tie says it all.
                confusions.retain(|old: &Confusion| {
                    old.done != c.done || !old.parameters.iter().all(|p| c.parameters.contains(p))
                });
                confusions.push(c);
            }
            None => {
                let estimates = estimates(problem, &fitted, &free, &sure);
                return Ok(Judged {
                    fit: fitted,
                    estimates,
                    confusions,
                    certainty: sure,
                });
            }
        }
    }
}

/// Takes one degree of freedom away; `None` where nothing but lags takes part.
fn resolve(problem: &Problem<'_>, free: &mut Free, direction: &[f64]) -> Option<Confusion> {
    let parameter = |group: &Vec<usize>| problem.parameters.get(*group.first()?);
    let largest = direction.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    let taking_part: Vec<usize> = (0..free.len())
        .filter(|dof| {
            direction
                .get(*dof)
                .is_some_and(|v| v.abs() >= TAKES_PART * largest)
        })
        .filter(|dof| {
            free.get(*dof)
                .and_then(parameter)
                .is_some_and(|p| !p.is_lag())
        })
        .collect();
    let of = |dof: &usize| free.get(*dof).and_then(parameter);
    let members = taking_part
        .iter()
        .filter_map(|dof| free.get(*dof))
        .flatten();
    let involved: Vec<&Parameter> = members.filter_map(|k| problem.parameters.get(*k)).collect();
    let names: Vec<String> = involved.iter().map(|p| p.name.clone()).collect();
    let advice = advice(&involved);
    let channels = involved
        .iter()
        .all(|p| matches!(p.what, What::Channel { .. }));
    if channels && taking_part.len() > 1 {
        let mut tied: Vec<usize> = Vec::new();
        for dof in taking_part.iter().rev() {
            tied.extend(free.remove(*dof));
        }
        tied.sort_unstable();
        free.push(tied);
        return Some(Confusion {
            parameters: names,
            done: "fitted by one factor for all of them".to_owned(),
            advice,
        });
    }
    // What matters least for what the checks say is held first.
    let held = *taking_part
        .iter()
        .max_by_key(|dof| of(dof).map(|p| rank(&p.what)))?;
    let name = of(&held).map(|p| p.name.clone()).unwrap_or_default();
    free.remove(held);
    Some(Confusion {
        done: if names.len() > 1 {
            format!("{name} left at its stated value, so what the others read includes its error")
        } else {
            format!("{name} left at its stated value")
        },
        parameters: names,
        advice,
    })
}

fn rank(what: &What) -> u8 {
    match what {
        What::MeterZero(_) => 5,
        What::Contacts => 4,
        What::OpenCircuit => 3,
        What::Source => 2,
        What::Dark { .. } => 1,
        What::Channel { .. } | What::Lag(_) => 0,
    }
}

/// What to measure so that the parameters can be told apart.
fn advice(involved: &[&Parameter]) -> String {
    let has = |f: &dyn Fn(&What) -> bool| involved.iter().any(|p| f(&p.what));
    let contacts = has(&|w| *w == What::Contacts);
    let source = has(&|w| *w == What::Source);
    let ocv = has(&|w| *w == What::OpenCircuit);
    let dark = has(&|w| matches!(w, What::Dark { .. }));
    let zero = has(&|w| matches!(w, What::MeterZero(_)));
    let channels: Vec<&str> = involved
        .iter()
        .filter_map(|p| match p.what {
            What::Channel { channel, .. } => CHANNEL_NAMES.get(channel).copied(),
            _ => None,
        })
        .collect();
    let words = if zero && dark {
        "log some seconds with the strips unplugged: what the meter shows then is its zero and the board"
    } else if contacts && source {
        "log the voltage at the cell and, in a second log, at the strip (--measured FILE=STRIP.plus:STRIP.minus): the difference is what the contacts take"
    } else if contacts {
        "log the voltage at the strip (--measured FILE=STRIP.plus:STRIP.minus) over steps from dark to bright"
    } else if source || ocv {
        "log the cell's voltage over steps from dark to bright"
    } else if dark {
        "leave the prop dark for some seconds within the log"
    } else if !channels.is_empty() {
        let list = channels.join(", ");
        return format!(
            "log a pattern that lights {list} alone, one after the other; `lampwright calibrate PROP --write-preset` makes one"
        );
    } else {
        "log the calibration preset; `lampwright calibrate PROP --write-preset` makes one"
    };
    words.to_owned()
}

fn estimates(problem: &Problem<'_>, fit: &Fit, free: &Free, sure: &Certainty) -> Vec<Estimate> {
    let each = problem.parameters.iter().enumerate().map(|(k, p)| {
        let x = fit.x.get(k).copied().unwrap_or(p.start);
        let dof = free.iter().position(|group| group.contains(&k));
        let shared = dof
            .and_then(|d| free.get(d))
            .is_some_and(|group| group.len() > 1);
        let edge = 2e-3 * (p.high - p.low);
        let standing = match dof {
            None => Standing::Held,
            Some(_) if x - p.low < edge || p.high - x < edge => Standing::AtBound,
            Some(_) if shared => Standing::Shared,
            Some(_) => Standing::Fitted,
        };
        let error = dof.and_then(|d| sure.error.get(d)).copied();
        Estimate {
            stated: p.value(p.start),
            value: p.value(x),
            half_width: error
                .filter(|_| matches!(standing, Standing::Fitted | Standing::Shared))
                .map(|e| p.value(e * sure.t_95).abs()),
            standing,
            parameter: p.clone(),
        }
    });
    each.collect()
}
