//! What to cut, solder and measure.

use super::markup::{e, list, section, table, ticks};
use super::ReportPage;
use crate::report::bench_sheet::{head, range, value, BENCH_CAUTIONS};
use crate::report::workshop::{cut_cells, or_dash, CUT_COLUMNS};
use crate::study::workshop::cut_list::CutList;
use crate::study::workshop::joints::JointPlan;
use std::fmt::Write as _;

pub(super) fn write(out: &mut String, page: &ReportPage) {
    section(out, "cut", "Cut list", |out| cuts(out, &page.cuts));
    section(out, "joints", "Joint plan", |out| match &page.joints {
        Ok(plan) => joints(out, plan),
        Err(why) => {
            let _ = writeln!(out, "<p>There is no order of work: {}</p>", e(why));
        }
    });
    section(out, "bench", "Bench sheet", |out| bench(out, page));
}

fn cuts(out: &mut String, list: &CutList) {
    let rows: Vec<Vec<String>> = list.cuts.iter().map(cut_cells).collect();
    table(
        out,
        "Wires to cut, lengths in mm",
        &CUT_COLUMNS,
        &[3, 4, 5, 6],
        &rows,
    );
    let totals: Vec<Vec<String>> = list
        .totals
        .iter()
        .map(|t| {
            vec![
                t.gauge.clone(),
                or_dash(&t.insulation).to_owned(),
                t.wires.to_string(),
                format!("{:.2}", t.cut_m),
            ]
        })
        .collect();
    table(
        out,
        "Totals",
        &["gauge", "insulation", "wires", "metres"],
        &[2, 3],
        &totals,
    );
    if list.cuts.iter().any(|c| !c.slack_stated) {
        out.push_str(
            "<p class=\"note\">* no slack in the build file: 10 mm taken (common practice).</p>\n",
        );
    }
    out.push_str("<p class=\"note\">Measure the path in your own tube before you cut.</p>\n");
}

fn joints(out: &mut String, plan: &JointPlan) {
    ticks(out, "Prepare", &plan.prepare);
    let mut assembly = "";
    for j in &plan.joints {
        if j.assembly != assembly {
            if !assembly.is_empty() {
                out.push_str("</ul>\n");
            }
            assembly = &j.assembly;
            let _ = write!(
                out,
                "<h3>Solder: {}</h3>\n<ul class=\"ticks\">",
                e(assembly)
            );
        }
        let _ = write!(
            out,
            "<li><b>{}. {}</b> {} → {} <span class=\"note\">({})</span><div class=\"note\">before: {}",
            j.step,
            e(&j.wire),
            e(&j.from),
            e(&j.to),
            e(&j.kind),
            e(&j.before)
        );
        for heat in &j.heat {
            let _ = write!(out, "<br>{}", e(heat));
        }
        let _ = write!(out, "<br>after: {}</div></li>", e(&j.after));
    }
    if !assembly.is_empty() {
        out.push_str("</ul>\n");
    }
    ticks(
        out,
        "Nothing to solder (contact by touch, or given by resistance)",
        &plan.touch,
    );
    ticks(out, "Test on the bench", &plan.bench);
    ticks(out, "Into the tube, deepest first", &plan.install);
    ticks(out, "Close", &plan.close);
}

fn bench(out: &mut String, page: &ReportPage) {
    let Some(sheet) = &page.bench else {
        out.push_str("<p>The build has no cell, so nothing can be fed in its place.</p>\n");
        return;
    };
    let _ = writeln!(
        out,
        "<p><b>{}.</b> Date: ____________ Meter: ____________</p>",
        e(&head(sheet))
    );
    list(out, &BENCH_CAUTIONS);
    let mut start = 0;
    while let Some(first) = sheet.rows.get(start) {
        let same = sheet
            .rows
            .iter()
            .skip(start)
            .take_while(|r| r.when == first.when);
        let rows: Vec<Vec<String>> = same
            .map(|r| {
                vec![
                    r.id.clone(),
                    r.what.clone(),
                    value(r),
                    range(r),
                    String::new(),
                ]
            })
            .collect();
        start += rows.len();
        table(
            out,
            &first.when,
            &["row", "between", "expected", "in order", "reading"],
            &[2, 3],
            &rows,
        );
    }
}
