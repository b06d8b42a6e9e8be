//! `rail-current`: the copper of each strip against its rating.

use super::Check;
use crate::build::prop::PartKind;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "rail-current";
const PROTECTS: &str = "a strip's rails from overheating";

struct Rail {
    name: String,
    limit: Option<(f64, String)>,
    worst: Worst,
}

/// Parallel to the strips; a strip without rails of its own is an empty place.
struct RailCurrent(Vec<Option<Rail>>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let rails = subject.circuit.strips.iter().map(|info| {
        let limit = subject
            .prop
            .parts
            .get(info.part)
            .and_then(|p| match &p.kind {
                PartKind::Strip(s) => s
                    .rail_rating
                    .as_ref()
                    .map(|r| (r.low_si(), r.source_or_given().to_owned())),
                _ => None,
            });
        // A single pixel has no rail of its own.
        (info.pixels > 1).then(|| Rail {
            name: info.name.clone(),
            limit,
            worst: Worst::new(Side::AtMost),
        })
    });
    Box::new(RailCurrent(rails.collect()))
}

impl Check for RailCurrent {
    fn observe(&mut self, figures: &Figures) {
        for (rail, strip) in self.0.iter_mut().zip(&figures.strips) {
            if let Some(rail) = rail {
                rail.worst.see(strip.rail_peak_a, &figures.moment);
            }
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let result = |r: &Rail| {
            let Some((limit, source)) = &r.limit else {
                return Some(
                    CheckResult::not_checked(
                        ID,
                        PROTECTS,
                        "A",
                        "the strip states no rail rating; add rail-rating",
                    )
                    .part(&r.name),
                );
            };
            let judged = r.worst.judge(ID, PROTECTS, "A", *limit)?;
            Some(
                judged
                    .part(&r.name)
                    .source(source)
                    .why("largest current in a rail between two pixels at the coincidence peak"),
            )
        };
        self.0.iter().flatten().filter_map(result).collect()
    }
}
