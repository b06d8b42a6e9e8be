//! `contact-current`: each switch, contact and connector pole against its rating, in the leg it sits in.

use super::thermal_rms::ThermalRms;
use super::Check;
use crate::build::parts::Contact;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "contact-current";
const PROTECTS: &str = "each contact from heating and welding";
/// A contact spot is tiny and warms within a second (from memory).
const TAU_S: f64 = 1.0;

struct Pole {
    branch: usize,
    name: String,
    limit: Option<(f64, String)>,
    rms: ThermalRms,
    worst: Worst,
}

struct ContactCurrent(Vec<Pole>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let contacts = subject
        .circuit
        .branches
        .iter()
        .enumerate()
        .filter(|(_, b)| b.kind == BranchKind::Contact);
    let poles = contacts.filter_map(|(branch, info)| {
        let contact = contact_of(&subject.prop.parts.get(info.index)?.kind)?;
        let limit = contact
            .rating
            .as_ref()
            .map(|r| (r.low_si(), r.source_or_given().to_owned()));
        Some(Pole {
            branch,
            name: info.name.clone(),
            limit,
            rms: ThermalRms::new(TAU_S),
            worst: Worst::new(Side::AtMost),
        })
    });
    Box::new(ContactCurrent(poles.collect()))
}

fn contact_of(kind: &PartKind) -> Option<&Contact> {
    match kind {
        PartKind::Switch(c) | PartKind::Contact(c) | PartKind::Connector { contact: c, .. } => {
            Some(c)
        }
        _ => None,
    }
}

impl Check for ContactCurrent {
    fn observe(&mut self, figures: &Figures) {
        for p in &mut self.0 {
            let rms = figures
                .branch_rms_a
                .get(p.branch)
                .copied()
                .unwrap_or(f64::NAN);
            p.worst
                .see(p.rms.next(rms, figures.period_s), &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.0.is_empty() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "A",
                "no switch or connector carries supply current",
            )];
        }
        let result = |p: &Pole| {
            let Some((limit, source)) = &p.limit else {
                return Some(
                    CheckResult::not_checked(
                        ID,
                        PROTECTS,
                        "A",
                        "the contact states no rating; add rating",
                    )
                    .part(&p.name),
                );
            };
            let judged = p.worst.judge(ID, PROTECTS, "A", *limit)?;
            Some(
                judged
                    .part(&p.name)
                    .source(source)
                    .why("RMS current over one second against the contact's rating"),
            )
        };
        self.0.iter().filter_map(result).collect()
    }
}
