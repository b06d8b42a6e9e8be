//! `cell-pulse`: the cell's pulse discharge rating.

use super::Check;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "cell-pulse";
const PROTECTS: &str = "the cell from abuse by short peaks";

struct CellPulse {
    part: String,
    limit: Option<(f64, String)>,
    worst: Worst,
    aligned: Worst,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let cell = subject.prop.cell().map(|(_, c)| c);
    let limit = cell.and_then(|c| match (&c.pulse, &c.continuous) {
        (Some(p), _) => Some((p.low_si(), p.source_or_given().to_owned())),
        (None, Some(r)) => Some((
            r.low_si(),
            format!(
                "{} (continuous rating: no pulse rating is stated)",
                r.source_or_given()
            ),
        )),
        (None, None) => None,
    });
    let part = subject
        .prop
        .parts
        .get(subject.circuit.cell)
        .map_or_else(String::new, |p| p.name.clone());
    Box::new(CellPulse {
        part,
        limit,
        worst: Worst::new(Side::AtMost),
        aligned: Worst::new(Side::AtMost),
    })
}

impl Check for CellPulse {
    fn observe(&mut self, figures: &Figures) {
        self.worst.see(figures.cell_peak_a, &figures.moment);
        self.aligned.see(figures.cell_aligned_a, &figures.moment);
    }

    fn results(&self) -> Vec<CheckResult> {
        let Some((limit, source)) = &self.limit else {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "A",
                "the cell states neither a pulse nor a continuous current",
            )
            .part(&self.part)];
        };
        let why = format!(
            "coincidence peak (quantile 0.9999 a frame); aligned worst case {:.2} A",
            self.aligned.figure().unwrap_or(f64::NAN)
        );
        let judged = self.worst.judge(ID, PROTECTS, "A", *limit);
        judged
            .into_iter()
            .map(|r| r.part(&self.part).source(source).why(&why))
            .collect()
    }
}
