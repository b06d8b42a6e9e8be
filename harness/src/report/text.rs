//! Verdicts for people: one line a check, the worst first.

use super::cautions::CAUTIONS;
use super::findings::findings_text;
use crate::build::catalogue::OwnPart;
use crate::study::rules::{Finding, Severity};
use crate::study::verdict::{CheckResult, Verdict};
use anstyle::{AnsiColor, Style};
use std::fmt::Write as _;

pub(super) const BOLD: Style = Style::new().bold();
pub(super) const DIM: Style = Style::new().dimmed();

pub(super) fn style(verdict: Verdict) -> Style {
    match verdict {
        Verdict::Fails => AnsiColor::Red.on_default().bold(),
        Verdict::Tight => AnsiColor::Yellow.on_default().bold(),
        Verdict::NotChecked => DIM,
        Verdict::Holds => AnsiColor::Green.on_default(),
    }
}

/// What `check` prints about.
#[derive(Debug, Clone)]
pub struct CheckReport {
    /// The prop's name.
    pub prop: String,
    /// What was played, in words.
    pub played: String,
    /// Brightness cap it was played at.
    pub cap: u8,
    /// Parts that do not ship with the program.
    pub own_parts: Vec<OwnPart>,
    /// Wiring findings.
    pub findings: Vec<Finding>,
    /// Every result, worst first.
    pub checks: Vec<CheckResult>,
}

/// The report as text. With `every`, one line for each part and preset; else the worst line of each check.
pub fn check_text(report: &CheckReport, every: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · {} · cap {}",
        report.prop, report.played, report.cap
    );
    own_parts(&mut out, &report.own_parts);
    findings_text(&mut out, &report.findings, false);
    let shown = if every {
        report.checks.iter().collect()
    } else {
        one_line_each(&report.checks)
    };
    let _ = writeln!(out);
    lines(&mut out, &shown);
    summary(&mut out, &report.checks, &report.findings, shown.len());
    cautions(&mut out);
    out
}

/// What the build stands on that another installation does not have.
fn own_parts(out: &mut String, parts: &[OwnPart]) {
    for part in parts {
        let whose = match part.is_in_prop() {
            true => "the prop's own",
            false => "your own, outside of the prop's folder",
        };
        let instead = match part.shadows {
            true => ", in place of the one that ships",
            false => "",
        };
        let short = part.sha256.get(..12).unwrap_or_default();
        let _ = writeln!(
            out,
            "{} \"{}\": {whose}{instead}, {} (SHA-256 {short}…)",
            part.kind, part.id, part.file
        );
    }
}

fn lines(out: &mut String, shown: &[&CheckResult]) {
    let subjects = shown.iter().map(|r| subject(r).chars().count());
    let width = subjects.max().unwrap_or(0).min(30);
    for result in shown {
        line(out, result, width);
    }
}

/// A line a result, all of them.
pub(super) fn check_lines(out: &mut String, results: &[CheckResult]) {
    lines(out, &results.iter().collect::<Vec<_>>());
}

/// The worst result of each check, in the given order.
pub(super) fn one_line_each(results: &[CheckResult]) -> Vec<&CheckResult> {
    let mut seen = Vec::new();
    let mut out = Vec::new();
    for result in results {
        if !seen.contains(&result.id) {
            seen.push(result.id);
            out.push(result);
        }
    }
    out
}

pub(super) fn subject(r: &CheckResult) -> String {
    r.part.clone().unwrap_or_else(|| "the prop".to_owned())
}

fn line(out: &mut String, r: &CheckResult, width: usize) {
    let style = style(r.verdict);
    let _ = write!(
        out,
        "{style}{:<11}{style:#} {BOLD}{:<16}{BOLD:#} {:<width$}  ",
        r.verdict.word(),
        r.id,
        subject(r)
    );
    match (r.limit, r.worst, r.margin) {
        (Some(limit), Some(worst), Some(margin)) => {
            let share = r
                .margin_share
                .map(|s| format!(" ({:+.0} %)", s * 100.0))
                .unwrap_or_default();
            let _ = write!(
                out,
                "{} of {} {} · margin {}{share}",
                number(worst),
                number(limit),
                r.unit,
                signed(margin)
            );
            if let Some(nominal) = r.nominal {
                let _ = write!(out, " · nominal {}", number(nominal));
            }
            if let Some(preset) = &r.preset {
                let _ = write!(out, " · {preset}");
            }
            if let Some(time) = r.time_s {
                let _ = write!(out, " at {time:.2} s");
            }
        }
        _ => {
            let _ = write!(out, "{}", r.why);
        }
    }
    let _ = writeln!(out);
    if matches!(r.verdict, Verdict::Fails | Verdict::Tight) {
        details(out, r);
    }
}

/// Widest line of a report, characters.
pub(super) const WIDTH: usize = 110;
pub(super) const INDENT: &str = "            ";

/// A paragraph under a line, broken at words.
pub(super) fn paragraph(out: &mut String, style: Style, text: &str) {
    for line in textwrap::wrap(text, WIDTH - INDENT.len()) {
        let _ = writeln!(out, "{INDENT}{style}{line}{style:#}");
    }
}

fn details(out: &mut String, r: &CheckResult) {
    paragraph(out, Style::new(), &r.why);
    let mut when = Vec::new();
    when.extend(r.condition.clone());
    when.extend(r.cue.as_ref().map(|c| format!("after {c}")));
    when.extend(r.layers.as_ref().map(|l| format!("layers {l}")));
    if !when.is_empty() {
        paragraph(out, DIM, &format!("when: {}", when.join(" · ")));
    }
    if let Some(source) = &r.source {
        paragraph(out, DIM, &format!("limit from: {source}"));
    }
}

fn summary(out: &mut String, checks: &[CheckResult], findings: &[Finding], shown: usize) {
    let count = |v: Verdict| checks.iter().filter(|r| r.verdict == v).count();
    let faults = findings
        .iter()
        .filter(|f| f.severity == Severity::Fault)
        .count();
    let _ = writeln!(
        out,
        "\n{} results: {} fail, {} tight, {} hold, {} not checked; {faults} wiring faults{}",
        checks.len(),
        count(Verdict::Fails),
        count(Verdict::Tight),
        count(Verdict::Holds),
        count(Verdict::NotChecked),
        if shown < checks.len() {
            ". Shown: the worst of each check; --all shows every part and preset"
        } else {
            ""
        }
    );
}

pub(super) fn cautions(out: &mut String) {
    let _ = writeln!(out, "\n{BOLD}Cautions{BOLD:#}");
    for caution in CAUTIONS {
        let lines = textwrap::Options::new(WIDTH)
            .initial_indent("- ")
            .subsequent_indent("  ");
        let _ = writeln!(out, "{}", textwrap::fill(caution, lines));
    }
}

/// Four significant digits, without exponent for the sizes that occur.
pub(super) fn number(v: f64) -> String {
    if !v.is_finite() {
        return "no value".to_owned();
    }
    let digits = if v == 0.0 {
        0
    } else {
        (3 - v.abs().log10().floor() as i32).clamp(0, 6)
    };
    let text = format!("{v:.*}", digits as usize);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

pub(super) fn signed(v: f64) -> String {
    let text = number(v.abs());
    if v < 0.0 {
        format!("−{text}")
    } else {
        format!("+{text}")
    }
}
