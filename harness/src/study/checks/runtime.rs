//! `runtime`: how long the cell lasts if the trace is played again and again.

use super::Check;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::units::Quantity;

const ID: &str = "runtime";
const PROTECTS: &str = "the show from ending early";

struct Runtime {
    part: String,
    usable_c: f64,
    wanted_min: Option<f64>,
    charge_c: f64,
    time_s: f64,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let c = &subject.circuit.condition;
    let cell = subject.prop.cell().map(|(_, cell)| cell);
    let capacity = cell.map_or(0.0, |cell| {
        let new = if c.cautious {
            cell.capacity.low_si()
        } else {
            cell.capacity.si()
        };
        if c.aged {
            new * (1.0 - cell.ageing_capacity.si())
        } else {
            new
        }
    });
    let floor = subject.prop.conditions.soc_floor.si();
    Box::new(Runtime {
        part: subject
            .prop
            .parts
            .get(subject.circuit.cell)
            .map_or_else(String::new, |p| p.name.clone()),
        usable_c: capacity * (1.0 - floor),
        wanted_min: subject.prop.conditions.runtime.map(|t| t.si() / 60.0),
        charge_c: 0.0,
        time_s: 0.0,
    })
}

impl Check for Runtime {
    fn observe(&mut self, figures: &Figures) {
        self.charge_c += figures.cell_a * figures.period_s;
        self.time_s += figures.period_s;
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.charge_c <= 0.0 || !self.charge_c.is_finite() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "min",
                "no charge is drawn in this trace",
            )
            .part(&self.part)];
        }
        let minutes = self.usable_c / (self.charge_c / self.time_s) / 60.0;
        let why = format!(
            "{minutes:.0} min from full to the floor at this trace's mean current of {:.2} A",
            self.charge_c / self.time_s
        );
        let Some(wanted) = self.wanted_min else {
            let mut result = CheckResult::not_checked(
                ID,
                PROTECTS,
                "min",
                format!("{why}; state runtime under [conditions] to have it judged"),
            );
            result.worst = Some(minutes);
            return vec![result.part(&self.part)];
        };
        vec![
            CheckResult::judged(ID, PROTECTS, "min", Side::AtLeast, wanted, minutes)
                .part(&self.part)
                .source("runtime wished for in the build file")
                .why(why),
        ]
    }
}
