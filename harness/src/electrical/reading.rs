//! What can be read from a solved frame, however it was solved.

use super::network::{BranchId, NodeId, SourceId, StripId};
use super::solution::Solution;

/// Supply along a strip, in volt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripSupply {
    /// The lowest.
    pub min_v: f64,
    /// The first pixel that has it, from 0.
    pub min_pixel: usize,
    /// At the first pixel.
    pub first_v: f64,
    /// At the last pixel.
    pub last_v: f64,
}

/// A solved frame. Voltages are in volt against the minus of the first cell, currents in ampere.
pub trait Reading {
    /// Voltage of a node.
    fn node_v(&self, id: NodeId) -> f64;
    /// Current through a resistance, in the direction in which it was added.
    fn branch_a(&self, id: BranchId) -> f64;
    /// Current out of a cell.
    fn source_a(&self, id: SourceId) -> f64;
    /// Voltage between the terminals of a cell.
    fn source_terminal_v(&self, id: SourceId) -> f64;
    /// Current of a whole strip.
    fn strip_total_a(&self, id: StripId) -> f64;
    /// Supply along a strip.
    fn strip_supply(&self, id: StripId) -> StripSupply;
    /// Writes the supply of each pixel of a strip, in volt.
    fn copy_supply(&self, id: StripId, out: &mut [f64]);
    /// Largest current anywhere in the rails of a strip.
    fn rail_peak_a(&self, id: StripId) -> f64;
}

impl Reading for Solution {
    fn node_v(&self, id: NodeId) -> f64 {
        Self::node_v(self, id)
    }
    fn branch_a(&self, id: BranchId) -> f64 {
        Self::branch_a(self, id)
    }
    fn source_a(&self, id: SourceId) -> f64 {
        Self::source_a(self, id)
    }
    fn source_terminal_v(&self, id: SourceId) -> f64 {
        Self::source_terminal_v(self, id)
    }
    fn strip_total_a(&self, id: StripId) -> f64 {
        self.strip(id).total_a
    }
    fn strip_supply(&self, id: StripId) -> StripSupply {
        let strip = self.strip(id);
        let end = |v: Option<&f64>| v.copied().unwrap_or(f64::NAN);
        StripSupply {
            min_v: strip.min_supply_v,
            min_pixel: strip.min_supply_pixel,
            first_v: end(strip.supply_v.first()),
            last_v: end(strip.supply_v.last()),
        }
    }
    fn copy_supply(&self, id: StripId, out: &mut [f64]) {
        let all = out.iter_mut().zip(&self.strip(id).supply_v);
        all.for_each(|(to, from)| *to = *from);
    }
    fn rail_peak_a(&self, id: StripId) -> f64 {
        self.strip(id).rail_peak_a()
    }
}
