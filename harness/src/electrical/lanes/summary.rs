//! What eight solved frames come to: nodes, branches, cells and strips, without every pixel.

use super::linear::{survey, Work};
use super::survey::Survey;
use super::vector::{Lanes, LANES};
use crate::electrical::network::{BranchId, Network, NodeId, Rail, SourceId, StripId};
use crate::electrical::reading::{Reading, StripSupply};
use crate::electrical::reduce::{Ports, Reduced};
use crate::electrical::topology::Origin;

/// Figures of the last batch, a number a lane.
#[derive(Debug, Clone)]
pub(super) struct Summary {
    node_v: Vec<Lanes>,
    link_a: Vec<Lanes>,
    source_a: Vec<Lanes>,
    source_v: Vec<Lanes>,
    /// Port currents, then the EMFs behind the nominal resistances: what all of it follows from.
    columns: Vec<Lanes>,
    /// The link of each branch; none where a 0-ohm path beside another one was left out.
    branch_link: Vec<Option<usize>>,
    strips: Vec<StripSummary>,
}

#[derive(Debug, Clone)]
struct StripSummary {
    first_port: usize,
    total_a: Lanes,
    survey: Survey,
    first_v: Lanes,
    last_v: Lanes,
    rail_a: Lanes,
    /// For each break the links that feed it, and whether into the positive rail.
    feeds: Vec<Vec<(usize, bool)>>,
}

impl Summary {
    pub(super) fn new(network: &Network, strip_port: &[usize], ports: usize) -> Self {
        let zero = |n: usize| vec![Lanes::ZERO; n];
        let links = &network.topology.links;
        let link_of = |wanted: Origin| links.iter().position(|l| l.origin == wanted);
        let breaks = &network.topology.breaks;
        let each = network.strips.iter().zip(breaks).zip(strip_port);
        let strips = each.enumerate().map(|(k, ((spec, breaks), port))| {
            let feeds = breaks.iter().map(|b| {
                let here = spec
                    .feeds
                    .iter()
                    .enumerate()
                    .filter(|(_, f)| f.pixel == b.pixel);
                here.filter_map(|(i, f)| {
                    let link = link_of(Origin::Feed { strip: k, feed: i })?;
                    Some((link, f.rail == Rail::Positive))
                })
                .collect()
            });
            StripSummary {
                first_port: *port,
                total_a: Lanes::ZERO,
                survey: Survey::new(breaks.len()),
                first_v: Lanes::ZERO,
                last_v: Lanes::ZERO,
                rail_a: Lanes::ZERO,
                feeds: feeds.collect(),
            }
        });
        let branches = 0..network.branches.len();
        Self {
            node_v: zero(network.topology.nodes),
            link_a: zero(links.len()),
            source_a: zero(network.sources.len()),
            source_v: zero(network.sources.len()),
            columns: zero(ports + network.sources.len()),
            branch_link: branches.map(|b| link_of(Origin::Branch(b))).collect(),
            strips: strips.collect(),
        }
    }

    /// Cells, nodes and links, and the current of each strip.
    pub(super) fn take(&mut self, reduced: &Reduced, ports: &mut [Ports], work: &Work) {
        let p = reduced.ports;
        self.columns[..p].copy_from_slice(&work.port_a);
        for (l, port) in ports.iter_mut().enumerate() {
            port.cell_currents(reduced, Some(work.port_a.iter().map(|a| a.0[l])));
            for k in 0..reduced.sources {
                self.columns[p + k].0[l] = port.emf_v[k];
                self.source_a[k].0[l] = port.source_a[k];
                self.source_v[k].0[l] = port.cells[k].0 - port.cells[k].1 * port.source_a[k];
            }
        }
        combine(&reduced.node, &self.columns, &mut self.node_v);
        combine(&reduced.link, &self.columns, &mut self.link_a);
        for (s, strip) in self.strips.iter_mut().zip(&work.strips) {
            let ports = &work.port_a[s.first_port..s.first_port + strip.breaks.len()];
            s.total_a = ports.iter().fold(Lanes::ZERO, |sum, a| sum + *a);
        }
    }

    /// Supply along the strips and current of their rails; after [`Summary::take`].
    pub(super) fn take_strips(&mut self, work: &Work) {
        for (s, strip) in self.strips.iter_mut().zip(&work.strips) {
            survey(strip, &mut s.survey);
            if let (Some(first), Some(last)) = (strip.px.first(), strip.px.last()) {
                (s.first_v, s.last_v) = (first.v, last.v);
            }
            s.find_rail(&self.link_a, &strip.breaks, |i| strip.px[i].a);
        }
    }
}

impl StripSummary {
    /// Pixels only draw, so that the current of a rail falls from feed to feed: its largest amount is found
    /// beside a feed.
    fn find_rail(&mut self, link_a: &[Lanes], breaks: &[usize], pixel_a: impl Fn(usize) -> Lanes) {
        let between = &self.survey.between_a;
        let mut pos = -between[0];
        let mut neg = pos;
        let mut largest = pos.abs();
        for (k, feeds) in self.feeds.iter().enumerate() {
            for (link, positive) in feeds {
                *(if *positive { &mut pos } else { &mut neg }) += link_a[*link];
            }
            let own = pixel_a(breaks[k]);
            (pos, neg) = (pos - own, neg - own);
            largest = largest.max(pos.abs()).max(neg.abs());
            (pos, neg) = (pos - between[k + 1], neg - between[k + 1]);
            // After the last pixel there is no rail; what is left there is rounding.
            largest = largest.max(pos.abs()).max(neg.abs());
        }
        self.rail_a = largest;
    }
}

/// out = matrix · columns, row by row.
fn combine(matrix: &[f64], columns: &[Lanes], out: &mut [Lanes]) {
    for (row, out) in matrix.chunks_exact(columns.len().max(1)).zip(out) {
        let mut sum = Lanes::ZERO;
        for (factor, column) in row.iter().zip(columns) {
            sum += *column * *factor;
        }
        *out = sum;
    }
}

/// One frame of the last batch.
#[derive(Debug, Clone, Copy)]
pub struct Lane<'a> {
    pub(super) of: &'a Summary,
    pub(super) work: &'a Work,
    pub(super) lane: usize,
}

impl Lane<'_> {
    fn pick(&self, of: &Lanes) -> f64 {
        of.0[self.lane % LANES]
    }
}

impl Reading for Lane<'_> {
    fn node_v(&self, id: NodeId) -> f64 {
        self.pick(&self.of.node_v[id.index()])
    }
    fn branch_a(&self, id: BranchId) -> f64 {
        // As in a solution of one frame: what was left out reads 0.
        let link = self.of.branch_link[id.index()];
        link.map_or(0.0, |link| self.pick(&self.of.link_a[link]))
    }
    fn source_a(&self, id: SourceId) -> f64 {
        self.pick(&self.of.source_a[id.index()])
    }
    fn source_terminal_v(&self, id: SourceId) -> f64 {
        self.pick(&self.of.source_v[id.index()])
    }
    fn strip_total_a(&self, id: StripId) -> f64 {
        self.pick(&self.of.strips[id.index()].total_a)
    }
    fn strip_supply(&self, id: StripId) -> StripSupply {
        let strip = &self.of.strips[id.index()];
        StripSupply {
            min_v: self.pick(&strip.survey.min_v),
            // An index that was turned into a number: exact.
            min_pixel: self.pick(&strip.survey.min_at) as usize,
            first_v: self.pick(&strip.first_v),
            last_v: self.pick(&strip.last_v),
        }
    }
    fn copy_supply(&self, id: StripId, out: &mut [f64]) {
        let all = out.iter_mut().zip(&self.work.strips[id.index()].px);
        all.for_each(|(to, pixel)| *to = self.pick(&pixel.v));
    }
    fn rail_peak_a(&self, id: StripId) -> f64 {
        self.pick(&self.of.strips[id.index()].rail_a)
    }
}
