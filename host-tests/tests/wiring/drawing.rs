//! The diagram as geometry: every wire once and at its own terminals, right-angled, nothing over anything else.

use super::builds::{edited, read, RIGHT};
use super::right::RIGHT_BUILDS;
use super::wrong::WRONG;
use lampwright::build::prop::Prop;
use lampwright::report::diagram::{lay_out, sheet, Area, Scene, SheetWords, A4, LETTER};
use lampwright::report::picture::{to_pdf, to_png};
use std::path::Path;

type Piece = ((f64, f64), (f64, f64));

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.02
}

fn pieces(points: &[(f64, f64)]) -> Vec<Piece> {
    points.windows(2).map(|w| (w[0], w[1])).collect()
}

/// Whether a point lies on a right-angled piece.
fn on(p: (f64, f64), (a, b): Piece) -> bool {
    let within = |v: f64, x: f64, y: f64| v > x.min(y) - 0.02 && v < x.max(y) + 0.02;
    within(p.0, a.0, b.0) && within(p.1, a.1, b.1)
}

/// Everything that must hold of a drawing; what does not, in words.
pub(crate) fn faults(prop: &Prop, scene: &Scene) -> Vec<String> {
    let mut out = Vec::new();
    for (i, wire) in prop.wires.iter().enumerate() {
        let drawn: Vec<_> = scene.wires.iter().filter(|w| w.wire == i).collect();
        if drawn.len() != 1 {
            out.push(format!("wire {} is drawn {} times", wire.name, drawn.len()));
            continue;
        }
        let points = &drawn[0].points;
        let ends = [points[0], *points.last().unwrap()];
        let meets = |end: (f64, f64), t: &lampwright::build::netlist::Terminal| {
            let pin = scene.symbols.iter().filter(|s| s.part == t.part).any(|s| {
                s.pins
                    .iter()
                    .any(|(p, x, y)| *p == t.pin && near(*x, end.0) && near(*y, end.1))
            });
            let bar = scene
                .bars
                .iter()
                .filter(|b| b.part == t.part && b.pin == t.pin)
                .any(|b| {
                    b.pieces.iter().any(|p| {
                        pieces(p).into_iter().any(|q| on(end, q))
                            || p.iter().any(|q| near(q.0, end.0) && near(q.1, end.1))
                    })
                });
            pin || bar
        };
        let right = (meets(ends[0], &wire.from) && meets(ends[1], &wire.to))
            || (meets(ends[1], &wire.from) && meets(ends[0], &wire.to));
        if !right {
            out.push(format!(
                "wire {} does not run from {} to {}: {points:?}",
                wire.name, wire.from, wire.to
            ));
        }
    }
    let mut lines: Vec<(String, Piece)> = Vec::new();
    for w in &scene.wires {
        lines.extend(
            pieces(&w.points)
                .into_iter()
                .map(|p| (prop.wires[w.wire].name.clone(), p)),
        );
    }
    for b in &scene.bars {
        let name = format!("bar of {}", prop.parts[b.part].name);
        for piece in &b.pieces {
            lines.extend(pieces(piece).into_iter().map(|p| (name.clone(), p)));
        }
    }
    for (name, (a, b)) in &lines {
        if !near(a.0, b.0) && !near(a.1, b.1) {
            out.push(format!("{name} runs askew: {a:?} {b:?}"));
        }
    }
    // Two lines may cross, not run on top of each other.
    for (i, (n, p)) in lines.iter().enumerate() {
        for (m, q) in &lines[i + 1..] {
            if n != m && shared(*p, *q) > 0.5 {
                out.push(format!("{n} and {m} run on top of each other: {p:?} {q:?}"));
            }
        }
    }
    let label = |k: usize| scene.words[k].lines.join(" / ");
    for i in 0..scene.words.len() {
        let area = scene.words[i].area;
        for j in i + 1..scene.words.len() {
            if area.overlaps(&scene.words[j].area) {
                out.push(format!("labels overlap: {} and {}", label(i), label(j)));
            }
        }
        for s in &scene.symbols {
            if area.overlaps(&s.area) {
                out.push(format!(
                    "label {} lies on {}",
                    label(i),
                    prop.parts[s.part].name
                ));
            }
        }
        for (name, (a, b)) in &lines {
            if area.cut_by(*a, *b) {
                out.push(format!("{name} cuts the label {}", label(i)));
            }
        }
        if area.x0 < 0.0 || area.y0 < 0.0 || area.x1 > scene.width || area.y1 > scene.height {
            out.push(format!("label {} is off the sheet", label(i)));
        }
    }
    for (i, s) in scene.symbols.iter().enumerate() {
        for t in &scene.symbols[i + 1..] {
            if s.area.overlaps(&t.area) {
                out.push(format!(
                    "{} lies on {}",
                    prop.parts[s.part].name, prop.parts[t.part].name
                ));
            }
        }
        let inner = Area {
            x0: s.area.x0 + 0.5,
            y0: s.area.y0 + 0.5,
            x1: s.area.x1 - 0.5,
            y1: s.area.y1 - 0.5,
        };
        for (name, (a, b)) in &lines {
            if inner.cut_by(*a, *b) {
                out.push(format!("{name} runs through {}", prop.parts[s.part].name));
            }
        }
    }
    for (name, (a, b)) in &lines {
        for p in [a, b] {
            if p.0 < 0.0 || p.1 < 0.0 || p.0 > scene.width || p.1 > scene.height {
                out.push(format!("{name} leaves the sheet at {p:?}"));
            }
        }
    }
    out
}

/// How far two right-angled pieces run along each other.
fn shared((a, b): Piece, (c, d): Piece) -> f64 {
    let along = |p: f64, q: f64, r: f64, s: f64| p.max(q).min(r.max(s)) - p.min(q).max(r.min(s));
    let vertical = near(a.0, b.0) && near(c.0, d.0) && (a.0 - c.0).abs() < 2.0;
    let horizontal = near(a.1, b.1) && near(c.1, d.1) && (a.1 - c.1).abs() < 2.0;
    match (vertical, horizontal) {
        (true, _) => along(a.1, b.1, c.1, d.1),
        (_, true) => along(a.0, b.0, c.0, d.0),
        _ => 0.0,
    }
}

/// The builds that are drawn: both demo props and the five of this folder.
pub(crate) fn drawn_builds() -> Vec<(String, Prop)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = vec![
        root.join("../traces/lantern-staff/build.toml"),
        root.join("../traces/stage-torch/build.toml"),
    ];
    let mut own: Vec<_> = std::fs::read_dir(root.join("builds"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    own.sort();
    assert!(own.len() >= 5);
    paths.extend(own);
    paths
        .iter()
        .map(|p| {
            let text = std::fs::read_to_string(p).unwrap();
            (p.display().to_string(), read(&text))
        })
        .collect()
}

#[test]
fn the_seven_diagrams_are_sound_with_and_without_currents() {
    for (name, prop) in drawn_builds() {
        for currents in [vec![], vec![Some(1.234); prop.wires.len()]] {
            let scene = lay_out(&prop, &currents);
            let found = faults(&prop, &scene);
            assert!(found.is_empty(), "{name}:\n{}", found.join("\n"));
        }
    }
}

#[test]
fn other_builds_are_drawn_as_soundly_right_or_wrong() {
    let right = RIGHT_BUILDS.iter().map(|(w, e)| (*w, *e));
    let wrong = WRONG.iter().map(|(w, e, _)| (*w, *e));
    let mut all = Vec::new();
    for (words, edits) in right.chain(wrong) {
        let prop = read(&edited(RIGHT, edits));
        let found = faults(&prop, &lay_out(&prop, &[]));
        all.extend(found.into_iter().map(|f| format!("{words}: {f}")));
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn diagrams_cross_little() {
    for (name, prop) in drawn_builds() {
        let scene = lay_out(&prop, &[]);
        let lines: Vec<(usize, Piece)> = scene
            .wires
            .iter()
            .flat_map(|w| pieces(&w.points).into_iter().map(|p| (w.wire, p)))
            .chain(scene.bars.iter().enumerate().flat_map(|(k, b)| {
                b.pieces
                    .iter()
                    .flat_map(|p| pieces(p))
                    .map(move |p| (1000 + k, p))
                    .collect::<Vec<_>>()
            }))
            .collect();
        let strictly = |v: f64, a: f64, b: f64| v > a.min(b) + 0.5 && v < a.max(b) - 0.5;
        let mut crossings = 0;
        for (i, (_, (a, b))) in lines.iter().enumerate() {
            for (_, (c, d)) in &lines[i + 1..] {
                let cross = |(a, b): Piece, (c, d): Piece| {
                    near(a.0, b.0)
                        && near(c.1, d.1)
                        && strictly(a.0, c.0, d.0)
                        && strictly(c.1, a.1, b.1)
                };
                if cross((*a, *b), (*c, *d)) || cross((*c, *d), (*a, *b)) {
                    crossings += 1;
                }
            }
        }
        assert!(crossings <= 8, "{name}: {crossings} crossings");
    }
}

#[test]
fn the_sheet_fits_its_paper_and_turns_into_png_and_pdf() {
    for (name, prop) in drawn_builds() {
        let scene = lay_out(&prop, &[]);
        for paper in [A4, LETTER] {
            let svg = sheet(&prop, &scene, paper, &SheetWords::default());
            for wire in &prop.wires {
                assert!(
                    svg.contains(&format!(">{} · ", wire.name)),
                    "{name}: no label of {}",
                    wire.name
                );
            }
            assert!(svg.contains(&prop.name));
            // A4 lies or stands; nothing else.
            let sizes = [paper.width, paper.height];
            let tag = svg.lines().next().unwrap();
            assert!(
                sizes
                    .iter()
                    .any(|s| tag.contains(&format!("width=\"{s}\""))),
                "{tag}"
            );
        }
        let svg = sheet(&prop, &scene, A4, &SheetWords::default());
        assert!(to_png(&svg, 0.5).unwrap().starts_with(b"\x89PNG"));
        let pdf = to_pdf(&[svg.clone(), svg], "two pages").unwrap();
        assert!(pdf.starts_with(b"%PDF-") && pdf.ends_with(b"%%EOF"));
    }
}
