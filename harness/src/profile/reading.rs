//! From a solved network to figures.

use super::figures::{Figures, StripFigures};
use super::lower::Lowered;
use crate::electrical::{PixelType, Reading};
use crate::units::math;

/// Factor on the set currents that brings a strip from its average to its coincidence peak.
pub(super) fn peak_scale(s: &StripFigures, law: &PixelType, levels: usize) -> f64 {
    use crate::electrical::PixelLaw as _;
    let dark = law.dark_a() * (levels / law.channels()) as f64;
    let set = s.average_a - dark;
    if set > 0.0 {
        (s.peak_a - dark) / set
    } else {
        1.0
    }
}

pub(super) fn read_average(f: &mut Figures, solution: &impl Reading, lowered: &Lowered) {
    f.cell_a = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_a(*id));
    f.cell_v = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_terminal_v(*id));
    f.board_v = lowered
        .board_nodes
        .map_or(f64::NAN, |(p, m)| solution.node_v(p) - solution.node_v(m));
    // Current that flows although no strip asks for it: board and sound. It has no pulses.
    let asked: f64 = f.strips.iter().map(|s| s.average_a).sum();
    let aligned: f64 = f.strips.iter().map(|s| s.aligned_a).sum();
    let delivered: f64 = lowered
        .strips
        .iter()
        .map(|id| solution.strip_total_a(*id))
        .sum();
    f.cell_aligned_a = f.cell_a - delivered + aligned.max(asked);
    for (slot, id) in f.branch_a.iter_mut().zip(&lowered.branches) {
        *slot = solution.branch_a(*id);
    }
    for (slot, id) in f.strips.iter_mut().zip(&lowered.strips) {
        slot.average_a = slot.average_a.max(0.0);
        slot.delivered_a = solution.strip_total_a(*id);
    }
}

/// Root mean square of a current whose peak lies `z` standard deviations above its mean: heat goes with
/// mean² + variance. Where the aligned worst case bounds the peak (a handful of pixels, or nearly full drive) the
/// spread is understated: by up to a third of the RMS for a single pixel, by less than 0.1 % for a strip of a hundred.
fn rms(mean: f64, peak: f64, z: f64) -> f64 {
    math::hypot(mean, (peak - mean) / z)
}

pub(super) fn read_peak(f: &mut Figures, solution: &impl Reading, lowered: &Lowered, z: f64) {
    f.cell_peak_a = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_a(*id));
    f.cell_rms_a = rms(f.cell_a, f.cell_peak_a, z);
    f.cell_peak_v = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_terminal_v(*id));
    f.board_peak_v = lowered
        .board_nodes
        .map_or(f64::NAN, |(p, m)| solution.node_v(p) - solution.node_v(m));
    for (i, id) in lowered.branches.iter().enumerate() {
        let peak = solution.branch_a(*id);
        let mean = f.branch_a.get(i).copied().unwrap_or(f64::NAN);
        if let (Some(p), Some(r)) = (f.branch_peak_a.get_mut(i), f.branch_rms_a.get_mut(i)) {
            *p = peak;
            *r = rms(mean, peak, z);
        }
    }
    let frame = f.moment.frame;
    let along = f.along.iter_mut();
    for ((slot, along), id) in f.strips.iter_mut().zip(along).zip(&lowered.strips) {
        let supply = solution.strip_supply(*id);
        slot.supply_min_v = supply.min_v;
        slot.supply_min_pixel = u32::try_from(supply.min_pixel).unwrap_or(u32::MAX);
        along.keep(frame, slot, |out| solution.copy_supply(*id, out));
        slot.rail_peak_a = solution.rail_peak_a(*id);
    }
}
