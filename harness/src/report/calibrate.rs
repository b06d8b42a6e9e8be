//! A calibration for people and programs.

use super::text::{cautions, number, paragraph, style, BOLD, DIM};
use crate::build::measured::Note;
use crate::study::calibrate::{Agreement, Alignment, Calibration, Estimate, Group, Standing};
use crate::study::compare::Pair;
use crate::study::verdict::{CheckResult, Verdict};
use anstyle::Style;
use serde::Serialize;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `calibrate` document. 1: first form.
pub const CALIBRATE_SCHEMA: &str = "lampwright/calibrate/1";

/// What is told of a log.
#[derive(Debug, Clone, Serialize)]
pub struct LogReport {
    /// The file.
    pub name: String,
    /// Number of samples.
    pub samples: usize,
    /// Time between them, seconds.
    pub interval_s: f64,
    /// Where its voltage was measured, if it has one.
    pub voltage_at: Option<String>,
    /// What it shows.
    pub play: String,
    /// Where the play begins in it.
    pub alignment: Alignment,
    /// What was odd.
    pub notes: Vec<Note>,
}

/// Everything that `calibrate` tells.
#[derive(Debug)]
pub struct CalibrateReport {
    /// The prop's name.
    pub prop: String,
    /// State of charge, temperature, source.
    pub bench: String,
    /// The logs.
    pub logs: Vec<LogReport>,
    /// The calibration.
    pub calibration: Calibration,
    /// Every check with the stated values beside the same with the fitted ones; `None` where not asked for.
    pub margins: Option<Vec<Pair>>,
    /// What the checks played.
    pub checked: String,
    /// The calibrated build file, where one was written.
    pub written: Option<String>,
}

impl CalibrateReport {
    /// Whether a check fails with the fitted values.
    pub fn fails(&self) -> bool {
        let pairs = self.margins.iter().flatten();
        let mut results = pairs.filter_map(|p| p.second.as_ref());
        results.any(|r| r.verdict == Verdict::Fails)
    }
}

/// A current or voltage in the unit that suits it, and the factor to it.
fn milli(unit: &str) -> (String, f64) {
    (format!("m{unit}"), 1e3)
}

/// The report as text; `steps` tells every step in which the light stands still.
pub fn calibrate_text(report: &CalibrateReport, steps: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · calibrated on the bench: {}",
        report.prop, report.bench
    );
    let _ = writeln!(out, "\n{BOLD}Logs{BOLD:#}");
    for (k, log) in report.logs.iter().enumerate() {
        log_text(&mut out, k, log);
    }
    parameters_text(&mut out, &report.calibration);
    let confusions = &report.calibration.judged.confusions;
    if !confusions.is_empty() {
        let _ = writeln!(out, "\n{BOLD}Not determined by these logs{BOLD:#}");
        for c in confusions {
            let what = if c.parameters.len() > 1 {
                format!("cannot be told apart: {}", c.parameters.join(", "))
            } else {
                c.parameters.join(", ")
            };
            let _ = writeln!(out, "  {what}");
            paragraph(&mut out, Style::new(), &format!("{}.", c.done));
            paragraph(&mut out, DIM, &format!("What would tell: {}.", c.advice));
        }
    }
    for agreement in &report.calibration.agreements {
        agreement_text(&mut out, agreement, steps);
    }
    margins_text(&mut out, report);
    match &report.written {
        Some(path) => {
            let _ = writeln!(
                out,
                "\nWritten: {path}, with the source of every fitted figure."
            );
        }
        None => {
            let _ = writeln!(out, "\nNothing was written; --out FILE.toml writes a calibrated copy of the build file.");
        }
    }
    cautions(&mut out);
    out
}

fn log_text(out: &mut String, index: usize, log: &LogReport) {
    let at = log
        .voltage_at
        .as_ref()
        .map_or_else(String::new, |v| format!(", voltage at {v}"));
    let _ = writeln!(
        out,
        "  {} {}: {} samples, one every {} ms{at}",
        index + 1,
        log.name,
        log.samples,
        number(log.interval_s * 1e3)
    );
    paragraph(
        out,
        Style::new(),
        &format!(
            "Shows {}, which begins {:.3} s after its first sample (correlation {:.3}).",
            log.play, log.alignment.lag_s, log.alignment.correlation
        ),
    );
    if let Some(rival) = log.alignment.rival_s {
        let text = format!(
            "Doubtful: it fits nearly as well at {rival:.3} s. Log from before the play begins, with something that happens once."
        );
        paragraph(out, style(Verdict::Tight), &text);
    }
    for note in &log.notes {
        let line = note
            .line
            .map_or_else(String::new, |l| format!(", first in line {l}"));
        let count = if note.count > 1 {
            format!("{} ", note.count)
        } else {
            String::new()
        };
        paragraph(out, DIM, &format!("{count}{}{line}", note.what));
    }
}

fn parameters_text(out: &mut String, calibration: &Calibration) {
    let sure = &calibration.judged.certainty;
    let _ = writeln!(
        out,
        "\n{BOLD}{:<34} {:>12} {:>12} {:>16}{BOLD:#}",
        "Figure", "stated", "fitted", "95 % interval"
    );
    for e in &calibration.judged.estimates {
        estimate_text(out, e);
    }
    let text = format!(
        "From {} readings, worth {:.0} independent ones (each resembles the next by {:.2}); {} lie further out than three \
         spreads. Readings beyond 1.345 spreads count less (Huber); intervals take the model's shape as right.",
        sure.readings.0, sure.readings.1, sure.correlation, sure.outliers
    );
    paragraph(out, DIM, &text);
}

fn estimate_text(out: &mut String, e: &Estimate) {
    let (unit, factor) = milli(e.parameter.unit);
    let interval = match (e.half_width, e.standing) {
        (Some(h), _) => format!("± {} {unit}", number(h * factor)),
        (None, Standing::Held) => "not determined".to_owned(),
        (None, _) => "at its bound".to_owned(),
    };
    let note = match e.standing {
        Standing::Shared => "  one factor for several",
        Standing::AtBound => {
            "  the fit wants to go further than is possible: look for what the drawing lacks"
        }
        _ => "",
    };
    let _ = writeln!(
        out,
        "  {:<32} {:>9} {unit:<2} {:>9} {unit:<2} {interval:>16}{note}",
        e.parameter.name,
        number(e.stated * factor),
        number(e.value * factor)
    );
}

fn agreement_text(out: &mut String, a: &Agreement, steps: bool) {
    let (unit, factor) = milli(a.unit);
    let _ = writeln!(
        out,
        "\n{BOLD}Agreement of log {}, {} in {unit}{BOLD:#}\n  {:<26} {:>8} {:>18}   {:>26}   {:>26}",
        a.log + 1,
        a.quantity,
        "",
        "readings",
        "measured",
        "stated values",
        "fitted values"
    );
    let _ = writeln!(
        out,
        "  {:<26} {:>8} {:>9}{:>9}   {:>9}{:>9}{:>8}   {:>9}{:>9}{:>8}",
        "", "", "mean", "peak", "offset", "peak", "spread", "offset", "peak", "spread"
    );
    let groups = std::iter::once(&a.whole).chain(&a.states);
    for group in groups.chain(a.steps.iter().filter(|_| steps)) {
        group_text(out, group, factor);
    }
    if !steps && !a.steps.is_empty() {
        let _ = writeln!(
            out,
            "            {DIM}{} steps in which the light stands still: --steps tells each{DIM:#}",
            a.steps.len()
        );
    }
}

fn group_text(out: &mut String, g: &Group, factor: f64) {
    let n = |v: f64| number(v * factor);
    let name = match g.time_s {
        Some(t) => format!("{t:.2} s {}", g.name),
        None => g.name.clone(),
    };
    let _ = writeln!(
        out,
        "  {name:<26} {:>8} {:>9}{:>9}   {:>9}{:>9}{:>8}   {:>9}{:>9}{:>8}",
        g.readings,
        n(g.mean),
        n(g.peak),
        n(g.before.offset),
        n(g.before.peak),
        n(g.before.spread),
        n(g.after.offset),
        n(g.after.peak),
        n(g.after.spread)
    );
}

fn margins_text(out: &mut String, report: &CalibrateReport) {
    let Some(pairs) = &report.margins else {
        return;
    };
    let _ = writeln!(
        out,
        "\n{BOLD}Margins with the fitted values{BOLD:#} · {}",
        report.checked
    );
    let verdict = |r: &Option<CheckResult>| r.as_ref().map(|r| r.verdict);
    let turned = |p: &&Pair| {
        verdict(&p.first) != verdict(&p.second)
            && [&p.first, &p.second]
                .iter()
                .any(|r| verdict(r) == Some(Verdict::Fails))
    };
    let failing = pairs
        .iter()
        .filter(|p| verdict(&p.second) == Some(Verdict::Fails))
        .count();
    let mut shown = 0;
    let noted = |p: &&Pair| {
        turned(p)
            || verdict(&p.second) == Some(Verdict::Fails)
            || p.change.is_some_and(|c| c.abs() > 0.02)
    };
    for pair in pairs.iter().filter(noted).take(20) {
        shown += 1;
        let cell = |r: &Option<CheckResult>| match r {
            Some(r) => match (r.worst, r.limit) {
                (Some(w), Some(l)) => format!(
                    "{} {} of {} {}",
                    r.verdict.word(),
                    number(w),
                    number(l),
                    r.unit
                ),
                _ => r.verdict.word().to_owned(),
            },
            None => "–".to_owned(),
        };
        let paint = pair.second.as_ref().map_or(DIM, |r| style(r.verdict));
        let change = pair
            .change
            .map_or_else(String::new, |c| format!("{:+.1} % of the limit", c * 100.0));
        let _ = writeln!(
            out,
            "  {:<17} {:<22} {:<32} {paint}{:<32}{paint:#} {change}",
            pair.id,
            pair.part.as_deref().unwrap_or("the prop"),
            cell(&pair.first),
            cell(&pair.second)
        );
    }
    let now = pairs.iter().filter(turned).count();
    let _ = writeln!(
        out,
        "  {} results: {failing} fail with the fitted values, {now} turned between fails and not; {} more changed by less than 2 % of their limit",
        pairs.len(),
        pairs.len() - shown
    );
}

/// The document of `calibrate`.
pub fn calibrate_json(report: &CalibrateReport) -> Value {
    let judged = &report.calibration.judged;
    let sure = &judged.certainty;
    json!({
        "schema": CALIBRATE_SCHEMA,
        "prop": report.prop,
        "bench": report.bench,
        "logs": report.logs,
        "parameters": judged.estimates.iter().map(|e| json!({
            "name": e.parameter.name,
            "what": e.parameter.what,
            "unit": e.parameter.unit,
            "stated": e.stated,
            "fitted": e.value,
            "half_width_95": e.half_width,
            "standing": e.standing,
        })).collect::<Vec<_>>(),
        "readings": sure.readings.0,
        "independent_readings": sure.readings.1,
        "residual_correlation": sure.correlation,
        "outliers": sure.outliers,
        "not_determined": judged.confusions,
        "agreement": report.calibration.agreements,
        "margins": report.margins,
        "checked": report.checked,
        "fails": report.fails(),
        "written": report.written,
        "cautions": super::cautions::CAUTIONS,
    })
}
