//! What the samples of a sweep say.

use super::engine::Sample;
use super::statistics::{quantile, rank_correlation, wilson};
use serde::Serialize;

/// How many tolerances are named for each check.
const MOST_NAMED: usize = 3;
/// Share of samples that have at least the margin that is given.
pub const SURE_SHARE: f64 = 0.95;

/// How much one thing matters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Influence {
    /// What varies.
    pub name: String,
    /// Spearman's rank correlation of its draw with the margin; negative: more of it, less margin.
    pub rank_correlation: f64,
}

/// What the samples say of one check, or of all together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// The check's id, or `any` for the least margin of all.
    pub check: String,
    /// Number of samples in which it fails.
    pub failures: u64,
    /// Share of the samples in which it fails.
    pub probability: f64,
    /// Its 95 % interval (Wilson).
    pub probability_low: f64,
    /// Upper end.
    pub probability_high: f64,
    /// The margin, as a share of the limit, that 95 % of the samples have at least; null where no
    /// operating point exists there, or the limit is zero.
    pub margin_95: Option<f64>,
    /// The same for half of the samples.
    pub margin_50: Option<f64>,
    /// What matters most.
    pub influences: Vec<Influence>,
}

/// Sums samples up: one outcome a check, and first that of all together.
pub fn outcomes(checks: &[String], tolerances: &[String], samples: &[Sample]) -> Vec<Outcome> {
    let least: Vec<f64> = samples
        .iter()
        .map(|s| s.margins.iter().copied().fold(f64::INFINITY, f64::min))
        .collect();
    let mut causes: Vec<(String, Vec<f64>)> = vec![
        (
            "state of charge".to_owned(),
            samples.iter().map(|s| s.soc).collect(),
        ),
        (
            "temperature".to_owned(),
            samples.iter().map(|s| s.temperature_k).collect(),
        ),
    ];
    for (i, name) in tolerances.iter().enumerate() {
        let draws = samples.iter().filter_map(|s| s.shares.get(i).copied());
        causes.push((name.clone(), draws.collect()));
    }
    let mut out = vec![outcome("any", &least, &causes)];
    for (i, id) in checks.iter().enumerate() {
        let margins: Vec<f64> = samples
            .iter()
            .filter_map(|s| s.margins.get(i).copied())
            .collect();
        out.push(outcome(id, &margins, &causes));
    }
    out
}

fn outcome(check: &str, margins: &[f64], causes: &[(String, Vec<f64>)]) -> Outcome {
    let failures = margins.iter().filter(|m| **m < 0.0).count() as u64;
    let n = margins.len() as u64;
    let (low, high) = wilson(failures, n);
    let finite = |v: Option<f64>| v.filter(|v| v.is_finite());
    let mut influences: Vec<Influence> = causes
        .iter()
        .map(|(name, draws)| Influence {
            name: name.clone(),
            rank_correlation: rank_correlation(draws, margins),
        })
        .collect();
    influences.sort_by(|a, b| {
        b.rank_correlation
            .abs()
            .total_cmp(&a.rank_correlation.abs())
    });
    influences.truncate(MOST_NAMED);
    Outcome {
        check: check.to_owned(),
        failures,
        probability: failures as f64 / n.max(1) as f64,
        probability_low: low,
        probability_high: high,
        margin_95: finite(quantile(margins, 1.0 - SURE_SHARE)),
        margin_50: finite(quantile(margins, 0.5)),
        influences,
    }
}

/// The cap at which at most a share `risk` of the samples fails, from their own safe caps, with the ends
/// of its 95 % interval by order statistics. A sample without a safe cap counts as failing at any.
pub fn cap_for_risk(caps: &[Option<u8>], risk: f64) -> Option<(u8, u8, u8)> {
    let n = caps.len();
    let mut sorted: Vec<i16> = caps.iter().map(|c| c.map_or(-1, i16::from)).collect();
    sorted.sort_unstable();
    // Number of samples that may fail: those below the cap.
    let may = risk * n as f64;
    let half = 1.96 * (may * (1.0 - risk)).max(0.0).sqrt();
    let at = |rank: f64| {
        let i = (rank.floor().max(0.0) as usize).min(n.saturating_sub(1));
        sorted.get(i).and_then(|c| u8::try_from(*c).ok())
    };
    Some((
        at(may)?,
        at(may - half).unwrap_or(0),
        at(may + half).unwrap_or(0),
    ))
}
