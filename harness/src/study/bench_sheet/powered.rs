//! What the prop draws on a current-limited supply in place of the cell.

use super::states::BenchState;
use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Corner;
use crate::build::supply::Spot;
use crate::electrical::{Drive, NodeId, Solver, SourceDrive, StripDrive};
use crate::profile::board::load_amounts;
use crate::profile::condition::Condition;
use crate::profile::lower::{lower, Lowered};
use std::collections::BTreeMap;

/// Resistance of the supply's leads, ohms: common practice for clip leads.
const LEADS_OHM: f64 = 0.05;
/// A cell that is not in the prop.
const ABSENT_OHM: f64 = 1.0e7;

/// Currents and voltages in one state.
#[derive(Debug, Clone, Default)]
pub(super) struct Powered {
    /// Current of the supply, amperes.
    pub(super) supply_a: f64,
    /// Voltage of each point against the cell's minus, volts; what is not joined to the supply is not in it.
    pub(super) volts: BTreeMap<Spot, f64>,
}

/// The voltage that stands for the cell: its open-circuit voltage in the nominal case.
pub(super) fn supply_v(prop: &Prop) -> f64 {
    let model = prop
        .cell()
        .and_then(|(_, cell)| crate::profile::cell::cell_model(cell, &Condition::nominal()).ok());
    let volts = model.map_or(3.7, |m| {
        m.ocv_v(&crate::electrical::CellState::at_rest(0.6, 25.0))
    });
    (volts * 10.0).round() / 10.0
}

/// Plays a state; `limit_a` is the limit of the supply, `condition` decides the tolerances.
pub(super) fn play(
    prop: &Prop,
    state: &BenchState,
    volts: f64,
    limit_a: f64,
    condition: Condition,
) -> Powered {
    let Ok(lowered) = lower(prop, condition) else {
        return Powered::default();
    };
    let free = solve(prop, &lowered, state, volts, LEADS_OHM);
    match free {
        Some(p) if p.supply_a <= limit_a => p,
        // At its limit the supply gives that current whatever hangs on it: nearly so behind V / I.
        _ => solve(prop, &lowered, state, volts, volts / limit_a.max(1e-3)).unwrap_or(Powered {
            supply_a: limit_a,
            volts: BTreeMap::new(),
        }),
    }
}

fn solve(
    prop: &Prop,
    lowered: &Lowered,
    state: &BenchState,
    volts: f64,
    ohm: f64,
) -> Option<Powered> {
    let channels = prop.frame_channels();
    let levels: Vec<Vec<u8>> = lowered
        .circuit
        .strips
        .iter()
        .map(|s| {
            let first = s.first as usize * channels;
            let frame = state.levels.get(first..).unwrap_or_default();
            let pixels = frame.chunks(channels).take(s.pixels as usize);
            pixels
                .flat_map(|p| p.iter().take(s.channels).copied())
                .collect()
        })
        .collect();
    let drives: Vec<StripDrive<'_>> = levels.iter().map(|l| StripDrive::Levels(l)).collect();
    let mut sources: Vec<SourceDrive> = Vec::new();
    for (k, _) in lowered.sources.iter().enumerate() {
        let cells = lowered.source_parts.len();
        sources.push(match k {
            0 => SourceDrive { emf_v: volts, ohm },
            k if k < cells => SourceDrive {
                emf_v: volts,
                ohm: ABSENT_OHM,
            },
            k => SourceDrive {
                emf_v: lowered.drops.get(k - cells).copied().unwrap_or(0.0),
                ohm: 0.0,
            },
        });
    }
    let mut loads = match prop.board().filter(|_| lowered.logic.is_some()) {
        Some((_, board)) => {
            let corner = if lowered.circuit.condition.cautious {
                Corner::High
            } else {
                Corner::Nominal
            };
            load_amounts(board, corner, state.sound).ok()?
        }
        None => Vec::new(),
    };
    // Bulk capacitors carry nothing in the steady state that a meter sees.
    loads.resize(lowered.load_names.len(), 0.0);
    let mut solver = Solver::new(&lowered.network).ok()?;
    let solution = solver
        .solve(&Drive {
            strips: &drives,
            loads: &loads,
            sources: &sources,
        })
        .ok()?;
    let cell = lowered.source_parts.first().copied()?;
    let zero = |id: NodeId| solution.node_v(id);
    let base = lowered.nodes.get(&(cell, Pin::Minus)).map(|id| zero(*id))?;
    let mut volts: BTreeMap<Spot, f64> = BTreeMap::new();
    for (spot, id) in &lowered.nodes {
        volts.insert(*spot, zero(*id) - base);
    }
    let supply_a = lowered.sources.first().map(|id| solution.source_a(*id))?;
    Some(Powered { supply_a, volts })
}

/// Whether a part is a load whose supply is worth a reading.
pub(super) fn is_load(kind: &PartKind) -> bool {
    matches!(kind, PartKind::Board(_) | PartKind::Strip(_))
}
