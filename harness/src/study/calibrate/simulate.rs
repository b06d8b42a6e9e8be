//! What a meter on the bench would read, frame by frame.

use super::frames::Frames;
use crate::build::prop::Prop;
use crate::build::supply::Spot;
use crate::electrical::{NetworkError, NodeId};
use crate::profile::bench::Bench;
use crate::profile::condition::Condition;
use crate::profile::lower::lower;
use crate::profile::sound;

/// Two points between which a voltage is measured, plus first.
pub type Tap = (Spot, Spot);

/// Readings of every frame.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Readings {
    /// Average current out of the cell, amperes.
    pub current_a: Vec<f64>,
    /// Voltage at the cell's terminals, volts.
    pub cell_v: Vec<f64>,
    /// Voltage at each tap, volts.
    pub tap_v: Vec<Vec<f64>>,
}

/// Plays frames on a prop. A frame without an operating point reads zero: the prop is off.
///
/// # Errors
/// A netlist that cannot be solved.
pub(super) fn simulate(
    prop: &Prop,
    condition: Condition,
    frames: &Frames,
    taps: &[Tap],
    speaker: bool,
) -> Result<Readings, NetworkError> {
    let mut bench = Bench::new(prop, condition)?;
    let lowered = lower(prop, condition)?;
    let node = |spot: &Spot| lowered.nodes.get(spot).copied();
    let nodes: Vec<Option<(NodeId, NodeId)>> =
        taps.iter().map(|(p, m)| node(p).zip(node(m))).collect();
    let mut out = Readings {
        tap_v: vec![Vec::with_capacity(frames.len()); taps.len()],
        ..Readings::default()
    };
    for (k, moment) in frames.moments.iter().enumerate() {
        let level = if speaker {
            sound::level(&prop.sound, moment)
        } else {
            0.0
        };
        let figures = bench.step(frames.levels_of(k), *moment, frames.period_s, level);
        let on = figures.collapsed.is_none();
        let or_zero = |v: f64| if on && v.is_finite() { v } else { 0.0 };
        out.current_a.push(or_zero(figures.cell_a));
        out.cell_v.push(or_zero(figures.cell_v));
        for (list, nodes) in out.tap_v.iter_mut().zip(&nodes) {
            let volts = nodes.map_or(0.0, |(p, m)| {
                bench.solution().node_v(p) - bench.solution().node_v(m)
            });
            list.push(or_zero(volts));
        }
    }
    Ok(out)
}

/// Whether the network has both points of a tap.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn can_tap(prop: &Prop, tap: &Tap) -> Result<bool, NetworkError> {
    let lowered = lower(prop, Condition::nominal())?;
    Ok(lowered.nodes.contains_key(&tap.0) && lowered.nodes.contains_key(&tap.1))
}
