//! What a solved frame looks like: every voltage and every current.

use super::load::{LoadState, LoadWork};
use super::network::{BranchId, LoadId, Network, NodeId, SourceId, StripId};
use super::pixel::PixelLaw;
use super::reduce::{Ports, Reduced};
use super::strip::StripWork;
use super::topology::{Break, Link, Origin};

/// One solved frame. Voltages are in volt against the minus of the first cell, currents in ampere.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    node_v: Vec<f64>,
    branch_a: Vec<f64>,
    source_a: Vec<f64>,
    source_v: Vec<f64>,
    loads: Vec<(f64, f64, LoadState)>,
    strips: Vec<StripSolution>,
    steps: usize,
    links: Vec<Link>,
}

/// One strip of a solved frame.
#[derive(Debug, Clone, PartialEq)]
pub struct StripSolution {
    /// Supply of each pixel (positive pad minus negative pad), in volt.
    pub supply_v: Vec<f64>,
    /// Current of each pixel, in ampere.
    pub current_a: Vec<f64>,
    /// Current through each feed, in ampere: into the positive rail, out of the negative one.
    pub feed_a: Vec<f64>,
    /// Current of the whole strip, in ampere.
    pub total_a: f64,
    /// Lowest supply along the strip, in volt.
    pub min_supply_v: f64,
    /// The pixel that has it, from 0.
    pub min_supply_pixel: usize,
    breaks: Vec<BreakSolution>,
    rail_ohm: (f64, f64),
}

/// A pixel at which feeds are soldered: what flows in and out there, and its pads.
#[derive(Debug, Clone, PartialEq)]
struct BreakSolution {
    at: Break,
    feeds: Vec<(usize, bool)>,
    pos_v: f64,
    neg_v: f64,
}

/// The rails of a strip in a solved frame.
#[derive(Debug, Clone, Default)]
pub struct RailSolution {
    /// Positive rail, from pixel i to i+1, in ampere.
    pub pos_a: Vec<f64>,
    /// Negative rail, from pixel i+1 to i (it returns), in ampere.
    pub neg_a: Vec<f64>,
    /// Positive pad of each pixel, in volt.
    pub pos_v: Vec<f64>,
    /// Negative pad of each pixel, in volt.
    pub neg_v: Vec<f64>,
}

impl Solution {
    pub(super) fn new<L: PixelLaw>(network: &Network<L>) -> Self {
        let strips = network
            .strips
            .iter()
            .zip(&network.topology.breaks)
            .map(|(spec, breaks)| {
                let breaks = breaks
                    .iter()
                    .map(|at| BreakSolution {
                        at: at.clone(),
                        feeds: (spec.feeds.iter().enumerate())
                            .filter(|(_, f)| f.pixel == at.pixel)
                            .map(|(i, f)| (i, f.rail == super::network::Rail::Positive))
                            .collect(),
                        pos_v: 0.0,
                        neg_v: 0.0,
                    })
                    .collect();
                StripSolution {
                    supply_v: vec![0.0; spec.pixels],
                    current_a: vec![0.0; spec.pixels],
                    feed_a: vec![0.0; spec.feeds.len()],
                    total_a: 0.0,
                    min_supply_v: 0.0,
                    min_supply_pixel: 0,
                    breaks,
                    rail_ohm: (spec.rail_pos_ohm, spec.rail_neg_ohm),
                }
            });
        Self {
            node_v: vec![0.0; network.topology.nodes],
            branch_a: vec![0.0; network.branches.len()],
            source_a: vec![0.0; network.sources.len()],
            source_v: vec![0.0; network.sources.len()],
            loads: vec![(0.0, 0.0, LoadState::On); network.loads.len()],
            strips: strips.collect(),
            steps: 0,
            links: network.topology.links.clone(),
        }
    }

    pub(super) fn fill<L: PixelLaw + Clone>(
        &mut self,
        reduced: &Reduced,
        ports: &Ports,
        columns: (&[f64], &[f64]),
        strips: &[StripWork<L>],
        loads: &[LoadWork],
        steps: usize,
    ) {
        self.fill_linear(reduced, ports, columns, steps);
        for (k, work) in loads.iter().enumerate() {
            self.fill_load(k, (work.v, work.a, work.state));
        }
        for (k, work) in strips.iter().enumerate() {
            self.fill_strip(k, work.v.iter().copied().zip(work.a.iter().copied()));
        }
    }

    /// Everything that follows linearly from port currents and EMFs.
    pub(super) fn fill_linear(
        &mut self,
        reduced: &Reduced,
        ports: &Ports,
        (port_a, emf_v): (&[f64], &[f64]),
        steps: usize,
    ) {
        let columns = reduced.ports + reduced.sources;
        let of = |matrix: &[f64], row: usize| {
            let row = &matrix[row * columns..(row + 1) * columns];
            super::dense::dot(&row[..reduced.ports], port_a)
                + super::dense::dot(&row[reduced.ports..], emf_v)
        };
        for (i, v) in self.node_v.iter_mut().enumerate() {
            *v = of(&reduced.node, i);
        }
        for (i, link) in self.links.iter().enumerate() {
            match link.origin {
                Origin::Branch(b) => self.branch_a[b] = of(&reduced.link, i),
                Origin::Feed { strip, feed } => {
                    self.strips[strip].feed_a[feed] = of(&reduced.link, i);
                }
                Origin::Span => {}
            }
        }
        self.source_a.copy_from_slice(&ports.source_a);
        for (k, v) in self.source_v.iter_mut().enumerate() {
            *v = ports.cells[k].0 - ports.cells[k].1 * ports.source_a[k];
        }
        self.steps = steps;
    }

    /// Supply, current and state of a load.
    pub(super) fn fill_load(&mut self, load: usize, found: (f64, f64, LoadState)) {
        self.loads[load] = found;
    }

    /// Supply and current of each pixel of a strip; to be called after the linear part.
    pub(super) fn fill_strip(&mut self, strip: usize, pixels: impl Iterator<Item = (f64, f64)>) {
        self.strips[strip].fill(pixels, &self.node_v);
    }

    /// Voltage of a node, in volt.
    pub fn node_v(&self, id: NodeId) -> f64 {
        self.node_v[id.index()]
    }
    /// Current through a resistance, in ampere, in the direction in which it was added. A 0-ohm
    /// resistance beside another 0-ohm path reads 0: the share between them is undefined.
    pub fn branch_a(&self, id: BranchId) -> f64 {
        self.branch_a[id.index()]
    }
    /// Current out of a cell, discharge positive, in ampere.
    pub fn source_a(&self, id: SourceId) -> f64 {
        self.source_a[id.index()]
    }
    /// Voltage between the terminals of a cell, in volt.
    pub fn source_terminal_v(&self, id: SourceId) -> f64 {
        self.source_v[id.index()]
    }
    /// Supply of a load, in volt.
    pub fn load_v(&self, id: LoadId) -> f64 {
        self.loads[id.index()].0
    }
    /// Current of a load, in ampere.
    pub fn load_a(&self, id: LoadId) -> f64 {
        self.loads[id.index()].1
    }
    /// If a load runs.
    pub fn load_state(&self, id: LoadId) -> LoadState {
        self.loads[id.index()].2
    }
    /// A strip.
    pub fn strip(&self, id: StripId) -> &StripSolution {
        &self.strips[id.index()]
    }
    /// Newton steps that this frame took.
    pub fn steps(&self) -> usize {
        self.steps
    }
}

impl StripSolution {
    fn fill(&mut self, pixels: impl Iterator<Item = (f64, f64)>, node_v: &[f64]) {
        let (mut min, mut at, mut total_a) = (f64::INFINITY, 0, 0.0);
        let slots = self.supply_v.iter_mut().zip(&mut self.current_a);
        for (i, ((slot_v, slot_a), (v, a))) in slots.zip(pixels).enumerate() {
            (*slot_v, *slot_a) = (v, a);
            total_a += a;
            if v < min {
                (min, at) = (v, i);
            }
        }
        (self.min_supply_v, self.min_supply_pixel) = (min, at);
        self.total_a = total_a;
        for b in &mut self.breaks {
            (b.pos_v, b.neg_v) = (node_v[b.at.pos], node_v[b.at.neg]);
        }
    }

    /// Currents of both rails and voltages of all pads, written to `out`.
    pub fn rails(&self, out: &mut RailSolution) {
        let n = self.supply_v.len();
        for list in [&mut out.pos_a, &mut out.neg_a] {
            list.clear();
            list.reserve(n.saturating_sub(1));
        }
        self.each_span(|pos, neg| {
            out.pos_a.push(pos);
            out.neg_a.push(neg);
        });
        self.pads(out);
    }

    /// Largest current anywhere in the rails, in ampere.
    pub fn rail_peak_a(&self) -> f64 {
        let mut largest: f64 = 0.0;
        self.each_span(|pos, neg| largest = largest.max(pos.abs()).max(neg.abs()));
        largest
    }

    /// Hands over the currents of both rails from each pixel to the next.
    fn each_span(&self, mut see: impl FnMut(f64, f64)) {
        let n = self.supply_v.len();
        let (mut pos, mut neg) = (0.0, 0.0);
        let mut next = 0;
        for i in 0..n.saturating_sub(1) {
            if let Some(b) = self.breaks.get(next).filter(|b| b.at.pixel == i) {
                for (feed, positive) in &b.feeds {
                    *(if *positive { &mut pos } else { &mut neg }) += self.feed_a[*feed];
                }
                next += 1;
            }
            pos -= self.current_a[i];
            neg -= self.current_a[i];
            see(pos, neg);
        }
    }

    fn pads(&self, out: &mut RailSolution) {
        let n = self.supply_v.len();
        out.pos_v.clear();
        out.pos_v.resize(n, 0.0);
        out.neg_v.clear();
        out.neg_v.resize(n, 0.0);
        let Some(first) = self.breaks.first() else {
            return;
        };
        let (rp, rn) = self.rail_ohm;
        let start = first.at.pixel;
        (out.pos_v[start], out.neg_v[start]) = (first.pos_v, first.neg_v);
        for i in (0..start).rev() {
            out.pos_v[i] = out.pos_v[i + 1] + rp * out.pos_a[i];
            out.neg_v[i] = out.neg_v[i + 1] - rn * out.neg_a[i];
        }
        for i in start + 1..n {
            out.pos_v[i] = out.pos_v[i - 1] - rp * out.pos_a[i - 1];
            out.neg_v[i] = out.neg_v[i - 1] + rn * out.neg_a[i - 1];
        }
    }
}
