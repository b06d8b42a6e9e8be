//! Judging readings: which are out of range, and which single fault explains them best.
//!
//! Every single fault is put into the netlist, the sheet is computed again, and the fault whose sheet lies
//! nearest to the readings comes first. Distances count in units of what meter and parts may differ by; one
//! row counts at most eight units, so that one slip of the pen does not decide.

use super::faults::{all, on_supply, with_fault, Fault};
use super::meter::Take;
use super::points::predict_faulty;
use super::{BenchSheet, Probe, SheetRow, METER_OHM, OPEN_OHM};
use crate::build::prop::Prop;
use serde::Serialize;

/// Most that a single row counts.
const MOST: f64 = 8.0;

/// How a reading stands against its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RowVerdict {
    /// Within its range.
    InRange,
    /// Outside its range.
    OutOfRange,
    /// No reading was written down.
    Missing,
}

/// A likely cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// The fault in words; `None` for "nothing is wrong".
    pub fault: Option<String>,
    /// What to do.
    pub mend: String,
    /// Distance of its computed sheet from the readings: the smaller the likelier.
    pub distance: f64,
}

/// What readings mean.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// One verdict a row of the sheet.
    pub rows: Vec<RowVerdict>,
    /// Causes, the likeliest first.
    pub causes: Vec<Cause>,
}

/// The sheets of a sound prop and of every single fault, computed once.
#[derive(Debug)]
pub struct Hypotheses {
    sheets: Vec<(Option<Fault>, Vec<f64>)>,
}

impl Hypotheses {
    /// Computes every sheet.
    pub fn of(prop: &Prop, sheet: &BenchSheet) -> Self {
        let mut sheets = vec![(None, readings(prop, sheet, None))];
        for fault in all(prop) {
            let values = readings(prop, sheet, Some(&fault));
            sheets.push((Some(fault), values));
        }
        Self { sheets }
    }

    /// The faults with their distance to readings, the nearest first.
    pub fn rank(&self, sheet: &BenchSheet, readings: &[Option<f64>]) -> Vec<(Option<&Fault>, f64)> {
        let mut ranked: Vec<(Option<&Fault>, f64)> = self
            .sheets
            .iter()
            .map(|(fault, values)| (fault.as_ref(), distance(sheet, values, readings)))
            .collect();
        ranked.sort_by(|a, b| a.1.total_cmp(&b.1));
        ranked
    }
}

/// What every row of a sheet reads on a prop with a fault, or without one.
pub fn readings(prop: &Prop, sheet: &BenchSheet, fault: Option<&Fault>) -> Vec<f64> {
    let probes = || sheet.rows.iter().map(|r| &r.probe);
    let Some(fault) = fault else {
        return predict_faulty(prop, sheet, probes(), Take::Stated, &[]);
    };
    let (faulty, dead) = with_fault(prop, fault);
    let cold = predict_faulty(&faulty, sheet, probes(), Take::Stated, &dead);
    if !matches!(fault, Fault::Reversed(_)) {
        return cold;
    }
    let live = predict_faulty(
        &on_supply(&faulty, fault),
        sheet,
        probes(),
        Take::Stated,
        &dead,
    );
    let pick = |((row, cold), live): ((&SheetRow, f64), f64)| match row.probe {
        Probe::Ohm { .. } => cold,
        _ => live,
    };
    sheet.rows.iter().zip(cold).zip(live).map(pick).collect()
}

/// Judges readings; one for each row, `None` where nothing was written down.
pub fn judge(prop: &Prop, sheet: &BenchSheet, readings: &[Option<f64>]) -> Judged {
    let hypotheses = Hypotheses::of(prop, sheet);
    let causes = hypotheses
        .rank(sheet, readings)
        .into_iter()
        .take(5)
        .map(|(fault, distance)| Cause {
            fault: fault.map(|f| f.words(prop)),
            mend: fault.map_or("nothing to mend", Fault::mend).to_owned(),
            distance,
        })
        .collect();
    let rows = sheet
        .rows
        .iter()
        .zip(readings)
        .map(|(row, r)| verdict(row, *r))
        .collect();
    Judged { rows, causes }
}

fn verdict(row: &SheetRow, reading: Option<f64>) -> RowVerdict {
    let Some(value) = reading else {
        return RowVerdict::Missing;
    };
    let low = row.low.is_none_or(|l| value >= l);
    let high = row.high.is_none_or(|h| value <= h);
    if low && high {
        RowVerdict::InRange
    } else {
        RowVerdict::OutOfRange
    }
}

fn distance(sheet: &BenchSheet, values: &[f64], readings: &[Option<f64>]) -> f64 {
    let rows = sheet.rows.iter().zip(values).zip(readings);
    rows.filter_map(|((row, value), reading)| {
        let apart = apart(&row.probe, *value, (*reading)?).min(MOST);
        Some(apart * apart)
    })
    .sum()
}

/// How far a reading is from a computed value, in units of what may differ.
fn apart(probe: &Probe, value: f64, reading: f64) -> f64 {
    let difference = (value - reading).abs();
    match probe {
        // Resistances differ by factors; what a meter cannot tell from zero is zero.
        Probe::Ohm { .. } => {
            let log = |v: f64| (v.clamp(0.0, OPEN_OHM) + METER_OHM / 2.0).ln();
            (log(value) - log(reading)).abs() / 0.25
        }
        Probe::Volt { .. } => difference / (0.003 + 0.1 * value.abs().min(1.0)),
        Probe::Ampere { .. } => difference / (0.005 + 0.05 * value.abs()),
        Probe::Pixels { .. } => difference / 0.3,
    }
}
