//! Cut list and joint plan as text and CSV.

use super::text::BOLD;
use crate::study::workshop::cut_list::{Cut, CutList};
use crate::study::workshop::joints::JointPlan;
use std::fmt::Write as _;

/// Version of the cut list document. 1: first form.
pub const CUT_LIST_SCHEMA: &str = "lampwright/cut-list/1";
/// Version of the joint plan document. 1: first form.
pub const JOINTS_SCHEMA: &str = "lampwright/joints/1";

pub(super) fn millimetres(metres: f64) -> String {
    format!("{:.0}", metres * 1e3)
}

pub(super) fn or_dash(text: &Option<String>) -> &str {
    text.as_deref().unwrap_or("–")
}

fn class(cut: &Cut) -> String {
    cut.insulation_max_c
        .map_or_else(|| "–".to_owned(), |c| format!("{c:.0} °C"))
}

/// The columns of the cut list; those with lengths in mm are the fourth to the seventh.
pub(super) const CUT_COLUMNS: [&str; 10] = [
    "wire",
    "gauge",
    "colour",
    "path",
    "slack",
    "cut",
    "strip",
    "insulation",
    "class",
    "from → to",
];

/// A wire of the cut list under [`CUT_COLUMNS`].
pub(super) fn cut_cells(c: &Cut) -> Vec<String> {
    let assumed = if c.slack_stated { "" } else { "*" };
    vec![
        c.wire.clone(),
        c.gauge.clone(),
        or_dash(&c.colour).to_owned(),
        millimetres(c.path_m),
        format!("{}{assumed}", millimetres(c.slack_m)),
        millimetres(c.cut_m),
        millimetres(c.strip_m),
        or_dash(&c.insulation).to_owned(),
        class(c),
        format!("{} → {}", c.from, c.to),
    ]
}

/// The cut list for people.
pub fn cut_list_text(prop: &str, list: &CutList) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{prop}{BOLD:#} · cut list (lengths in mm)\n");
    let mut rows: Vec<Vec<String>> = vec![CUT_COLUMNS.map(str::to_owned).to_vec()];
    rows.extend(list.cuts.iter().map(cut_cells));
    columns(&mut out, &rows);
    let _ = writeln!(out, "\n{BOLD}Totals{BOLD:#}");
    for t in &list.totals {
        let _ = writeln!(
            out,
            "{:<10} {:<28} {:>3} wires  {:.2} m",
            t.gauge,
            or_dash(&t.insulation),
            t.wires,
            t.cut_m
        );
    }
    if !list.without_length.is_empty() {
        let _ = writeln!(
            out,
            "\nNot cut (given by their resistance): {}",
            list.without_length.join(", ")
        );
    }
    if list.cuts.iter().any(|c| !c.slack_stated) {
        let _ = writeln!(
            out,
            "\n* no slack in the build file: 10 mm taken (common practice)"
        );
    }
    let _ = writeln!(
        out,
        "\nMeasure the path in your own tube before you cut. A class that is not stated counts as the lowest in the checks."
    );
    out
}

/// Pads every column to its widest entry.
fn columns(out: &mut String, rows: &[Vec<String>]) {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|k| {
            rows.iter()
                .filter_map(|r| r.get(k))
                .map(|c| c.chars().count())
                .max()
                .unwrap_or(0)
        })
        .collect();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let _ = write!(line, "{cell:<width$}  ");
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
}

/// The cut list as CSV, lengths in metres.
///
/// # Errors
/// The writer of CSV failed.
pub fn cut_list_csv(list: &CutList) -> Result<Vec<u8>, csv::Error> {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record([
        "wire",
        "from",
        "to",
        "gauge",
        "colour",
        "path_m",
        "slack_m",
        "cut_m",
        "strip_m",
        "insulation",
        "insulation_max_c",
    ])?;
    for c in &list.cuts {
        let metres = |v: f64| format!("{v:.4}");
        csv.write_record([
            c.wire.as_str(),
            c.from.as_str(),
            c.to.as_str(),
            c.gauge.as_str(),
            c.colour.as_deref().unwrap_or(""),
            &metres(c.path_m),
            &metres(c.slack_m),
            &metres(c.cut_m),
            &metres(c.strip_m),
            c.insulation.as_deref().unwrap_or(""),
            &c.insulation_max_c
                .map_or_else(String::new, |t| format!("{t:.0}")),
        ])?;
    }
    csv.into_inner().map_err(|e| e.into_error().into())
}

/// The joint plan for people.
pub fn joints_text(prop: &str, plan: &JointPlan) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{prop}{BOLD:#} · joint plan");
    list(&mut out, "Prepare", &plan.prepare);
    let mut assembly = "";
    for j in &plan.joints {
        if j.assembly != assembly {
            assembly = &j.assembly;
            let _ = writeln!(out, "\n{BOLD}Solder: {assembly}{BOLD:#}");
        }
        let _ = writeln!(
            out,
            "[ ] {:>2}. {}  {} → {}  ({})",
            j.step, j.wire, j.from, j.to, j.kind
        );
        let _ = writeln!(out, "        before: {}", j.before);
        for heat in &j.heat {
            let _ = writeln!(out, "        {heat}");
        }
        let _ = writeln!(out, "        after: {}", j.after);
    }
    if !plan.touch.is_empty() {
        list(
            &mut out,
            "Nothing to solder (contact by touch, or given by resistance)",
            &plan.touch,
        );
    }
    list(&mut out, "Test on the bench", &plan.bench);
    list(&mut out, "Into the tube, deepest first", &plan.install);
    list(&mut out, "Close", &plan.close);
    super::text::cautions(&mut out);
    out
}

fn list(out: &mut String, title: &str, lines: &[String]) {
    let _ = writeln!(out, "\n{BOLD}{title}{BOLD:#}");
    for line in lines {
        let _ = writeln!(out, "[ ] {line}");
    }
}

/// The joint plan as CSV.
///
/// # Errors
/// The writer of CSV failed.
pub fn joints_csv(plan: &JointPlan) -> Result<Vec<u8>, csv::Error> {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record([
        "step", "assembly", "wire", "kind", "from", "to", "before", "heat", "after",
    ])?;
    for j in &plan.joints {
        csv.write_record([
            &j.step.to_string(),
            &j.assembly,
            &j.wire,
            &j.kind,
            &j.from,
            &j.to,
            &j.before,
            &j.heat.join("; "),
            &j.after,
        ])?;
    }
    csv.into_inner().map_err(|e| e.into_error().into())
}
