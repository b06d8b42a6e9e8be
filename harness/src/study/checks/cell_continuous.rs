//! `cell-continuous`: the cell's continuous discharge rating.

use super::thermal_rms::ThermalRms;
use super::Check;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "cell-continuous";
const PROTECTS: &str = "the cell from overheating";
/// A 18650 to 21700 cell in still air warms with a time constant of many minutes; one minute is cautious.
const TAU_S: f64 = 60.0;

struct CellContinuous {
    part: String,
    limit: Option<(f64, String)>,
    rms: ThermalRms,
    worst: Worst,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let cell = subject.prop.cell().map(|(_, c)| c);
    let limit = cell
        .and_then(|c| c.continuous.as_ref())
        .map(|r| (r.low_si(), r.source_or_given().to_owned()));
    let part = subject
        .prop
        .parts
        .get(subject.circuit.cell)
        .map_or_else(String::new, |p| p.name.clone());
    Box::new(CellContinuous {
        part,
        limit,
        rms: ThermalRms::new(TAU_S),
        worst: Worst::new(Side::AtMost),
    })
}

impl Check for CellContinuous {
    fn observe(&mut self, figures: &Figures) {
        let felt = self.rms.next(figures.cell_rms_a, figures.period_s);
        self.worst.see(felt, &figures.moment);
    }

    fn results(&self) -> Vec<CheckResult> {
        let Some((limit, source)) = &self.limit else {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "A",
                "the cell states no continuous current; add continuous-current",
            )
            .part(&self.part)];
        };
        let judged = self.worst.judge(ID, PROTECTS, "A", *limit);
        judged
            .into_iter()
            .map(|r| {
                r.part(&self.part)
                    .source(source)
                    .why("RMS cell current over a minute against the continuous rating")
            })
            .collect()
    }
}
