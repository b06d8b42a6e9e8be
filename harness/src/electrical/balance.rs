//! Checks a solved frame against the laws of physics alone.
//!
//! This file shares no equation with the solver: it takes the netlist and the finished voltages and
//! currents, and adds up Ohm's law at every resistance, Kirchhoff's current law at every node and
//! pad, the law of every pixel and load, and the power balance.

use super::drive::{Drive, SourceDrive, StripDrive};
use super::load::{LoadLaw, LoadState};
use super::network::{Network, Rail};
use super::pixel::{PixelLaw, MAX_CHANNELS};
use super::solution::{RailSolution, Solution};

/// How well a frame obeys the laws. All figures are absolute values; 0 is perfect.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BalanceReport {
    /// Largest current left over at a node or pad, in ampere.
    pub kcl_a: f64,
    /// Largest difference between a voltage and resistance times current, or between the supply of a pixel or load and
    /// the voltages of its ends, in volt.
    pub ohm_v: f64,
    /// Largest difference between the current of a pixel or load and its law, in ampere.
    pub law_a: f64,
    /// Power given by the EMFs, in watt.
    pub supplied_w: f64,
    /// Power taken by resistances, pixels and loads, in watt.
    pub taken_w: f64,
}

impl BalanceReport {
    /// Power not accounted for, as a share of the power supplied (of 1 nW if less is supplied).
    pub fn power_share(&self) -> f64 {
        (self.supplied_w - self.taken_w).abs() / self.supplied_w.abs().max(1e-9)
    }
}

/// Checks a solved frame.
pub fn check_balance<L: PixelLaw>(
    network: &Network<L>,
    drive: &Drive<'_>,
    solution: &Solution,
) -> BalanceReport {
    let mut report = BalanceReport::default();
    let mut left_a = vec![0.0; network.nodes.len()];
    for (id, b) in network.branch_ids().zip(&network.branches) {
        let a = solution.branch_a(id);
        let across = solution.node_v(b.from) - solution.node_v(b.to);
        report.ohm_v = report.ohm_v.max((across - b.ohm * a).abs());
        report.taken_w += across * a;
        left_a[b.from.index()] += a;
        left_a[b.to.index()] -= a;
    }
    for (k, (id, s)) in network.source_ids().zip(&network.sources).enumerate() {
        let built = SourceDrive {
            emf_v: s.emf_v,
            ohm: s.ohm,
        };
        let now = drive.sources.get(k).copied().unwrap_or(built);
        let a = solution.source_a(id);
        let across = solution.node_v(s.positive) - solution.node_v(s.negative);
        report.ohm_v = report.ohm_v.max((now.emf_v - now.ohm * a - across).abs());
        report.supplied_w += now.emf_v * a;
        report.taken_w += now.ohm * a * a;
        left_a[s.positive.index()] -= a;
        left_a[s.negative.index()] += a;
    }
    for (k, (id, l)) in network.load_ids().zip(&network.loads).enumerate() {
        let a = solution.load_a(id);
        let across = solution.node_v(l.positive) - solution.node_v(l.negative);
        report.ohm_v = report.ohm_v.max((across - solution.load_v(id)).abs());
        let amount = drive.loads.get(k).copied().unwrap_or(l.amount);
        let law = load_current(l.law, amount, across, solution.load_state(id));
        report.law_a = report.law_a.max((a - law).abs());
        report.taken_w += across * a;
        left_a[l.positive.index()] += a;
        left_a[l.negative.index()] -= a;
    }
    for strip in 0..network.strips.len() {
        check_strip(network, drive, solution, strip, &mut left_a, &mut report);
    }
    report.kcl_a = left_a.iter().fold(report.kcl_a, |m, a| m.max(a.abs()));
    report
}

fn load_current(law: LoadLaw, amount: f64, v: f64, state: LoadState) -> f64 {
    match (law, state) {
        (_, LoadState::Off) => 0.0,
        (LoadLaw::ConstantPower { .. }, LoadState::On) => amount / v,
        (LoadLaw::ConstantCurrent { full_v }, LoadState::On) => {
            amount * (v / full_v).clamp(0.0, 1.0)
        }
        (LoadLaw::Injection, LoadState::On) => -amount,
    }
}

fn check_strip<L: PixelLaw>(
    network: &Network<L>,
    drive: &Drive<'_>,
    solution: &Solution,
    index: usize,
    left_a: &mut [f64],
    report: &mut BalanceReport,
) {
    let spec = &network.strips[index];
    let solved = solution.strip(super::network::StripId(index));
    let mut rails = RailSolution::default();
    solved.rails(&mut rails);
    let n = spec.pixels;
    // Current that arrives at each pad of each rail.
    let (mut pos, mut neg) = (vec![0.0; n], vec![0.0; n]);
    for (feed, a) in spec.feeds.iter().zip(&solved.feed_a) {
        let node_v = solution.node_v(feed.node);
        let drop = match feed.rail {
            Rail::Positive => {
                left_a[feed.node.index()] += a;
                pos[feed.pixel] += a;
                node_v - rails.pos_v[feed.pixel]
            }
            Rail::Negative => {
                left_a[feed.node.index()] -= a;
                neg[feed.pixel] -= a;
                rails.neg_v[feed.pixel] - node_v
            }
        };
        report.ohm_v = report.ohm_v.max((drop - feed.ohm * a).abs());
        report.taken_w += drop * a;
    }
    for i in 0..n.saturating_sub(1) {
        let (p, q) = (rails.pos_a[i], rails.neg_a[i]);
        pos[i] -= p;
        pos[i + 1] += p;
        neg[i + 1] -= q;
        neg[i] += q;
        // The law of the rails against the supplies, which were found without the pads.
        let fall = solved.supply_v[i] - solved.supply_v[i + 1];
        let law = spec.rail_pos_ohm * p + spec.rail_neg_ohm * q;
        report.ohm_v = report.ohm_v.max((fall - law).abs());
        report.taken_w += spec.rail_pos_ohm * p * p + spec.rail_neg_ohm * q * q;
    }
    for i in 0..n {
        let (v, a) = (solved.supply_v[i], solved.current_a[i]);
        report.ohm_v = report
            .ohm_v
            .max((rails.pos_v[i] - rails.neg_v[i] - v).abs());
        report.kcl_a = report.kcl_a.max((pos[i] - a).abs()).max((neg[i] + a).abs());
        let (law, _) = spec
            .law
            .current(&set_currents(&spec.law, &drive.strips[index], i), v);
        report.law_a = report.law_a.max((a - law).abs());
        report.taken_w += v * a;
    }
}

fn set_currents<L: PixelLaw>(law: &L, drive: &StripDrive<'_>, pixel: usize) -> [f64; MAX_CHANNELS] {
    let n = law.channels();
    let mut set = [0.0; MAX_CHANNELS];
    for (c, a) in set.iter_mut().enumerate().take(n) {
        let at = pixel * n + c;
        *a = match *drive {
            StripDrive::Dark => 0.0,
            StripDrive::Levels(levels) => law.full_a(c) * f64::from(levels[at]) / 255.0,
            StripDrive::ScaledLevels { levels, scale } => {
                law.full_a(c) * scale * f64::from(levels[at]) / 255.0
            }
            StripDrive::Currents(currents) => currents[at],
        };
    }
    set
}
