//! `fuse-hold`: a fuse must carry the current for ever at the surroundings' temperature.

use super::thermal_rms::ThermalRms;
use super::Check;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "fuse-hold";
const PROTECTS: &str = "the fuse from opening in normal use";
/// Taken where a fuse states no thermal time: shorter than any resettable fuse's, so cautious.
const TAU_S: f64 = 1.0;

struct Holder {
    branch: usize,
    name: String,
    limit: Option<f64>,
    source: String,
    temperature_k: f64,
    rms: ThermalRms,
    worst: Worst,
}

struct FuseHold(Vec<Holder>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let temperature_k = subject.circuit.condition.temperature_k;
    let fuses = subject
        .circuit
        .branches
        .iter()
        .enumerate()
        .filter(|(_, b)| b.kind == BranchKind::Fuse);
    let holders = fuses.filter_map(|(branch, info)| {
        let part = subject.prop.parts.get(info.index)?;
        let PartKind::Fuse(fuse) = &part.kind else {
            return None;
        };
        let tau = fuse.thermal_time.as_ref().map_or(TAU_S, |t| t.low_si());
        Some(Holder {
            branch,
            name: part.name.clone(),
            limit: fuse.hold_at(temperature_k),
            source: fuse.hold.source_or_given().to_owned(),
            temperature_k,
            rms: ThermalRms::new(tau),
            worst: Worst::new(Side::AtMost),
        })
    });
    Box::new(FuseHold(holders.collect()))
}

impl Check for FuseHold {
    fn observe(&mut self, figures: &Figures) {
        for h in &mut self.0 {
            let rms = figures
                .branch_rms_a
                .get(h.branch)
                .copied()
                .unwrap_or(f64::NAN);
            h.worst
                .see(h.rms.next(rms, figures.period_s), &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.0.is_empty() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "A",
                "no fuse is drawn in a supply leg",
            )];
        }
        self.0.iter().filter_map(result_of).collect()
    }
}

fn result_of(h: &Holder) -> Option<CheckResult> {
    let celsius = h.temperature_k - 273.15;
    let Some(limit) = h.limit else {
        let why = format!("its derating table does not reach {celsius:.0} °C");
        return Some(CheckResult::not_checked(ID, PROTECTS, "A", why).part(&h.name));
    };
    let why = format!(
        "RMS current over the fuse's thermal time against its hold current at {celsius:.0} °C"
    );
    Some(
        h.worst
            .judge(ID, PROTECTS, "A", limit)?
            .part(&h.name)
            .source(&h.source)
            .why(why),
    )
}
