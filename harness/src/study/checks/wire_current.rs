//! `wire-current`: each wire against the current its gauge may carry.

use super::thermal_rms::ThermalRms;
use super::Check;
use crate::build::parts::WireSize;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::ampacity::{ampacity_a, AMPACITY_SOURCE};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "wire-current";
const PROTECTS: &str = "each wire's insulation from heat";
/// Thin insulated wires warm within tens of seconds; ten is cautious for 22 AWG and thicker (from memory).
const TAU_S: f64 = 10.0;

struct Carrier {
    branch: usize,
    name: String,
    limit: Option<f64>,
    rms: ThermalRms,
    worst: Worst,
}

struct WireCurrent(Vec<Carrier>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let wires = subject
        .circuit
        .branches
        .iter()
        .enumerate()
        .filter(|(_, b)| b.kind == BranchKind::Wire);
    let carriers = wires.filter_map(|(branch, info)| {
        let wire = subject.prop.wires.get(info.index)?;
        let limit = match &wire.size {
            WireSize::Gauge { gauge, .. } => Some(ampacity_a(
                *gauge,
                wire.insulation_max.as_ref().map(|t| t.si()),
            )),
            WireSize::Resistance(_) => None,
        };
        Some(Carrier {
            branch,
            name: wire.name.clone(),
            limit,
            rms: ThermalRms::new(TAU_S),
            worst: Worst::new(Side::AtMost),
        })
    });
    Box::new(WireCurrent(carriers.collect()))
}

impl Check for WireCurrent {
    fn observe(&mut self, figures: &Figures) {
        for c in &mut self.0 {
            let rms = figures
                .branch_rms_a
                .get(c.branch)
                .copied()
                .unwrap_or(f64::NAN);
            c.worst
                .see(c.rms.next(rms, figures.period_s), &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let result =
            |c: &Carrier| {
                let Some(limit) = c.limit else {
                    return Some(
                        CheckResult::not_checked(
                            ID,
                            PROTECTS,
                            "A",
                            "the wire is given by its resistance, so its gauge is not known",
                        )
                        .part(&c.name),
                    );
                };
                let judged = c.worst.judge(ID, PROTECTS, "A", limit)?;
                Some(judged.part(&c.name).source(AMPACITY_SOURCE).why(
                    "RMS current over ten seconds against the bundled-wire rating of its gauge",
                ))
            };
        self.0.iter().filter_map(result).collect()
    }
}
