//! What a laid-out diagram consists of, in its own px, before it is fitted to paper.

use crate::build::netlist::Pin;

/// A rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left.
    pub x0: f64,
    /// Top.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Bottom.
    pub y1: f64,
}

impl Area {
    /// Whether two rectangles share more than an edge.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// Whether a straight piece of line that runs right-angled goes through it.
    pub fn cut_by(&self, a: (f64, f64), b: (f64, f64)) -> bool {
        let piece = Self {
            x0: a.0.min(b.0) - 0.01,
            y0: a.1.min(b.1) - 0.01,
            x1: a.0.max(b.0) + 0.01,
            y1: a.1.max(b.1) + 0.01,
        };
        self.overlaps(&piece)
    }
}

/// A wire as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnWire {
    /// Index into the prop's wires.
    pub wire: usize,
    /// Its corners, right-angled.
    pub points: Vec<(f64, f64)>,
}

/// A joint of several wires: the bar that they end on.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Part and pin of the joint.
    pub part: usize,
    /// The pin.
    pub pin: Pin,
    /// Pieces of line, each right-angled.
    pub pieces: Vec<Vec<(f64, f64)>>,
    /// Where wires end on it.
    pub dots: Vec<(f64, f64)>,
}

/// A symbol or box.
#[derive(Debug, Clone, PartialEq)]
pub struct Symbol {
    /// Index into the prop's parts.
    pub part: usize,
    /// The pin it is entered at from the left, for two-ended parts in a line.
    pub entry: Option<Pin>,
    /// What it covers.
    pub area: Area,
    /// Its wired pins.
    pub pins: Vec<(Pin, f64, f64)>,
}

/// Lines of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// The lines, the first one in bold where `bold`.
    pub lines: Vec<String>,
    /// What they cover.
    pub area: Area,
    /// Whether the first line is a name.
    pub bold: bool,
    /// Size of the letters.
    pub size: f64,
}

/// A laid-out diagram.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scene {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Every wire, once.
    pub wires: Vec<DrawnWire>,
    /// Every joint.
    pub bars: Vec<Bar>,
    /// Every part that is wired, a connector once a pole.
    pub symbols: Vec<Symbol>,
    /// Every label.
    pub words: Vec<Words>,
}

impl Scene {
    /// Every place across that a line or label reaches.
    fn reaches(&self) -> impl Iterator<Item = f64> + '_ {
        let wires = self.wires.iter().flat_map(|w| &w.points);
        let bars = self.bars.iter().flat_map(|b| b.pieces.iter().flatten());
        let words = self.words.iter().flat_map(|w| [w.area.x0, w.area.x1]);
        wires.chain(bars).map(|p| p.0).chain(words)
    }

    /// How far to the left anything reaches.
    pub(super) fn left(&self) -> f64 {
        self.reaches().fold(f64::INFINITY, f64::min)
    }

    /// How far to the right anything reaches.
    pub(super) fn right(&self) -> f64 {
        self.reaches().fold(0.0, f64::max)
    }

    /// Moves everything.
    pub(super) fn shift_right(&mut self, by: f64) {
        let wires = self.wires.iter_mut().flat_map(|w| &mut w.points);
        let bars = self
            .bars
            .iter_mut()
            .flat_map(|b| b.pieces.iter_mut().flatten().chain(&mut b.dots));
        for point in wires.chain(bars) {
            point.0 += by;
        }
        for symbol in &mut self.symbols {
            symbol.area.x0 += by;
            symbol.area.x1 += by;
            for pin in &mut symbol.pins {
                pin.1 += by;
            }
        }
        for words in &mut self.words {
            words.area.x0 += by;
            words.area.x1 += by;
        }
    }
}
