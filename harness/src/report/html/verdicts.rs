//! Verdicts and wiring findings.

use super::markup::{e, list, section};
use crate::report::text::{number, one_line_each, signed, subject, CheckReport};
use crate::study::rules::Severity;
use crate::study::verdict::{CheckResult, Verdict};
use std::fmt::Write as _;

/// Class of a verdict, and its sign for those who do not see colours.
pub(super) fn class(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Fails => ("fails", "✕"),
        Verdict::Tight => ("tight", "!"),
        Verdict::NotChecked => ("open", "?"),
        Verdict::Holds => ("holds", "✓"),
    }
}

/// How many of each.
pub(super) fn summary(out: &mut String, report: &CheckReport) {
    let count = |v: Verdict| report.checks.iter().filter(|r| r.verdict == v).count();
    let faults = report
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Fault)
        .count();
    let worst = if faults > 0 || count(Verdict::Fails) > 0 {
        "Not safe as set: something below fails."
    } else if count(Verdict::Tight) > 0 {
        "Holds, in places by less than a tenth of the limit."
    } else {
        "Every check that could be made holds."
    };
    let _ = write!(
        out,
        "<p class=\"lead\">{worst}</p>\n<ul class=\"counts\" aria-label=\"Results\">"
    );
    for v in [
        Verdict::Fails,
        Verdict::Tight,
        Verdict::Holds,
        Verdict::NotChecked,
    ] {
        let (name, sign) = class(v);
        let _ = write!(
            out,
            "<li class=\"{name}\"><b>{}</b> <span aria-hidden=\"true\">{sign}</span> {}</li>",
            count(v),
            v.word()
        );
    }
    let _ = writeln!(out, "</ul>\n<p class=\"note\">{faults} wiring faults.</p>");
}

/// The worst of each check, then every result.
pub(super) fn write(out: &mut String, report: &CheckReport) {
    section(out, "verdicts", "Verdicts, the worst first", |out| {
        out.push_str("<ol class=\"verdicts\">\n");
        for r in one_line_each(&report.checks) {
            verdict(out, r);
        }
        out.push_str("</ol>\n");
        let _ = write!(
            out,
            "<details><summary>Every part and preset <span class=\"note\">{} results</span></summary>",
            report.checks.len()
        );
        every(out, &report.checks);
        out.push_str("</details>\n");
        own_parts(out, report);
        findings(out, report);
    });
}

/// What does not ship with the program; the texts stand among the inputs.
fn own_parts(out: &mut String, report: &CheckReport) {
    for part in &report.own_parts {
        let instead = match part.shadows {
            true => ", in place of the one that ships",
            false => "",
        };
        let _ = writeln!(
            out,
            "<p class=\"note\">A part of its own: {} <code>{}</code>{instead}, {} (SHA-256 {})</p>",
            e(&part.kind),
            e(&part.id),
            e(&part.file),
            e(&part.sha256)
        );
    }
}

fn findings(out: &mut String, report: &CheckReport) {
    if report.findings.is_empty() {
        out.push_str("<p>Wiring: no fault found in the drawing.</p>\n");
        return;
    }
    out.push_str("<details open><summary>Wiring findings</summary><ul class=\"findings\">");
    for f in &report.findings {
        let word = match f.severity {
            Severity::Fault => "fault",
            Severity::Risk => "risk",
            Severity::Advice => "advice",
        };
        let _ = write!(
            out,
            "<li class=\"{word}\"><b>{word}</b> <code>{}</code> {}<p class=\"note\">{} {}</p></li>",
            e(f.id),
            e(&f.message),
            e(f.why),
            e(&f.mend)
        );
    }
    out.push_str("</ul></details>\n");
}

/// Figures of a result in words.
fn figures(r: &CheckResult) -> Option<String> {
    let (limit, worst, margin) = (r.limit?, r.worst?, r.margin?);
    let share = r
        .margin_share
        .map(|s| format!(" ({:+.0} %)", s * 100.0).replace('-', "−"))
        .unwrap_or_default();
    Some(format!(
        "{} of {} {} · margin {}{share}",
        number(worst),
        number(limit),
        r.unit,
        signed(margin)
    ))
}

/// A bar that shows how much of the limit is used.
fn bar(out: &mut String, r: &CheckResult) {
    let Some(share) = r.margin_share.filter(|s| s.is_finite()) else {
        return;
    };
    let used = ((1.0 - share) * 100.0).clamp(0.0, 200.0) / 2.0;
    let _ = write!(
        out,
        "<span class=\"bar\" aria-hidden=\"true\"><i style=\"width:{used:.1}%\"></i></span>"
    );
}

fn when(out: &mut String, r: &CheckResult) {
    if let (Some(preset), Some(cues), Some(time)) = (&r.preset, &r.cues, r.time_s) {
        let _ = write!(
            out,
            " <a class=\"seek\" href=\"#presets\" data-preset=\"{}\" data-cues=\"{}\" data-time=\"{time}\">{} at {time:.2} s</a>",
            e(preset),
            e(cues),
            e(preset)
        );
    } else if let Some(preset) = &r.preset {
        let _ = write!(out, " {}", e(preset));
    }
}

fn verdict(out: &mut String, r: &CheckResult) {
    let (name, sign) = class(r.verdict);
    let _ = write!(
        out,
        "<li class=\"{name}\"><span class=\"badge\"><span aria-hidden=\"true\">{sign}</span> {}</span> <code>{}</code> <b>{}</b>",
        r.verdict.word(),
        e(r.id),
        e(&subject(r))
    );
    bar(out, r);
    match figures(r) {
        Some(text) => {
            let _ = write!(out, "<span class=\"figures\">{}</span>", e(&text));
        }
        None => {
            let _ = write!(out, "<span class=\"figures\">{}</span>", e(&r.why));
        }
    }
    out.push_str("<div class=\"when\">");
    if let Some(nominal) = r.nominal {
        let _ = write!(out, "nominal {} {} ·", number(nominal), e(r.unit));
    }
    when(out, r);
    out.push_str("</div>");
    if matches!(r.verdict, Verdict::Fails | Verdict::Tight) {
        let mut lines = vec![r.why.clone()];
        lines.extend(r.condition.as_ref().map(|c| format!("When: {c}")));
        lines.extend(r.cue.as_ref().map(|c| format!("After {c}")));
        lines.extend(r.source.as_ref().map(|s| format!("Limit from: {s}")));
        lines.retain(|l| !l.is_empty());
        list(out, &lines);
    }
    out.push_str("</li>\n");
}

fn every(out: &mut String, results: &[CheckResult]) {
    out.push_str("<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Every result\"><table><caption>Every result</caption><thead><tr><th scope=\"col\">verdict</th><th scope=\"col\">check</th><th scope=\"col\">part</th><th scope=\"col\">worst of limit</th><th scope=\"col\">where</th></tr></thead><tbody>\n");
    for r in results {
        let (name, sign) = class(r.verdict);
        let _ = write!(
            out,
            "<tr class=\"{name}\"><td><span aria-hidden=\"true\">{sign}</span> {}</td><td><code>{}</code></td><td>{}</td><td>{}</td><td>",
            r.verdict.word(),
            e(r.id),
            e(&subject(r)),
            e(&figures(r).unwrap_or_else(|| r.why.clone()))
        );
        when(out, r);
        out.push_str("</td></tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}
