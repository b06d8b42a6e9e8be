//! What a lowered prop consists of: names, limits and connections that checks and reports need.

use crate::build::prop::Prop;
use crate::profile::condition::Condition;

/// What carries current between two nodes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BranchKind {
    /// A wire.
    Wire,
    /// A switch, contact or connector pole.
    Contact,
    /// A fuse.
    Fuse,
    /// A diode.
    Diode,
    /// A protection circuit.
    Protection,
    /// A resistor.
    Resistor,
}

/// A wire or contact of the network.
#[derive(Debug, Clone)]
pub struct BranchInfo {
    /// Name for people: "w1", "master", "head.plus".
    pub name: String,
    /// What it is.
    pub kind: BranchKind,
    /// Index of the wire (for wires) or of the part.
    pub index: usize,
    /// Resistance in this condition, ohms.
    pub ohm: f64,
}

/// A strip of the network.
#[derive(Debug, Clone)]
pub struct StripInfo {
    /// Name of the part.
    pub name: String,
    /// Index of the part.
    pub part: usize,
    /// Number of pixels.
    pub pixels: u32,
    /// Channels per pixel.
    pub channels: usize,
    /// First pixel in the frame.
    pub first: u32,
}

/// Who drives a strip's data input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Driver {
    /// A data output of the board.
    Board,
    /// The data output of another strip (index among the strips).
    Strip(usize),
    /// Nothing, or nothing that is known.
    None,
}

/// A lowered prop.
#[derive(Debug, Clone)]
pub struct Circuit {
    /// The condition it is lowered for.
    pub condition: Condition,
    /// Wires and contacts that carry supply current, in solver order.
    pub branches: Vec<BranchInfo>,
    /// Strips that are fed, in frame order.
    pub strips: Vec<StripInfo>,
    /// For each strip, who drives its data input.
    pub drivers: Vec<Driver>,
    /// Part index of the cell.
    pub cell: usize,
    /// Part index of the board, if it is fed.
    pub board: Option<usize>,
}

/// A circuit together with the prop it came from.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The prop.
    pub prop: &'a Prop,
    /// The prop lowered for one condition.
    pub circuit: &'a Circuit,
}
