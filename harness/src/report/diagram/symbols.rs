//! Symbols after IEC 60617 (from memory), drawn with a pen that fits the scene to its place on paper.

use super::label::{box_lines, LINE, SIZE};
use super::nets::pin_name;
use super::place::HALF;
use super::scene::Symbol;
use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::report::picture::{shorten, Anchor, Label, Stroke, Svg, Theme, Weight};

/// Thickness of symbols and of supply wires, px of the scene.
pub(super) const BOLD: f64 = 1.6;
/// Thickness of signal wires and boxes.
pub(super) const THIN: f64 = 1.0;

/// Draws scene coordinates onto a page.
pub(super) struct Pen<'a> {
    pub(super) svg: &'a mut Svg,
    pub(super) scale: f64,
    pub(super) dx: f64,
    pub(super) dy: f64,
    /// Whether wires and their currents go into groups that a page can find.
    pub(super) named: bool,
}

impl Pen<'_> {
    fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.dx + x * self.scale, self.dy + y * self.scale)
    }

    fn stroke<'s>(&self, colour: &'s str, width: f64) -> Stroke<'s> {
        Stroke::solid(colour, width * self.scale)
    }

    pub(super) fn line(&mut self, points: &[(f64, f64)], colour: &str, width: f64) {
        let points: Vec<(f64, f64)> = points.iter().map(|p| self.at(*p)).collect();
        let stroke = Stroke::solid(colour, width * self.scale);
        self.svg.polyline(&points, stroke);
    }

    /// A wire of the prop.
    pub(super) fn wire(&mut self, index: usize, points: &[(f64, f64)], colour: &str, width: f64) {
        if !self.named {
            return self.line(points, colour, width);
        }
        let points: Vec<(f64, f64)> = points.iter().map(|p| self.at(*p)).collect();
        let stroke = Stroke::solid(colour, width * self.scale);
        let class = format!("wire wire-{index}");
        self.svg.group(&class, |svg| svg.polyline(&points, stroke));
    }

    /// Room for the current of a wire, which the page writes.
    pub(super) fn reading(&mut self, wire: usize, at: (f64, f64), size: f64) {
        let (x, y) = self.at(at);
        let label = Label {
            text: "–",
            x,
            y,
            anchor: Anchor::Start,
            size: size * self.scale,
            weight: Weight::Regular,
            colour: Theme::INK,
        };
        let class = format!("reading reading-{wire}");
        self.svg.group(&class, |svg| svg.text(label));
    }

    pub(super) fn dashed(&mut self, points: &[(f64, f64)], width: f64) {
        let points: Vec<(f64, f64)> = points.iter().map(|p| self.at(*p)).collect();
        let stroke = Stroke {
            colour: Theme::INK,
            width: width * self.scale,
            dash: "3 2",
        };
        self.svg.polyline(&points, stroke);
    }

    pub(super) fn dot(&mut self, p: (f64, f64), radius: f64, colour: &str) {
        let (x, y) = self.at(p);
        self.svg.circle(x, y, radius * self.scale, colour);
    }

    fn ring(&mut self, p: (f64, f64), radius: f64) {
        let (x, y) = self.at(p);
        let stroke = self.stroke(Theme::INK, THIN + 0.2);
        self.svg
            .ring(x, y, radius * self.scale, Theme::PAPER, stroke);
    }

    fn solid(&mut self, points: &[(f64, f64)]) {
        let points: Vec<(f64, f64)> = points.iter().map(|p| self.at(*p)).collect();
        self.svg.polygon(&points, Theme::INK, 1.0);
    }

    fn frame(&mut self, x0: f64, y0: f64, x1: f64, y1: f64, width: f64) {
        let ((ax, ay), (bx, by)) = (self.at((x0, y0)), self.at((x1, y1)));
        let stroke = self.stroke(Theme::INK, width);
        self.svg.outline(ax, ay, bx - ax, by - ay, stroke);
    }

    pub(super) fn text(
        &mut self,
        text: &str,
        p: (f64, f64),
        anchor: Anchor,
        weight: Weight,
        size: f64,
    ) {
        let (x, y) = self.at(p);
        self.svg.text(Label {
            text,
            x,
            y,
            anchor,
            size: size * self.scale,
            weight,
            colour: Theme::INK,
        });
    }
}

/// Draws a symbol.
pub(super) fn symbol(pen: &mut Pen<'_>, prop: &Prop, symbol: &Symbol) {
    let Some(part) = prop.parts.get(symbol.part) else {
        return;
    };
    match symbol.entry {
        Some(entry) => in_line(pen, &part.kind, entry, symbol),
        None => boxed(pen, prop, &part.kind, symbol),
    }
}

/// A two-ended part in a horizontal line; `entry` is the pin on its left.
fn in_line(pen: &mut Pen<'_>, kind: &PartKind, entry: Pin, symbol: &Symbol) {
    let x = (symbol.area.x0 + symbol.area.x1) / 2.0;
    let y = (symbol.area.y0 + symbol.area.y1) / 2.0;
    let ink = Theme::INK;
    let lead = |pen: &mut Pen<'_>, inner: f64| {
        pen.line(&[(x - HALF, y), (x - inner, y)], ink, BOLD);
        pen.line(&[(x + inner, y), (x + HALF, y)], ink, BOLD);
    };
    match kind {
        PartKind::Fuse(_) => {
            pen.frame(x - 13.0, y - 5.0, x + 13.0, y + 5.0, BOLD);
            pen.line(&[(x - HALF, y), (x + HALF, y)], ink, BOLD);
        }
        PartKind::Resistor(_) => {
            lead(pen, 13.0);
            pen.frame(x - 13.0, y - 5.0, x + 13.0, y + 5.0, BOLD);
        }
        PartKind::Switch(_) => {
            lead(pen, 9.0);
            pen.line(&[(x - 9.0, y), (x + 8.0, y - 9.0)], ink, BOLD);
            pen.dot((x - 9.0, y), 1.8, ink);
            pen.dot((x + 9.0, y), 1.8, ink);
        }
        PartKind::Connector { .. } => {
            lead(pen, 8.0);
            pen.solid(&[
                (x - 8.0, y - 2.6),
                (x + 2.0, y - 2.6),
                (x + 2.0, y + 2.6),
                (x - 8.0, y + 2.6),
            ]);
            let arc: Vec<(f64, f64)> = (-9..=9)
                .map(|k| {
                    let a = f64::from(k) * std::f64::consts::PI / 18.0;
                    (x + 1.5 + 6.5 * a.cos(), y + 6.5 * a.sin())
                })
                .collect();
            pen.line(&arc, ink, BOLD);
        }
        PartKind::Diode(_) => {
            lead(pen, 7.0);
            let way = if matches!(entry, Pin::A(_)) {
                1.0
            } else {
                -1.0
            };
            pen.solid(&[
                (x - 7.0 * way, y - 7.0),
                (x - 7.0 * way, y + 7.0),
                (x + 7.0 * way, y),
            ]);
            pen.line(
                &[(x + 7.0 * way, y - 7.5), (x + 7.0 * way, y + 7.5)],
                ink,
                BOLD,
            );
        }
        PartKind::Protection(_) => {
            lead(pen, 13.0);
            pen.frame(x - 13.0, y - 9.0, x + 13.0, y + 9.0, BOLD);
            pen.text("I >", (x, y + 3.5), Anchor::Middle, Weight::Regular, SIZE);
        }
        // A lone contact: a terminal.
        _ => {
            lead(pen, 4.5);
            pen.ring((x, y), 4.5);
        }
    }
}

fn boxed(pen: &mut Pen<'_>, prop: &Prop, kind: &PartKind, symbol: &Symbol) {
    let a = symbol.area;
    let lines = box_lines(prop, symbol.part);
    match kind {
        PartKind::Cell(_)
        | PartKind::Capacitor(_)
        | PartKind::Supply(_)
        | PartKind::Resistor(_) => {
            upright(pen, kind, symbol);
            centred(pen, &lines, a.x0 + 38.0, a.x1, (a.y0 + a.y1) / 2.0, false);
        }
        PartKind::Button => {
            button(pen, symbol);
            centred(pen, &lines, a.x0 + 34.0, a.x1, a.y0 + 82.0, false);
        }
        _ => {
            pen.frame(a.x0, a.y0, a.x1, a.y1, BOLD);
            let pixels = match kind {
                PartKind::Strip(s) => s.pixels,
                _ => 0,
            };
            for (pin, x, y) in &symbol.pins {
                pin_label(pen, *pin, pixels, (*x, *y), symbol);
            }
            let middle = a.y0 + 92.0;
            if let PartKind::Strip(_) = kind {
                led(pen, (a.x0 + a.x1) / 2.0, a.y0 + 46.0);
                centred(pen, &lines, a.x0 + 4.0, a.x1 - 4.0, middle - 4.0, true);
            } else {
                centred(pen, &lines, a.x0 + 46.0, a.x1 - 46.0 + 40.0, middle, false);
            }
        }
    }
}

fn pin_label(pen: &mut Pen<'_>, pin: Pin, pixels: u32, (x, y): (f64, f64), symbol: &Symbol) {
    let a = symbol.area;
    let name = pin_name(pin, pixels);
    let small = SIZE - 1.0;
    let near = |p: f64, q: f64| (p - q).abs() < 0.5;
    if near(y, a.y0) {
        pen.text(
            &name,
            (x - 4.0, y + 11.0),
            Anchor::Start,
            Weight::Regular,
            small,
        );
    } else if near(y, a.y1) {
        pen.text(
            &name,
            (x - 4.0, y - 4.0),
            Anchor::Start,
            Weight::Regular,
            small,
        );
    } else if near(x, a.x0) {
        pen.text(
            &name,
            (x + 4.0, y + 3.5),
            Anchor::Start,
            Weight::Regular,
            small,
        );
    } else {
        pen.text(
            &name,
            (x - 4.0, y + 3.5),
            Anchor::End,
            Weight::Regular,
            small,
        );
    }
}

/// Name and kind, in the middle of a room or from its left edge.
fn centred(pen: &mut Pen<'_>, lines: &[String], x0: f64, x1: f64, y: f64, middle: bool) {
    let top = y - LINE * lines.len() as f64 / 2.0 + LINE * 0.75;
    for (k, line) in lines.iter().enumerate() {
        let weight = if k == 0 {
            Weight::SemiBold
        } else {
            Weight::Regular
        };
        let text = shorten(line, SIZE, weight, x1 - x0);
        let (x, anchor) = if middle {
            ((x0 + x1) / 2.0, Anchor::Middle)
        } else {
            (x0, Anchor::Start)
        };
        pen.text(&text, (x, top + LINE * k as f64), anchor, weight, SIZE);
    }
}

/// Cell, capacitor, outside supply, resistor between two supplies: upright between their pins.
fn upright(pen: &mut Pen<'_>, kind: &PartKind, symbol: &Symbol) {
    let a = symbol.area;
    let ink = Theme::INK;
    let x = a.x0 + 18.0;
    let y = (a.y0 + a.y1) / 2.0;
    let wired = |want: fn(f64, &crate::report::diagram::scene::Area) -> bool| {
        symbol.pins.iter().any(|p| want(p.2, &a))
    };
    let gap = match kind {
        PartKind::Supply(_) | PartKind::Resistor(_) => 14.0,
        _ => 4.0,
    };
    if wired(|y, a| (y - a.y0).abs() < 0.5) {
        pen.line(&[(x, a.y0), (x, y - gap)], ink, BOLD);
    }
    if wired(|y, a| (y - a.y1).abs() < 0.5) {
        pen.line(&[(x, y + gap), (x, a.y1)], ink, BOLD);
    }
    match kind {
        PartKind::Cell(_) => {
            pen.line(&[(x - 14.0, y - 4.0), (x + 14.0, y - 4.0)], ink, BOLD);
            pen.line(&[(x - 7.0, y + 4.0), (x + 7.0, y + 4.0)], ink, 2.0 * BOLD);
            pen.text(
                "+",
                (x + 6.0, y - 9.0),
                Anchor::Start,
                Weight::SemiBold,
                SIZE + 2.0,
            );
        }
        PartKind::Capacitor(_) => {
            pen.line(&[(x - 12.0, y - 4.0), (x + 12.0, y - 4.0)], ink, BOLD);
            pen.line(&[(x - 12.0, y + 4.0), (x + 12.0, y + 4.0)], ink, BOLD);
            pen.text(
                "+",
                (x - 13.0, y - 8.0),
                Anchor::Start,
                Weight::SemiBold,
                SIZE + 1.0,
            );
        }
        PartKind::Supply(_) => {
            pen.ring((x, y), 14.0);
            pen.text(
                "G",
                (x, y + 4.0),
                Anchor::Middle,
                Weight::Regular,
                SIZE + 1.0,
            );
        }
        _ => pen.frame(x - 5.0, y - 14.0, x + 5.0, y + 14.0, BOLD),
    }
}

fn button(pen: &mut Pen<'_>, symbol: &Symbol) {
    let a = symbol.area;
    let ink = Theme::INK;
    let x = a.x0 + 18.0;
    for (pin, px, py) in &symbol.pins {
        if matches!(pin, Pin::A(_)) {
            pen.line(&[(*px, *py), (x, *py), (x, a.y0 + 62.0)], ink, THIN + 0.2);
        } else {
            pen.line(&[(x, a.y0 + 84.0), (*px, *py)], ink, THIN + 0.2);
        }
    }
    pen.line(&[(x, a.y0 + 84.0), (x - 9.0, a.y0 + 64.0)], ink, BOLD);
    pen.dashed(&[(x - 5.0, a.y0 + 73.0), (x - 14.0, a.y0 + 73.0)], THIN);
    pen.line(
        &[
            (x - 11.0, a.y0 + 68.0),
            (x - 14.0, a.y0 + 68.0),
            (x - 14.0, a.y0 + 78.0),
            (x - 11.0, a.y0 + 78.0),
        ],
        ink,
        THIN + 0.2,
    );
}

/// A light-emitting diode.
fn led(pen: &mut Pen<'_>, x: f64, y: f64) {
    let ink = Theme::INK;
    pen.line(&[(x - 18.0, y), (x + 18.0, y)], ink, THIN);
    pen.solid(&[(x - 7.0, y - 8.0), (x - 7.0, y + 8.0), (x + 7.0, y)]);
    pen.line(&[(x + 7.0, y - 8.0), (x + 7.0, y + 8.0)], ink, BOLD);
    for shift in [0.0, 7.0] {
        let (ax, ay) = (x + shift, y - 10.0);
        let (bx, by) = (ax + 6.0, ay - 8.0);
        pen.line(&[(ax, ay), (bx, by)], ink, THIN);
        pen.solid(&[
            (bx + 1.5, by - 2.0),
            (bx - 3.2, by + 1.0),
            (bx + 0.8, by + 4.0),
        ]);
    }
}
