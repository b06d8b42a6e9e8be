//! The corners of the tolerances: each one alone, then every combination of those that matter most.

use super::engine::Sweep;
use crate::study::watch::StudyError;
use rayon::prelude::*;
use serde::Serialize;

/// Tolerances whose ends are combined in every way.
const COMBINED: usize = 6;
/// The stated value, as a share of all parts.
const STATED: f64 = 0.5;

/// What one tolerance alone does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alone {
    /// What varies.
    pub name: String,
    /// Least margin with it at its low end, as a share of the limit; null without an operating point.
    pub low: Option<f64>,
    /// The same at its high end.
    pub high: Option<f64>,
    /// The check with the least margin at the worse of both.
    pub check: String,
}

/// What the corners say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corners {
    /// Least margin with every value as stated.
    pub stated: Option<f64>,
    /// Each tolerance alone, the largest change first.
    pub alone: Vec<Alone>,
    /// Number of combinations played of the ends of the tolerances that matter most.
    pub combinations: usize,
    /// The least margin of any of them.
    pub worst: Option<f64>,
    /// Its check.
    pub worst_check: String,
    /// The ends it has.
    pub worst_ends: Vec<String>,
}

/// Plays the corners of a sweep's tolerances, at the corners of its charge and temperature.
///
/// Combining the ends of every tolerance would take 2 to the power of their number; the combinations are
/// of the six that change the least margin most, the others being as stated.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn corners(sweep: &Sweep<'_>) -> Result<Corners, StudyError> {
    let count = sweep.tolerances().len();
    let stated = sweep.corner(&vec![STATED; count])?.0;
    let mut alone = (0..count)
        .into_par_iter()
        .map(|k| {
            let at = |end: f64| {
                let mut shares = vec![STATED; count];
                if let Some(share) = shares.get_mut(k) {
                    *share = end;
                }
                sweep.corner(&shares)
            };
            Ok((k, at(0.0)?, at(1.0)?))
        })
        .collect::<Result<Vec<_>, StudyError>>()?;
    let swing = |(_, low, high): &(usize, (f64, &str), (f64, &str))| {
        let change = |m: f64| if m == stated { 0.0 } else { (m - stated).abs() };
        change(low.0).max(change(high.0))
    };
    alone.sort_by(|a, b| swing(b).total_cmp(&swing(a)));
    let first: Vec<usize> = alone.iter().take(COMBINED).map(|(k, ..)| *k).collect();
    let worst = (0..1usize << first.len())
        .into_par_iter()
        .map(|ends| {
            let mut shares = vec![STATED; count];
            for (bit, k) in first.iter().enumerate() {
                if let Some(share) = shares.get_mut(*k) {
                    *share = f64::from(u8::from(ends >> bit & 1 == 1));
                }
            }
            Ok((sweep.corner(&shares)?, ends))
        })
        .collect::<Result<Vec<_>, StudyError>>()?
        .into_iter()
        .min_by(|a, b| a.0 .0.total_cmp(&b.0 .0));
    let finite = |m: f64| m.is_finite().then_some(m);
    let name = |k: usize| {
        sweep
            .tolerances()
            .get(k)
            .map_or_else(String::new, |t| t.name.clone())
    };
    let ends = |bits: usize| {
        let end = |(bit, k): (usize, &usize)| {
            format!(
                "{} {}",
                name(*k),
                if bits >> bit & 1 == 1 { "high" } else { "low" }
            )
        };
        first.iter().enumerate().map(end).collect()
    };
    Ok(Corners {
        stated: finite(stated),
        combinations: 1 << first.len(),
        worst: worst.and_then(|((m, _), _)| finite(m)),
        worst_check: worst.map_or_else(String::new, |((_, c), _)| c.to_owned()),
        worst_ends: worst.map_or_else(Vec::new, |(_, bits)| ends(bits)),
        alone: alone
            .into_iter()
            .map(|(k, low, high)| Alone {
                name: name(k),
                low: finite(low.0),
                high: finite(high.0),
                check: if low.0 < high.0 { low.1 } else { high.1 }.to_owned(),
            })
            .collect(),
    })
}
