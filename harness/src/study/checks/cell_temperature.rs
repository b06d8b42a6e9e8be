//! `cell-temperature`: the cell between its coldest and its hottest in discharge, in the tube that it lies in.

use super::tube_heat::TubeHeats;
use super::Check;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::units::{Quantity, Temperature};

const ID: &str = "cell-temperature";
const PROTECTS: &str = "the cell from heat and cold";

type Limit = Option<(f64, String)>;

struct CellTemperature {
    part: String,
    heats: Option<TubeHeats>,
    surroundings_c: f64,
    hottest: Limit,
    coldest: Limit,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let cell = subject.prop.cell().map(|(_, c)| c);
    let part = subject.prop.parts.get(subject.circuit.cell);
    let limit = |rated: Option<&crate::build::rated::Rated<Temperature>>, low: bool| {
        let r = rated?;
        let kelvin = if low { r.low_si() } else { r.high_si() };
        Some((kelvin - Temperature::OFFSET, r.source_or_given().to_owned()))
    };
    Box::new(CellTemperature {
        part: part.map_or_else(String::new, |p| p.name.clone()),
        heats: TubeHeats::new(subject),
        surroundings_c: subject.circuit.condition.temperature_k - Temperature::OFFSET,
        hottest: limit(cell.and_then(|c| c.temperature_max.as_ref()), true),
        coldest: limit(cell.and_then(|c| c.temperature_min.as_ref()), false),
    })
}

impl CellTemperature {
    fn not_checked(&self, why: &str) -> Vec<CheckResult> {
        vec![CheckResult::not_checked(ID, PROTECTS, "°C", why).part(&self.part)]
    }
}

impl Check for CellTemperature {
    fn observe(&mut self, figures: &Figures) {
        if let Some(heats) = &mut self.heats {
            heats.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let Some(heats) = &self.heats else {
            return self.not_checked(
                "no tube is described: add [enclosure.NAME] with material, outer-diameter, wall, length and touch",
            );
        };
        let (Some((hottest, hot_source)), Some((coldest, cold_source))) =
            (&self.hottest, &self.coldest)
        else {
            return self.not_checked("the cell states no temperature-min and temperature-max");
        };
        let Some((kelvin, heat_w)) = heats.cell().filter(|_| heats.seen()) else {
            return self.not_checked(
                "no frame has an operating point, or the cell states neither diameter nor cooling",
            );
        };
        let celsius = kelvin - Temperature::OFFSET;
        let judged = |side, limit, figure, source: &str| {
            CheckResult::judged(ID, PROTECTS, "°C", side, limit, figure).source(source)
        };
        let hot = judged(Side::AtMost, *hottest, celsius, hot_source)
            .part(format!("{} hottest", self.part))
            .why(format!(
                "estimate for a trace played on and on: {heat_w:.2} W in the cell raise it {:.1} K above {:.0} °C in its tube, in still air, within a fifth of the rise",
                celsius - self.surroundings_c, self.surroundings_c
            ));
        // A cell that has just been switched on is as cold as the day.
        let cold = judged(Side::AtLeast, *coldest, self.surroundings_c, cold_source)
            .part(format!("{} coldest", self.part))
            .why("as cold as the surroundings when it is switched on");
        vec![hot, cold]
    }
}
