//! `fuse-hold`: a fuse must carry the current for ever at the surroundings' temperature.

use super::carried::{branches_of, Carried};
use super::Check;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::CheckResult;

const ID: &str = "fuse-hold";
const PROTECTS: &str = "the fuse from opening in normal use";
/// Taken where a fuse states no thermal time: shorter than any resettable fuse's, so cautious.
const TAU_S: f64 = 1.0;

struct Holder {
    carried: Carried,
    limit: Option<f64>,
    source: String,
    temperature_k: f64,
}

struct FuseHold(Vec<Holder>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let temperature_k = subject.circuit.condition.temperature_k;
    let holders = branches_of(subject, BranchKind::Fuse).filter_map(|(branch, info)| {
        let part = subject.prop.parts.get(info.index)?;
        let PartKind::Fuse(fuse) = &part.kind else {
            return None;
        };
        let tau = fuse.thermal_time.as_ref().map_or(TAU_S, |t| t.low_si());
        Some(Holder {
            carried: Carried::new(branch, &part.name, tau),
            limit: fuse.hold_at(temperature_k),
            source: fuse.hold.source_or_given().to_owned(),
            temperature_k,
        })
    });
    Box::new(FuseHold(holders.collect()))
}

impl Check for FuseHold {
    fn observe(&mut self, figures: &Figures) {
        for h in &mut self.0 {
            h.carried.observe(figures);
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
        return Some(h.carried.without_limit(ID, PROTECTS, why));
    };
    let why = format!(
        "RMS current over the fuse's thermal time against its hold current at {celsius:.0} °C"
    );
    let judged = h.carried.judge(ID, PROTECTS, limit)?;
    Some(judged.source(&h.source).why(why))
}
