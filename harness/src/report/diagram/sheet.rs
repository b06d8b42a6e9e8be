//! The diagram on paper: frame, title block, room for notes.

use super::chains::{region, Region};
use super::scene::Scene;
use super::symbols::{symbol, Pen, BOLD, THIN};
use crate::build::prop::Prop;
use crate::build::supply::{spot, Supply};
use crate::report::picture::{shorten, wrap, Anchor, Label, Stroke, Svg, Theme, Weight};

/// Plus wires: the usual trade colour.
const PLUS: &str = "#b3001b";
/// Minus wires: the usual trade colour.
const MINUS: &str = "#000000";
/// Data and button wires.
const SIGNAL: &str = "#3d4650";
/// Margin to the frame, px.
const MARGIN: f64 = 26.0;
/// Height of title block and notes, px.
const BLOCK: f64 = 104.0;
/// Largest scale: a small circuit need not fill the sheet.
const LARGEST: f64 = 1.45;

/// Paper in px, 96 to the inch, upright.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PaperSize {
    /// Name in the title block.
    pub name: &'static str,
    /// Shorter side.
    pub width: f64,
    /// Longer side.
    pub height: f64,
}

/// 210 mm × 297 mm (ISO 216).
pub const A4: PaperSize = PaperSize {
    name: "A4",
    width: 793.7,
    height: 1122.5,
};

/// 8.5 in × 11 in.
pub const LETTER: PaperSize = PaperSize {
    name: "Letter",
    width: 816.0,
    height: 1056.0,
};

/// What the title block says besides the prop's own words.
#[derive(Debug, Clone, Default)]
pub struct SheetWords {
    /// What the currents on the wires are, where there are any.
    pub currents: Option<String>,
}

/// Draws a scene onto paper, lying or upright, whichever shows it larger.
pub fn sheet(prop: &Prop, scene: &Scene, paper: PaperSize, words: &SheetWords) -> String {
    let fit = |w: f64, h: f64| {
        let room = (w - 2.0 * MARGIN - 16.0, h - 2.0 * MARGIN - BLOCK - 16.0);
        (room.0 / scene.width)
            .min(room.1 / scene.height)
            .min(LARGEST)
    };
    let (lying, upright) = (
        fit(paper.height, paper.width),
        fit(paper.width, paper.height),
    );
    let (w, h, scale) = if lying >= upright {
        (paper.height, paper.width, lying)
    } else {
        (paper.width, paper.height, upright)
    };
    let title = format!("Wiring diagram of {}", prop.name);
    let described = format!("{} parts, {} wires", prop.parts.len(), prop.wires.len());
    let mut svg = Svg::new(w, h, &title, &described);
    let frame = Stroke::solid(Theme::INK, 1.2);
    svg.outline(MARGIN, MARGIN, w - 2.0 * MARGIN, h - 2.0 * MARGIN, frame);
    let mut pen = Pen {
        dx: MARGIN + (w - 2.0 * MARGIN - scene.width * scale) / 2.0,
        dy: MARGIN + (h - 2.0 * MARGIN - BLOCK - scene.height * scale) / 2.0,
        svg: &mut svg,
        scale,
        named: false,
    };
    draw(&mut pen, prop, scene, &|_| None);
    block(&mut svg, prop, paper, words, w, h);
    svg.finish()
}

/// Draws everything; `reading` says of a line of text which wire's current it gives, if it is one.
pub(super) fn draw(
    pen: &mut Pen<'_>,
    prop: &Prop,
    scene: &Scene,
    reading: &dyn Fn(&str) -> Option<usize>,
) {
    let supply = Supply::trace(prop);
    let style = |at| match region(&supply, at) {
        Region::Top => (PLUS, BOLD),
        Region::Bottom => (MINUS, BOLD),
        Region::Signal => (SIGNAL, THIN + 0.2),
    };
    for wire in &scene.wires {
        let Some(w) = prop.wires.get(wire.wire) else {
            continue;
        };
        let (colour, width) = style(spot(&w.from));
        pen.wire(wire.wire, &wire.points, colour, width);
    }
    for bar in &scene.bars {
        let (colour, width) = style((bar.part, bar.pin));
        for piece in &bar.pieces {
            if piece.len() > 1 && piece.first() != piece.last() {
                pen.line(piece, colour, width);
            }
        }
        for dot in &bar.dots {
            pen.dot(*dot, 2.8, colour);
        }
    }
    for s in &scene.symbols {
        symbol(pen, prop, s);
    }
    for words in &scene.words {
        let line = (words.area.y1 - words.area.y0) / words.lines.len().max(1) as f64;
        for (k, text) in words.lines.iter().enumerate() {
            let weight = if k == 0 && words.bold {
                Weight::SemiBold
            } else {
                Weight::Regular
            };
            let y = words.area.y0 + line * (k as f64 + 0.82);
            if let Some(wire) = reading(text) {
                pen.reading(wire, (words.area.x0, y), words.size);
                continue;
            }
            pen.text(text, (words.area.x0, y), Anchor::Start, weight, words.size);
        }
    }
}

/// Notes on the left, how to read it in the middle, title on the right.
fn block(svg: &mut Svg, prop: &Prop, paper: PaperSize, words: &SheetWords, w: f64, h: f64) {
    let line = Stroke::solid(Theme::INK, 1.0);
    let (top, bottom) = (h - MARGIN - BLOCK, h - MARGIN);
    let (left, right) = (MARGIN, w - MARGIN);
    let title_x = right - 250.0;
    let read_x = title_x - 215.0;
    svg.line(left, top, right, top, line);
    for x in [read_x, title_x] {
        svg.line(x, top, x, bottom, line);
    }
    let put = |svg: &mut Svg, text: &str, x: f64, y: f64, weight: Weight, size: f64| {
        svg.text(Label {
            text,
            x,
            y,
            anchor: Anchor::Start,
            size,
            weight,
            colour: Theme::INK,
        });
    };
    put(svg, "Notes", left + 8.0, top + 16.0, Weight::SemiBold, 11.0);
    let room = read_x - left - 16.0;
    let note = prop.note.clone().unwrap_or_default();
    let lines = wrap(&note, 10.0, Weight::Regular, room, 2);
    for (k, text) in lines.iter().enumerate() {
        put(
            svg,
            text,
            left + 8.0,
            top + 31.0 + 13.0 * k as f64,
            Weight::Regular,
            10.0,
        );
    }
    let faint = Stroke::solid(Theme::GRID, 0.8);
    for k in lines.len()..4 {
        let y = top + 36.0 + 18.0 * k as f64;
        svg.line(left + 8.0, y, read_x - 8.0, y, faint);
    }
    let mut reading = vec![
        "Wire: name · net, gauge, length, colour".to_owned(),
        "● joint; lines that cross without ● do not meet".to_owned(),
        "Switches are drawn open. Symbols: IEC 60617".to_owned(),
    ];
    reading.extend(words.currents.clone());
    reading.push("Check shorts, then polarity, then the cell.".to_owned());
    put(
        svg,
        "How to read it",
        read_x + 8.0,
        top + 16.0,
        Weight::SemiBold,
        11.0,
    );
    for (k, text) in reading.iter().enumerate() {
        let text = shorten(text, 9.0, Weight::Regular, 200.0);
        put(
            svg,
            &text,
            read_x + 8.0,
            top + 31.0 + 13.0 * k as f64,
            Weight::Regular,
            9.0,
        );
    }
    let name = shorten(&prop.name, 16.0, Weight::SemiBold, 234.0);
    put(
        svg,
        &name,
        title_x + 8.0,
        top + 24.0,
        Weight::SemiBold,
        16.0,
    );
    let variant = prop
        .variant
        .as_ref()
        .map_or_else(String::new, |v| format!(", variant {v}"));
    put(
        svg,
        &format!("Wiring diagram{variant}"),
        title_x + 8.0,
        top + 42.0,
        Weight::Regular,
        12.0,
    );
    let cells = [
        ("version", prop.version.clone()),
        ("date", prop.date.clone()),
        ("sheet", Some(format!("1 of 1, {}", paper.name))),
    ];
    svg.line(title_x, top + 56.0, right, top + 56.0, line);
    for (k, (what, text)) in cells.into_iter().enumerate() {
        let x = title_x + 84.0 * k as f64;
        if k > 0 {
            svg.line(x, top + 56.0, x, bottom, line);
        }
        put(svg, what, x + 8.0, top + 70.0, Weight::Regular, 9.0);
        let text = text.unwrap_or_else(|| "–".to_owned());
        put(
            svg,
            &shorten(&text, 11.0, Weight::SemiBold, 72.0),
            x + 8.0,
            top + 88.0,
            Weight::SemiBold,
            11.0,
        );
    }
}
