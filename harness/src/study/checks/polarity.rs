//! `polarity`: every part the right way round.

use super::Check;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::rules::reversed_parts;
use crate::study::verdict::{CheckResult, Side};

const ID: &str = "polarity";
const PROTECTS: &str = "pixels and board from reversed supply";

struct Polarity(Vec<String>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    Box::new(Polarity(reversed_parts(subject.prop)))
}

impl Check for Polarity {
    fn observe(&mut self, _: &Figures) {}

    fn results(&self) -> Vec<CheckResult> {
        let judged = CheckResult::judged(
            ID,
            PROTECTS,
            "parts",
            Side::AtMost,
            0.0,
            self.0.len() as f64,
        )
        .source("the netlist");
        vec![match self.0.first() {
            Some(part) => judged.part(part).why(format!("wired the wrong way round: {}", self.0.join(", "))),
            None => judged.why("every load has its plus on the plus side as drawn; a cell put in the wrong way round is not guarded against by this check"),
        }]
    }
}
