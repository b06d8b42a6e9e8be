//! The netlist: nodes, resistances, cells, loads and strips, put together by name.

use std::fmt;

use super::error::NetworkError;
use super::load::LoadLaw;
use super::pixel::{PixelLaw, PixelType};
use super::topology::Topology;

/// A node of the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub(super) usize);
/// A resistance: wire, contact, fuse, protection, splice or resistive load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BranchId(pub(super) usize);
/// A cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SourceId(pub(super) usize);
/// A load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LoadId(pub(super) usize);
/// A strip; a single pixel is a strip of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StripId(pub(super) usize);

macro_rules! index {
    ($($name:ident),*) => { $(impl $name {
        /// Position in the order in which these were added, from 0.
        pub fn index(self) -> usize { self.0 }
        /// The one at that position. An index that the network does not have panics where it is
        /// used, as with a slice.
        pub fn from_index(index: usize) -> Self { Self(index) }
    })* };
}
index!(NodeId, BranchId, SourceId, LoadId, StripId);

/// One of the two supply rails of a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rail {
    /// The rail that supplies current.
    Positive,
    /// The rail that returns it.
    Negative,
}

impl fmt::Display for Rail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Rail::Positive => "positive",
            Rail::Negative => "negative",
        })
    }
}

/// Where a rail of a strip is joined to the network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feed {
    /// Which rail.
    pub rail: Rail,
    /// At which pixel, from 0.
    pub pixel: usize,
    /// The node it is joined to.
    pub node: NodeId,
    /// Resistance of the joint or lead in ohm, 0 for none.
    pub ohm: f64,
}

/// A strip: pixels in a row on two rails.
#[derive(Debug, Clone, PartialEq)]
pub struct StripSpec<L = PixelType> {
    /// Name, for messages.
    pub name: String,
    /// What each pixel is.
    pub law: L,
    /// Number of pixels.
    pub pixels: usize,
    /// Resistance of the positive rail from a pixel to the next, in ohm.
    pub rail_pos_ohm: f64,
    /// Resistance of the negative rail from a pixel to the next, in ohm.
    pub rail_neg_ohm: f64,
    /// Where it is fed; at least one feed a rail.
    pub feeds: Vec<Feed>,
}

#[derive(Debug, Clone)]
pub(super) struct Branch {
    pub(super) name: String,
    pub(super) from: NodeId,
    pub(super) to: NodeId,
    pub(super) ohm: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Source {
    pub(super) name: String,
    pub(super) positive: NodeId,
    pub(super) negative: NodeId,
    pub(super) emf_v: f64,
    pub(super) ohm: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Load {
    pub(super) name: String,
    pub(super) positive: NodeId,
    pub(super) negative: NodeId,
    pub(super) law: LoadLaw,
    pub(super) amount: f64,
}

/// A checked netlist, ready for a [`Solver`](super::Solver).
///
/// Reference of all node voltages is the minus of the first cell.
#[derive(Debug, Clone)]
pub struct Network<L = PixelType> {
    pub(super) nodes: Vec<String>,
    pub(super) branches: Vec<Branch>,
    pub(super) sources: Vec<Source>,
    pub(super) loads: Vec<Load>,
    pub(super) strips: Vec<StripSpec<L>>,
    pub(super) topology: Topology,
}

impl<L: PixelLaw> Network<L> {
    /// Starts an empty netlist.
    pub fn builder() -> NetworkBuilder<L> {
        NetworkBuilder::default()
    }

    /// Name of a node.
    pub fn node_name(&self, id: NodeId) -> &str {
        &self.nodes[id.0]
    }
    /// Name of a resistance.
    pub fn branch_name(&self, id: BranchId) -> &str {
        &self.branches[id.0].name
    }
    /// Resistance in ohm.
    pub fn branch_ohm(&self, id: BranchId) -> f64 {
        self.branches[id.0].ohm
    }
    /// The nodes a resistance joins, in the direction in which its current counts positive.
    pub fn branch_nodes(&self, id: BranchId) -> (NodeId, NodeId) {
        (self.branches[id.0].from, self.branches[id.0].to)
    }
    /// Name of a load.
    pub fn load_name(&self, id: LoadId) -> &str {
        &self.loads[id.0].name
    }
    /// Name of a cell.
    pub fn source_name(&self, id: SourceId) -> &str {
        &self.sources[id.0].name
    }
    /// A strip as it was given.
    pub fn strip(&self, id: StripId) -> &StripSpec<L> {
        &self.strips[id.0]
    }
    /// All nodes.
    pub fn node_ids(&self) -> impl Iterator<Item = NodeId> {
        (0..self.nodes.len()).map(NodeId)
    }
    /// All resistances.
    pub fn branch_ids(&self) -> impl Iterator<Item = BranchId> {
        (0..self.branches.len()).map(BranchId)
    }
    /// All cells.
    pub fn source_ids(&self) -> impl Iterator<Item = SourceId> {
        (0..self.sources.len()).map(SourceId)
    }
    /// All loads.
    pub fn load_ids(&self) -> impl Iterator<Item = LoadId> {
        (0..self.loads.len()).map(LoadId)
    }
    /// All strips.
    pub fn strip_ids(&self) -> impl Iterator<Item = StripId> {
        (0..self.strips.len()).map(StripId)
    }
}

/// Collects a netlist. Values are checked by [`build`](Self::build), all ids stay valid.
#[derive(Debug, Clone)]
pub struct NetworkBuilder<L = PixelType> {
    nodes: Vec<String>,
    branches: Vec<Branch>,
    sources: Vec<Source>,
    loads: Vec<Load>,
    strips: Vec<StripSpec<L>>,
}

impl<L> Default for NetworkBuilder<L> {
    fn default() -> Self {
        Self {
            nodes: Vec::new(),
            branches: Vec::new(),
            sources: Vec::new(),
            loads: Vec::new(),
            strips: Vec::new(),
        }
    }
}

impl<L: PixelLaw> NetworkBuilder<L> {
    /// The node of that name, made on first use.
    pub fn node(&mut self, name: &str) -> NodeId {
        if let Some(index) = self.nodes.iter().position(|n| n == name) {
            return NodeId(index);
        }
        self.nodes.push(name.to_owned());
        NodeId(self.nodes.len() - 1)
    }

    /// A resistance of 0 ohm or more between two nodes; its current counts positive from `from` to
    /// `to`. 0 ohm joins the nodes into one. Leave an open switch out.
    pub fn resistor(&mut self, name: &str, from: NodeId, to: NodeId, ohm: f64) -> BranchId {
        self.branches.push(Branch {
            name: name.to_owned(),
            from,
            to,
            ohm,
        });
        BranchId(self.branches.len() - 1)
    }

    /// A cell: an EMF behind a resistance of 0 ohm or more. Both can be changed frame by frame.
    pub fn source(
        &mut self,
        name: &str,
        positive: NodeId,
        negative: NodeId,
        emf_v: f64,
        ohm: f64,
    ) -> SourceId {
        self.sources.push(Source {
            name: name.to_owned(),
            positive,
            negative,
            emf_v,
            ohm,
        });
        SourceId(self.sources.len() - 1)
    }

    /// A load of `amount` ampere or watt, as its law says; the amount can be changed frame by frame.
    pub fn load(
        &mut self,
        name: &str,
        positive: NodeId,
        negative: NodeId,
        law: LoadLaw,
        amount: f64,
    ) -> LoadId {
        self.loads.push(Load {
            name: name.to_owned(),
            positive,
            negative,
            law,
            amount,
        });
        LoadId(self.loads.len() - 1)
    }

    /// A strip.
    pub fn strip(&mut self, spec: StripSpec<L>) -> StripId {
        self.strips.push(spec);
        StripId(self.strips.len() - 1)
    }

    /// Checks the netlist and joins what 0 ohm joins.
    ///
    /// # Errors
    /// The first fault found, as a [`NetworkError`] that names the place.
    pub fn build(self) -> Result<Network<L>, NetworkError> {
        self.check_values()?;
        if self.sources.is_empty() {
            return Err(NetworkError::NoSource);
        }
        for strip in &self.strips {
            check_strip(strip)?;
        }
        let topology = Topology::new(&self.nodes, &self.branches, &self.sources, &self.strips)?;
        let Self {
            nodes,
            branches,
            sources,
            loads,
            strips,
        } = self;
        Ok(Network {
            nodes,
            branches,
            sources,
            loads,
            strips,
            topology,
        })
    }

    fn check_values(&self) -> Result<(), NetworkError> {
        for b in &self.branches {
            check_ohm(&b.name, "resistance", b.ohm)?;
        }
        for s in &self.sources {
            check_ohm(&s.name, "resistance", s.ohm)?;
            if !s.emf_v.is_finite() {
                return Err(bad(&s.name, "EMF", s.emf_v, "a finite voltage"));
            }
        }
        for l in &self.loads {
            if !(l.amount.is_finite() && l.amount >= 0.0) {
                return Err(bad(&l.name, "current or power", l.amount, "0 or more"));
            }
            let v = match l.law {
                LoadLaw::ConstantCurrent { full_v } => full_v,
                LoadLaw::ConstantPower { min_v } => min_v,
                LoadLaw::Injection => continue,
            };
            if !(v.is_finite() && v > 0.0) {
                return Err(bad(&l.name, "lowest working supply", v, "more than 0 V"));
            }
        }
        Ok(())
    }
}

fn bad(name: &str, what: &'static str, value: f64, expected: &'static str) -> NetworkError {
    NetworkError::BadValue {
        name: name.to_owned(),
        what,
        value,
        expected,
    }
}

fn check_ohm(name: &str, what: &'static str, ohm: f64) -> Result<(), NetworkError> {
    if ohm.is_finite() && ohm >= 0.0 {
        Ok(())
    } else {
        Err(bad(name, what, ohm, "0 ohm or more, and finite"))
    }
}

fn check_strip<L>(strip: &StripSpec<L>) -> Result<(), NetworkError> {
    if strip.pixels == 0 {
        return Err(NetworkError::EmptyStrip {
            strip: strip.name.clone(),
        });
    }
    check_ohm(&strip.name, "positive rail resistance", strip.rail_pos_ohm)?;
    check_ohm(&strip.name, "negative rail resistance", strip.rail_neg_ohm)?;
    for feed in &strip.feeds {
        check_ohm(&strip.name, "feed resistance", feed.ohm)?;
        if feed.pixel >= strip.pixels {
            return Err(NetworkError::FeedOutOfRange {
                strip: strip.name.clone(),
                pixel: feed.pixel,
                pixels: strip.pixels,
            });
        }
    }
    for rail in [Rail::Positive, Rail::Negative] {
        if !strip.feeds.iter().any(|f| f.rail == rail) {
            return Err(NetworkError::UnfedStrip {
                strip: strip.name.clone(),
                rail,
            });
        }
    }
    let mut pixels: Vec<usize> = strip.feeds.iter().map(|f| f.pixel).collect();
    pixels.sort_unstable();
    pixels.dedup();
    if pixels.len() > 1 {
        for (rail, ohm) in [
            (Rail::Positive, strip.rail_pos_ohm),
            (Rail::Negative, strip.rail_neg_ohm),
        ] {
            if ohm == 0.0 {
                return Err(NetworkError::RailWithoutResistance {
                    strip: strip.name.clone(),
                    rail,
                });
            }
        }
    }
    Ok(())
}
