//! `supply-collapse`: an operating point must exist in every frame.

use super::Check;
use crate::profile::figures::{Figures, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::at;

const ID: &str = "supply-collapse";
const PROTECTS: &str = "the supply as a whole";

struct SupplyCollapse {
    frames: u64,
    collapsed: u64,
    first: Option<(Moment, String)>,
}

pub(super) fn check() -> Box<dyn Check> {
    Box::new(SupplyCollapse {
        frames: 0,
        collapsed: 0,
        first: None,
    })
}

impl Check for SupplyCollapse {
    fn observe(&mut self, figures: &Figures) {
        self.frames += 1;
        if let Some(load) = &figures.collapsed {
            self.collapsed += 1;
            if self.first.is_none() {
                self.first = Some((figures.moment, load.clone()));
            }
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let judged = CheckResult::judged(ID, PROTECTS, "frames", Side::AtMost, 0.0, self.collapsed as f64)
            .source("operating point of a constant-power load: V² − E·V + R·P = 0 has no real root past P = E²/4R");
        vec![match &self.first {
            Some((moment, load)) => at(judged, moment)
                .part(load)
                .why(format!("no operating point exists in {} of {} frames; {load} asks for more power than the supply can give", self.collapsed, self.frames)),
            None => judged.why("an operating point exists in every frame"),
        }]
    }
}
