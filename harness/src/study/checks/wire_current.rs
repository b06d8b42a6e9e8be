//! `wire-current`: each wire against the current its gauge may carry.

use super::carried::{branches_of, Carried};
use super::Check;
use crate::build::parts::WireSize;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::ampacity::{ampacity_a, AMPACITY_SOURCE};
use crate::study::verdict::CheckResult;

const ID: &str = "wire-current";
const PROTECTS: &str = "each wire's insulation from heat";
/// Thin insulated wires warm within tens of seconds; ten is cautious for 22 AWG and thicker (from memory).
const TAU_S: f64 = 10.0;

/// Each wire with the current it may carry, where its gauge is known.
struct WireCurrent(Vec<(Carried, Option<f64>)>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let wires = branches_of(subject, BranchKind::Wire).filter_map(|(branch, info)| {
        let wire = subject.prop.wires.get(info.index)?;
        let limit = match &wire.size {
            WireSize::Gauge { gauge, .. } => Some(ampacity_a(
                *gauge,
                wire.insulation_max.as_ref().map(|t| t.si()),
            )),
            WireSize::Resistance(_) => None,
        };
        Some((Carried::new(branch, &wire.name, TAU_S), limit))
    });
    Box::new(WireCurrent(wires.collect()))
}

impl Check for WireCurrent {
    fn observe(&mut self, figures: &Figures) {
        for (carried, _) in &mut self.0 {
            carried.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let result = |(carried, limit): &(Carried, Option<f64>)| {
            let Some(limit) = limit else {
                let why = "the wire is given by its resistance, so its gauge is not known";
                return Some(carried.without_limit(ID, PROTECTS, why));
            };
            let why = "RMS current over ten seconds against the bundled-wire rating of its gauge";
            Some(
                carried
                    .judge(ID, PROTECTS, *limit)?
                    .source(AMPACITY_SOURCE)
                    .why(why),
            )
        };
        self.0.iter().filter_map(result).collect()
    }
}
