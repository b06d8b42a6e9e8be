//! `fuse-hold`: a fuse must carry the current for ever at the temperature of the air around it.

use super::carried::{branches_of, Carried};
use super::tube_heat::TubeHeats;
use super::Check;
use crate::build::parts::Fuse;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::CheckResult;
use crate::units::{Quantity, Temperature};

const ID: &str = "fuse-hold";
const PROTECTS: &str = "the fuse from opening in normal use";
/// Taken where a fuse states no thermal time: shorter than any resettable fuse's, so cautious.
const TAU_S: f64 = 1.0;

struct Holder {
    carried: Carried,
    fuse: Fuse,
    tube: Option<usize>,
}

struct FuseHold {
    holders: Vec<Holder>,
    heats: Option<TubeHeats>,
    surroundings_k: f64,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let holders = branches_of(subject, BranchKind::Fuse).filter_map(|(branch, info)| {
        let part = subject.prop.parts.get(info.index)?;
        let PartKind::Fuse(fuse) = &part.kind else {
            return None;
        };
        let tau = fuse.thermal_time.as_ref().map_or(TAU_S, |t| t.low_si());
        Some(Holder {
            carried: Carried::new(branch, &part.name, tau),
            fuse: fuse.clone(),
            tube: subject.prop.tube_of(info.index),
        })
    });
    let holders: Vec<Holder> = holders.collect();
    let enclosed = holders.iter().any(|h| h.tube.is_some());
    Box::new(FuseHold {
        holders,
        heats: TubeHeats::new(subject).filter(|_| enclosed),
        surroundings_k: subject.circuit.condition.temperature_k,
    })
}

impl Check for FuseHold {
    fn observe(&mut self, figures: &Figures) {
        for h in &mut self.holders {
            h.carried.observe(figures);
        }
        if let Some(heats) = &mut self.heats {
            heats.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.holders.is_empty() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "A",
                "no fuse is drawn in a supply leg",
            )];
        }
        let each = self.holders.iter();
        each.filter_map(|h| self.result_of(h)).collect()
    }
}

impl FuseHold {
    fn result_of(&self, h: &Holder) -> Option<CheckResult> {
        let kelvin = self
            .heats
            .as_ref()
            .map_or(self.surroundings_k, |heats| heats.around_k(h.tube));
        let celsius = kelvin - Temperature::OFFSET;
        let Some(limit) = h.fuse.hold_at(kelvin) else {
            let why = format!("its derating table does not reach {celsius:.0} °C");
            return Some(h.carried.without_limit(ID, PROTECTS, why));
        };
        let place = if kelvin > self.surroundings_k {
            " in its tube (estimate)"
        } else {
            ""
        };
        // Without a table the figure is that of 23 °C, which a warmer fuse does not reach: never said to be derated.
        let hold = if h.fuse.derating.is_empty() {
            format!("its hold current at 23 °C: it states no derating, and the air about it is at {celsius:.0} °C{place}, where a fuse holds less the warmer it is")
        } else {
            format!("its hold current at {celsius:.0} °C{place}")
        };
        let why = format!("RMS current over the fuse's thermal time against {hold}");
        let judged = h.carried.judge(ID, PROTECTS, limit)?;
        Some(judged.source(h.fuse.hold.source_or_given()).why(why))
    }
}
