//! From figures to the columns that the page draws.

use crate::profile::circuit::{BranchKind, Circuit};
use crate::profile::figures::Figures;
use lampwright_model::State;

/// Names of the columns of a circuit.
pub(super) fn names(circuit: &Circuit) -> Vec<String> {
    let fixed = [
        "time_s",
        "length_s",
        "state",
        "cell_a",
        "cell_peak_a",
        "cell_v",
        "cell_peak_v",
        "board_peak_v",
        "pixel_min_v",
        "soc",
    ];
    let strips = circuit.strips.iter().map(|s| format!("part:{}", s.name));
    let wires = wires(circuit).map(|(_, wire)| format!("wire:{wire}"));
    fixed
        .into_iter()
        .map(str::to_owned)
        .chain(strips)
        .chain([format!("part:{REST}")])
        .chain(wires)
        .collect()
}

/// What draws current besides the strips.
pub(super) const REST: &str = "board and sound";

/// Wires that carry supply: where they stand among the branches, and their index in the prop.
pub(super) fn wires(circuit: &Circuit) -> impl Iterator<Item = (usize, usize)> + '_ {
    let branches = circuit.branches.iter().enumerate();
    branches.filter_map(|(k, b)| (b.kind == BranchKind::Wire).then_some((k, b.index)))
}

/// The row of a frame that lasts `length_s`, in the order of [`names`].
pub(super) fn row(f: &Figures, circuit: &Circuit, length_s: f64, out: &mut Vec<f64>) {
    out.clear();
    let state = match f.moment.state {
        Some(State::Dark) => 0.0,
        Some(State::Rising) => 1.0,
        Some(State::Lit) => 2.0,
        Some(State::Falling) => 3.0,
        None => f64::NAN,
    };
    let pixel_v = f.strips.iter().map(|s| s.supply_min_v);
    out.extend([
        f.moment.time_s,
        length_s,
        state,
        f.cell_a,
        f.cell_peak_a,
        f.cell_v,
        f.cell_peak_v,
        f.board_peak_v,
        pixel_v.fold(f64::NAN, f64::min),
        f.soc,
    ]);
    // Without an operating point nothing is known of what flows.
    let alive = f.cell_a.is_finite();
    let known = |v: f64| if alive { v } else { f64::NAN };
    out.extend(f.strips.iter().map(|s| known(s.delivered_a)));
    let strips: f64 = f.strips.iter().map(|s| s.delivered_a).sum();
    out.push(f.cell_a - strips);
    out.extend(wires(circuit).map(|(k, _)| f.branch_a.get(k).copied().unwrap_or(f64::NAN)));
}
