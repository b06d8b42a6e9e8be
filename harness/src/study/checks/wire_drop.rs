//! `wire-drop`: the voltage lost in all leads between cell and the worst-fed strip.

use super::carried::branches_of;
use super::Check;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "wire-drop";
const PROTECTS: &str = "light from being lost as heat in a wire";
/// Largest drop along one wire at the coincidence peak, volts. Common practice: a few per cent of a
/// lithium cell's 3.7 V for each conductor.
const LIMIT_V: f64 = 0.15;

struct Lead {
    branch: usize,
    name: String,
    ohm: f64,
    worst: Worst,
}

struct WireDrop(Vec<Lead>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let leads = branches_of(subject, BranchKind::Wire).map(|(branch, info)| Lead {
        branch,
        name: info.name.clone(),
        ohm: info.ohm,
        worst: Worst::new(Side::AtMost),
    });
    Box::new(WireDrop(leads.collect()))
}

impl Check for WireDrop {
    fn observe(&mut self, figures: &Figures) {
        for l in &mut self.0 {
            let peak = figures
                .branch_peak_a
                .get(l.branch)
                .copied()
                .unwrap_or(f64::NAN);
            l.worst.see(peak.abs() * l.ohm, &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let result = |l: &Lead| {
            let judged = l.worst.judge(ID, PROTECTS, "V", LIMIT_V)?;
            Some(
                judged
                    .part(&l.name)
                    .source("common practice: 4 % of 3.7 V in one conductor")
                    .why("drop along the wire at the coincidence peak"),
            )
        };
        self.0.iter().filter_map(result).collect()
    }
}
