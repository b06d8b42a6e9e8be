//! The cap over state of charge, temperature and age.
//!
//! Every place is searched with a digest of the trace, under the unfavourable end of each tolerance: good
//! to a step or two of the cap, which is finer than a builder can use a map for.

use super::cap::{likely_cap, CapResult};
use super::digest::{digestible, Digest};
use super::trace::{digest, Trace, GUESS_FRAMES};
use super::verdict::CheckResult;
use super::watch::StudyError;
use crate::build::prop::Prop;
use crate::profile::cap_levels;
use crate::profile::condition::Condition;
use crate::units::Quantity;
use serde::Serialize;

/// The highest cap under one condition, by digest: good to a step or two.
///
/// # Errors
/// A netlist that cannot be solved.
fn cap_under(
    prop: &Prop,
    trace: &dyn Trace,
    capped: &[Digest],
    condition: Condition,
    guess: u8,
) -> Result<CapResult, StudyError> {
    let preset = trace.preset();
    let at = |cap: u8| {
        let Some(digest) = capped.get(usize::from(cap)) else {
            return Ok(Vec::new());
        };
        let mut results = digest.play(prop, preset, condition)?;
        results.retain(digestible);
        Ok(results)
    };
    likely_cap(at, |_, _| Ok(guess))
}

/// The cap over state of charge and temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConditionMap {
    /// States of charge of the columns, falling.
    pub soc: Vec<f64>,
    /// Temperatures of the rows, °C, falling.
    pub celsius: Vec<f64>,
    /// Whether the cell is at the end of its life.
    pub aged: bool,
    /// Rows of caps with what binds each; a cap of null where a check fails that no cap mends.
    pub caps: Vec<Vec<MapCell>>,
    /// For each row the highest state of charge of the map at which the preset is limited.
    pub limited_from_soc: Vec<Option<f64>>,
}

/// A place of a map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapCell {
    /// The highest cap.
    pub cap: Option<u8>,
    /// What binds it, or fails at any cap.
    pub binding: Option<String>,
}

/// Maps the cap over conditions, unfavourable tolerances, by a digest of the trace.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn condition_map(
    prop: &Prop,
    trace: &dyn Trace,
    worst: &[CheckResult],
    aged: bool,
) -> Result<ConditionMap, StudyError> {
    let c = &prop.conditions;
    let (floor, cold, hot) = (
        c.soc_floor.si(),
        c.temperature_min.si(),
        c.temperature_max.si(),
    );
    let soc: Vec<f64> = (0..8)
        .map(|k| 1.0 - (1.0 - floor) * f64::from(k) / 7.0)
        .collect();
    let kelvin: Vec<f64> = (0..5)
        .map(|k| hot - (hot - cold) * f64::from(k) / 4.0)
        .collect();
    let digest = digest(prop, trace, worst, GUESS_FRAMES)?;
    let capped: Vec<Digest> = (0..=u8::MAX)
        .map(|cap| digest.with_levels(|levels| cap_levels(levels, cap)))
        .collect();
    let mut caps = Vec::new();
    for temperature_k in &kelvin {
        let mut row = Vec::new();
        let mut guess = u8::MAX - 1;
        for soc in &soc {
            let condition = Condition {
                soc: *soc,
                temperature_k: *temperature_k,
                aged,
                cautious: true,
                wire_length_tolerance: c.wire_length_tolerance.si(),
            };
            let found = cap_under(prop, trace, &capped, condition, guess)?;
            guess = found.cap.unwrap_or(guess);
            let never = found.not_mended.first().map(|r| r.id.to_owned());
            row.push(MapCell {
                cap: if never.is_some() { None } else { found.cap },
                binding: never.or_else(|| found.one_above.map(|r| r.id.to_owned())),
            });
        }
        caps.push(row);
    }
    let limited = |row: &Vec<MapCell>| {
        row.iter()
            .zip(&soc)
            .find(|(cell, _)| cell.cap != Some(u8::MAX))
            .map(|(_, s)| *s)
    };
    Ok(ConditionMap {
        limited_from_soc: caps.iter().map(limited).collect(),
        soc,
        celsius: kelvin.iter().map(|k| k - 273.15).collect(),
        aged,
        caps,
    })
}
