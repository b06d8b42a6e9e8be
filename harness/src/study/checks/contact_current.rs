//! `contact-current`: each switch, contact and connector pole against its rating, in the leg it sits in.

use super::carried::{branches_of, Carried};
use super::Check;
use crate::build::parts::Contact;
use crate::build::prop::PartKind;
use crate::electrical::heat::contact::spot_temperature_k;
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
    ohm: f64,
}

struct ContactCurrent {
    poles: Vec<Pole>,
    surroundings_k: f64,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let poles = branches_of(subject, BranchKind::Contact).filter_map(|(branch, info)| {
        let contact = contact_of(&subject.prop.parts.get(info.index)?.kind)?;
        let limit = contact
            .rating
            .as_ref()
            .map(|r| (r.low_si(), r.source_or_given().to_owned()));
        let carried = Carried::new(branch, &info.name, TAU_S);
        Some(Pole {
            carried,
            limit,
            ohm: info.ohm,
        })
    });
    Box::new(ContactCurrent {
        poles: poles.collect(),
        surroundings_k: subject.circuit.condition.temperature_k,
    })
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
        for p in &mut self.poles {
            p.carried.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.poles.is_empty() {
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
            let volts = p.carried.most_a()? * p.ohm;
            let hotter_k = spot_temperature_k(volts, self.surroundings_k) - self.surroundings_k;
            let why = format!(
                "RMS current over one second against the contact's rating; {:.0} mV across it make its spot at most {hotter_k:.0} K hotter than its metal (an upper bound: as if all of it lay over the spot)",
                volts * 1e3
            );
            Some(
                p.carried
                    .judge(ID, PROTECTS, *limit)?
                    .source(source)
                    .why(why),
            )
        };
        self.poles.iter().filter_map(result).collect()
    }
}
