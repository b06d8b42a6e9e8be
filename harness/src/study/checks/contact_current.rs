//! `contact-current`: each switch, contact and connector pole against its rating, in the leg it sits in.

use super::carried::{branches_of, Carried};
use super::Check;
use crate::build::parts::Contact;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::CheckResult;

const ID: &str = "contact-current";
const PROTECTS: &str = "each contact from heating and welding";
/// A contact spot is tiny and warms within a second (from memory).
const TAU_S: f64 = 1.0;

struct Pole {
    carried: Carried,
    limit: Option<(f64, String)>,
}

struct ContactCurrent(Vec<Pole>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let poles = branches_of(subject, BranchKind::Contact).filter_map(|(branch, info)| {
        let contact = contact_of(&subject.prop.parts.get(info.index)?.kind)?;
        let limit = contact
            .rating
            .as_ref()
            .map(|r| (r.low_si(), r.source_or_given().to_owned()));
        let carried = Carried::new(branch, &info.name, TAU_S);
        Some(Pole { carried, limit })
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
            p.carried.observe(figures);
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
                let why = "the contact states no rating; add rating";
                return Some(p.carried.without_limit(ID, PROTECTS, why));
            };
            let why = "RMS current over one second against the contact's rating";
            Some(
                p.carried
                    .judge(ID, PROTECTS, *limit)?
                    .source(source)
                    .why(why),
            )
        };
        self.0.iter().filter_map(result).collect()
    }
}
