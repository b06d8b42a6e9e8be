//! The bench sheet on paper: a page of HTML to print, and pages for the PDF.

use super::{head, range, value, BENCH_CAUTIONS};
use crate::report::cautions::CAUTIONS;
use crate::report::picture::{shorten, Anchor, Label, Stroke, Svg, Theme, Weight};
use crate::study::bench_sheet::{BenchSheet, SheetRow};
use std::fmt::Write as _;

/// The sheet as a page to print.
pub fn bench_html(prop: &str, sheet: &BenchSheet) -> String {
    let e = crate::report::picture::escape_markup;
    let mut out = String::new();
    let _ = write!(
        out,
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Bench sheet: {0}</title>\n<style>\nbody{{font:13px/1.35 sans-serif;color:#111;margin:16mm}}\nh1{{font-size:20px;margin:0 0 4px}}h2{{font-size:14px;margin:14px 0 4px;break-after:avoid}}\ntable{{border-collapse:collapse;width:100%}}th,td{{border:1px solid #555;padding:3px 6px;text-align:left}}\nth{{background:#eee}}td.n{{text-align:right;white-space:nowrap}}td.w{{width:22%}}tr{{break-inside:avoid}}\nul{{border:2px solid #111;padding:6px 6px 6px 24px}}\n@media print{{body{{margin:0}}@page{{margin:14mm}}}}\n</style></head><body>\n<h1>Bench sheet: {0}</h1>\n<p>{1}. Date: ____________ Meter: ____________</p>\n<ul>",
        e(prop),
        e(&head(sheet))
    );
    for caution in BENCH_CAUTIONS.iter().chain(&CAUTIONS) {
        let _ = writeln!(out, "<li>{}</li>", e(caution));
    }
    out.push_str("</ul>\n");
    let mut when = "";
    for row in &sheet.rows {
        if row.when != when {
            if !when.is_empty() {
                out.push_str("</table>\n");
            }
            when = &row.when;
            let _ = writeln!(out, "<h2>{}</h2>\n<table><tr><th>row</th><th>between</th><th>expected</th><th>in order</th><th>reading</th></tr>", e(when));
        }
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"w\"></td></tr>",
            row.id,
            e(&row.what),
            value(row),
            range(row)
        );
    }
    if !when.is_empty() {
        out.push_str("</table>\n");
    }
    out.push_str("</body></html>\n");
    out
}

/// The sheet as pages of SVG of a size in px, for the PDF.
pub fn bench_pages(prop: &str, sheet: &BenchSheet, width: f64, height: f64) -> Vec<String> {
    let mut lines: Vec<(Option<&SheetRow>, String)> = Vec::new();
    let mut when = "";
    for row in &sheet.rows {
        if row.when != when {
            when = &row.when;
            lines.push((None, when.to_owned()));
        }
        lines.push((Some(row), String::new()));
    }
    let first = 118.0 + 14.0 * (BENCH_CAUTIONS.len() + CAUTIONS.len()) as f64;
    let pitch = 19.0;
    let bottom = height - 50.0;
    let mut pages: Vec<Vec<(Option<&SheetRow>, String)>> = vec![Vec::new()];
    let mut y = first;
    for (k, line) in lines.iter().enumerate() {
        // A heading does not stand alone at the foot of a page.
        let needs = if line.0.is_none() && k + 1 < lines.len() {
            2.0 * pitch
        } else {
            pitch
        };
        if y + needs > bottom {
            pages.push(Vec::new());
            y = 80.0;
        }
        if let Some(page) = pages.last_mut() {
            page.push(line.clone());
        }
        y += pitch;
    }
    let count = pages.len();
    pages
        .iter()
        .enumerate()
        .map(|(k, rows)| page(prop, sheet, rows, (width, height), (k, count), first))
        .collect()
}

fn page(
    prop: &str,
    sheet: &BenchSheet,
    rows: &[(Option<&SheetRow>, String)],
    (width, height): (f64, f64),
    (number, count): (usize, usize),
    first: f64,
) -> String {
    let mut svg = Svg::new(width, height, &format!("Bench sheet of {prop}"), "");
    let (left, right) = (44.0, width - 44.0);
    let put =
        |svg: &mut Svg, text: &str, x: f64, y: f64, weight: Weight, size: f64, anchor: Anchor| {
            svg.text(Label {
                text,
                x,
                y,
                anchor,
                size,
                weight,
                colour: Theme::INK,
            });
        };
    let foot = format!("{prop} · bench sheet · page {} of {count}", number + 1);
    put(
        &mut svg,
        &foot,
        right,
        height - 24.0,
        Weight::Regular,
        9.0,
        Anchor::End,
    );
    let mut y = 80.0;
    if number == 0 {
        put(
            &mut svg,
            &format!("Bench sheet: {prop}"),
            left,
            62.0,
            Weight::SemiBold,
            20.0,
            Anchor::Start,
        );
        put(
            &mut svg,
            &head(sheet),
            left,
            84.0,
            Weight::SemiBold,
            12.0,
            Anchor::Start,
        );
        put(
            &mut svg,
            "Date: ______________   Meter: ______________",
            right,
            84.0,
            Weight::Regular,
            11.0,
            Anchor::End,
        );
        let mut at = 106.0;
        for caution in BENCH_CAUTIONS.iter().chain(&CAUTIONS) {
            let text = shorten(&format!("! {caution}"), 9.5, Weight::Regular, right - left);
            put(
                &mut svg,
                &text,
                left,
                at,
                Weight::Regular,
                9.5,
                Anchor::Start,
            );
            at += 14.0;
        }
        y = first;
    }
    let line = Stroke::solid(Theme::AXIS, 0.7);
    let columns = [
        left,
        left + 36.0,
        right - 270.0,
        right - 180.0,
        right - 84.0,
    ];
    for (row, heading) in rows {
        match row {
            None => put(
                &mut svg,
                heading,
                left,
                y + 13.0,
                Weight::SemiBold,
                11.0,
                Anchor::Start,
            ),
            Some(row) => {
                let expected = value(row);
                let what = shorten(
                    &row.what,
                    10.0,
                    Weight::Regular,
                    columns[2] - columns[1] - 8.0,
                );
                for (text, x) in [
                    (&row.id, columns[0]),
                    (&what, columns[1]),
                    (&expected, columns[2]),
                    (&range(row), columns[3]),
                ] {
                    put(
                        &mut svg,
                        text,
                        x + 4.0,
                        y + 13.0,
                        Weight::Regular,
                        10.0,
                        Anchor::Start,
                    );
                }
                svg.line(left, y + 19.0, right, y + 19.0, line);
                svg.outline(columns[4], y + 1.0, right - columns[4], 17.0, line);
            }
        }
        y += 19.0;
    }
    svg.finish()
}
