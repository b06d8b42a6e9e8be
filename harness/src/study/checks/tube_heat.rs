//! Heat of a trace in the tubes of the enclosure, for every check that asks how warm it gets.
//!
//! All electrical power counts as heat. A strip's share is what it draws at the cell's terminals, so the losses of
//! the wires and contacts on its way count where the strip is; the rest is the board's. The cell's own heat comes on
//! top. What counts is the larger of the mean over the trace, as if it were played on and on, and the largest running
//! average over [`TAU_S`].

use crate::build::parts::Tube;
use crate::build::prop::PartKind;
use crate::electrical::heat::tube::{HeatSource, TubeHeat, TubeShape};
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::units::math;
use crate::units::Quantity;

/// Running average of heat, seconds: shorter than any hand-held tube's thermal time, so cautious.
const TAU_S: f64 = 120.0;
/// Width of a strip of pixels, metres. Common practice: 10 to 12 mm.
const STRIP_M: f64 = 0.012;
/// Length and width of a board where nothing says more, metres. Common practice.
const BOARD_M: (f64, f64) = (0.05, 0.02);
/// Length of a cell that states none, metres: that of the shortest usual size.
const CELL_LENGTH_M: f64 = 0.065;

/// What gives heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Giver {
    Strip(usize),
    Board,
    Cell,
}

#[derive(Debug, Clone)]
struct Source {
    giver: Giver,
    tube: usize,
    length_m: f64,
    diameter_m: f64,
    tau_s: f64,
    heat_j: f64,
    running_w: f64,
    most_w: f64,
}

/// Heat of a trace in each tube.
#[derive(Debug, Clone)]
pub(super) struct TubeHeats {
    shapes: Vec<TubeShape>,
    sources: Vec<Source>,
    surroundings_k: f64,
    time_s: f64,
    /// Cooling of the cell, W/K, where its diameter is not known.
    cell_cooling: Option<f64>,
}

impl TubeHeats {
    /// For a prop whose enclosure is described; `None` for any other.
    pub(super) fn new(subject: Subject<'_>) -> Option<Self> {
        let prop = subject.prop;
        if prop.enclosure.is_empty() {
            return None;
        }
        let mut sources = Vec::new();
        let mut add = |part: usize, giver, length_m: f64, diameter_m: f64, tau_s: f64| {
            if let Some(tube) = prop.tube_of(part) {
                sources.push(Source {
                    giver,
                    tube,
                    length_m,
                    diameter_m,
                    tau_s,
                    heat_j: 0.0,
                    running_w: 0.0,
                    most_w: 0.0,
                });
            }
        };
        for (k, info) in subject.circuit.strips.iter().enumerate() {
            let pitch = match prop.parts.get(info.part).map(|p| &p.kind) {
                Some(PartKind::Strip(s)) => s.pitch,
                _ => None,
            };
            let length = pitch.map_or(f64::INFINITY, |p| p.si() * f64::from(info.pixels));
            add(
                info.part,
                Giver::Strip(k),
                length.max(STRIP_M),
                STRIP_M,
                TAU_S,
            );
        }
        if let Some(board) = subject.circuit.board {
            add(board, Giver::Board, BOARD_M.0, BOARD_M.1, TAU_S);
        }
        let mut cell_cooling = None;
        if let Some((part, cell)) = prop.cell() {
            let length = cell.length.as_ref().map_or(CELL_LENGTH_M, |l| l.low_si());
            let diameter = cell.diameter.as_ref().map_or(0.0, |d| d.low_si());
            cell_cooling = cell.cooling.as_ref().map(|c| c.low_si());
            let tau = match (&cell.heat_capacity, &cell.cooling) {
                (Some(c), Some(w)) if w.high_si() > 0.0 => (c.low_si() / w.high_si()).max(TAU_S),
                _ => TAU_S,
            };
            add(part, Giver::Cell, length, diameter, tau);
        }
        Some(Self {
            shapes: prop.enclosure.iter().map(shape).collect(),
            sources,
            surroundings_k: subject.circuit.condition.temperature_k,
            time_s: 0.0,
            cell_cooling,
        })
    }

    /// Takes the next frame; one without an operating point is left out.
    pub(super) fn observe(&mut self, f: &Figures) {
        if f.collapsed.is_some() || !f.cell_a.is_finite() {
            return;
        }
        self.time_s += f.period_s;
        let strips: f64 = f.strips.iter().map(|s| s.delivered_a).sum();
        let mut last = (0.0, 0.0);
        for source in &mut self.sources {
            let heat_w = match source.giver {
                Giver::Strip(k) => f.strips.get(k).map_or(0.0, |s| s.delivered_a) * f.cell_v,
                Giver::Board => (f.cell_a - strips).max(0.0) * f.cell_v,
                Giver::Cell => f.cell_heat_w,
            };
            if last.0 != source.tau_s {
                last = (source.tau_s, -math::expm1(-f.period_s / source.tau_s));
            }
            source.heat_j += heat_w * f.period_s;
            source.running_w += (heat_w - source.running_w) * last.1;
            source.most_w = source.most_w.max(source.running_w);
        }
    }

    fn heat_w(&self, source: &Source) -> f64 {
        (source.heat_j / self.time_s).max(source.most_w)
    }

    fn in_tube(&self, tube: usize) -> (Vec<HeatSource>, Vec<Giver>) {
        let here = self.sources.iter().filter(|s| s.tube == tube);
        here.map(|s| {
            let source = HeatSource {
                heat_w: self.heat_w(s),
                length_m: s.length_m,
                diameter_m: s.diameter_m,
            };
            (source, s.giver)
        })
        .unzip()
    }

    /// Whether any frame was seen.
    pub(super) fn seen(&self) -> bool {
        self.time_s > 0.0
    }

    /// All heat in a tube, watts.
    pub(super) fn total_w(&self, tube: usize) -> f64 {
        self.in_tube(tube).0.iter().map(|s| s.heat_w).sum()
    }

    /// The warmest place of a tube.
    pub(super) fn warmest(&self, tube: usize) -> Option<TubeHeat> {
        let shape = self.shapes.get(tube)?;
        Some(shape.warmest(&self.in_tube(tube).0, self.surroundings_k))
    }

    /// Surface of the pixels in a tube, kelvin; `None` where it holds none.
    pub(super) fn pixels_k(&self, tube: usize) -> Option<f64> {
        let shape = self.shapes.get(tube)?;
        let (sources, givers) = self.in_tube(tube);
        let strips = (0..sources.len()).filter(|i| matches!(givers.get(*i), Some(Giver::Strip(_))));
        strips
            .map(|i| shape.over(&sources, i, self.surroundings_k).content_k)
            .reduce(f64::max)
    }

    /// Temperature of the cell, kelvin, and its heat, watts; `None` where it lies in no tube or neither its diameter
    /// nor its cooling is known.
    pub(super) fn cell(&self) -> Option<(f64, f64)> {
        let source = self.sources.iter().find(|s| s.giver == Giver::Cell)?;
        let shape = self.shapes.get(source.tube)?;
        let (sources, givers) = self.in_tube(source.tube);
        let which = givers.iter().position(|g| *g == Giver::Cell)?;
        let heat = shape.over(&sources, which, self.surroundings_k);
        let heat_w = self.heat_w(source);
        let kelvin = if source.diameter_m > 0.0 {
            heat.content_k
        } else {
            heat.bore_k + heat_w / self.cell_cooling.filter(|c| *c > 0.0)?
        };
        Some((kelvin, heat_w))
    }

    /// Warmest air about a part, kelvin: the bore of its tube, or the surroundings where it lies in none.
    pub(super) fn around_k(&self, tube: Option<usize>) -> f64 {
        tube.filter(|_| self.seen())
            .and_then(|t| self.warmest(t))
            .map_or(self.surroundings_k, |h| h.bore_k)
    }

    /// The same for every tube: for who asks of many parts.
    pub(super) fn bores_k(&self) -> Vec<f64> {
        let tubes = 0..self.shapes.len();
        tubes.map(|tube| self.around_k(Some(tube))).collect()
    }

    /// Bore of a tube, metres.
    pub(super) fn bore_m(&self, tube: usize) -> Option<f64> {
        self.shapes.get(tube).map(TubeShape::bore_m)
    }
}

/// The unfavourable ends of a tube's figures: small, thick-walled, shining little.
fn shape(tube: &Tube) -> TubeShape {
    TubeShape {
        outer_m: tube.outer.low_si(),
        wall_m: tube.wall.high_si(),
        length_m: tube.length.low_si(),
        conductivity: tube.material.conductivity,
        emissivity: tube
            .emissivity
            .as_ref()
            .map_or(tube.material.emissivity, |e| e.low_si()),
    }
}
