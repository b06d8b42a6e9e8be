//! Lays the netlist and the strips' contact points out as one list of nodes and links, and finds
//! what is short-circuited or hangs loose.

use super::error::NetworkError;
use super::network::{Branch, Rail, Source, StripSpec};

/// A pixel at which a strip touches the network: its two pads are nodes of the network.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Break {
    pub(super) pixel: usize,
    pub(super) pos: usize,
    pub(super) neg: usize,
}

/// A resistance of the network, 0 ohm included. `origin` is what it stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) ohm: f64,
    pub(super) origin: Origin,
}

/// What a link stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Origin {
    /// A resistance of the netlist.
    Branch(usize),
    /// The joint of a feed of a strip.
    Feed { strip: usize, feed: usize },
    /// The bare rail of a strip between two breaks, as if no pixel drew current.
    Span,
}

/// Nodes (named ones first, then the pads of the breaks) and the links between them.
#[derive(Debug, Clone)]
pub(super) struct Topology {
    pub(super) nodes: usize,
    pub(super) reference: usize,
    pub(super) links: Vec<Link>,
    /// Breaks of each strip in order of pixel.
    pub(super) breaks: Vec<Vec<Break>>,
}

struct UnionFind(Vec<usize>);

impl UnionFind {
    fn new(n: usize) -> Self {
        Self((0..n).collect())
    }
    fn find(&mut self, mut x: usize) -> usize {
        while self.0[x] != x {
            self.0[x] = self.0[self.0[x]];
            x = self.0[x];
        }
        x
    }
    /// Joins two sets; false if they were one already.
    fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b)] = a.min(b);
        a != b
    }
}

impl Topology {
    pub(super) fn new<L>(
        named: &[String],
        branches: &[Branch],
        sources: &[Source],
        strips: &[StripSpec<L>],
    ) -> Result<Self, NetworkError> {
        let mut names: Vec<String> = named.to_vec();
        let breaks: Vec<_> = strips.iter().map(|s| break_pads(s, &mut names)).collect();
        let all = links(branches, strips, &breaks);
        let mut joined = UnionFind::new(names.len());
        // Nodes joined by 0 ohm are one. A second 0-ohm path between nodes that are one already has
        // no defined share of the current: it is left out, and its current reads 0.
        let kept: Vec<Link> = all
            .into_iter()
            .filter(|l| l.ohm > 0.0 || joined.join(l.from, l.to))
            .collect();
        for source in sources {
            if joined.find(source.positive.0) == joined.find(source.negative.0) {
                return Err(NetworkError::ShortedSource {
                    source_name: source.name.clone(),
                });
            }
        }
        let reference = sources[0].negative.0;
        check_floating(&names, &kept, sources, reference)?;
        Ok(Self {
            nodes: names.len(),
            reference,
            links: kept,
            breaks,
        })
    }

    /// Whether sources without resistance close a loop, alone or over links of 0 ohm: the current round it has no
    /// limit or no defined value. Told from the netlist, since the pivots of such a matrix may be rounding instead
    /// of 0.
    pub(super) fn has_loop_without_resistance(&self, sources: &[Source]) -> bool {
        let mut joined = UnionFind::new(self.nodes);
        for link in self.links.iter().filter(|l| l.ohm == 0.0) {
            joined.join(link.from, link.to);
        }
        sources
            .iter()
            .filter(|s| s.ohm == 0.0)
            .any(|s| !joined.join(s.positive.0, s.negative.0))
    }
}

fn break_pads<L>(strip: &StripSpec<L>, names: &mut Vec<String>) -> Vec<Break> {
    let mut pixels: Vec<usize> = strip.feeds.iter().map(|f| f.pixel).collect();
    pixels.sort_unstable();
    pixels.dedup();
    let mut pad = |pixel: usize, sign: char| {
        names.push(format!("{}[{pixel}]{sign}", strip.name));
        names.len() - 1
    };
    pixels
        .into_iter()
        .map(|pixel| Break {
            pixel,
            pos: pad(pixel, '+'),
            neg: pad(pixel, '-'),
        })
        .collect()
}

fn links<L>(branches: &[Branch], strips: &[StripSpec<L>], breaks: &[Vec<Break>]) -> Vec<Link> {
    let mut links: Vec<Link> = branches
        .iter()
        .enumerate()
        .map(|(i, b)| Link {
            from: b.from.0,
            to: b.to.0,
            ohm: b.ohm,
            origin: Origin::Branch(i),
        })
        .collect();
    for (s, (strip, breaks)) in strips.iter().zip(breaks).enumerate() {
        for (f, feed) in strip.feeds.iter().enumerate() {
            let Some(at) = breaks.iter().find(|b| b.pixel == feed.pixel) else {
                continue;
            };
            // Its current counts positive as it flows in operation: into the positive rail, out
            // of the negative.
            let (from, to) = match feed.rail {
                Rail::Positive => (feed.node.0, at.pos),
                Rail::Negative => (at.neg, feed.node.0),
            };
            links.push(Link {
                from,
                to,
                ohm: feed.ohm,
                origin: Origin::Feed { strip: s, feed: f },
            });
        }
        for pair in breaks.windows(2) {
            let pitches = (pair[1].pixel - pair[0].pixel) as f64;
            let mut span = |from, to, ohm: f64| {
                links.push(Link {
                    from,
                    to,
                    ohm: ohm * pitches,
                    origin: Origin::Span,
                });
            };
            span(pair[0].pos, pair[1].pos, strip.rail_pos_ohm);
            span(pair[1].neg, pair[0].neg, strip.rail_neg_ohm);
        }
    }
    links
}

/// Every node must have a path of resistances and cells to the reference. Loads and pixels do not
/// count: a node that hangs on them alone has no defined voltage when they draw nothing.
fn check_floating(
    names: &[String],
    links: &[Link],
    sources: &[Source],
    reference: usize,
) -> Result<(), NetworkError> {
    let mut reached = UnionFind::new(names.len());
    for link in links {
        reached.join(link.from, link.to);
    }
    for source in sources {
        reached.join(source.positive.0, source.negative.0);
    }
    let root = reached.find(reference);
    let nodes: Vec<String> = names
        .iter()
        .enumerate()
        .filter(|(i, _)| reached.find(*i) != root)
        .map(|(_, name)| name.clone())
        .collect();
    if nodes.is_empty() {
        Ok(())
    } else {
        Err(NetworkError::FloatingNodes { nodes })
    }
}
