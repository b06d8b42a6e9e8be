//! `data-level`: the data signal must be read as high and as low at each strip's first pixel.

use super::Check;
use crate::build::parts::Threshold;
use crate::build::prop::PartKind;
use crate::profile::circuit::{Driver, Subject};
use crate::profile::figures::{Figures, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::at;

const ID: &str = "data-level";
const PROTECTS: &str = "data from being misread at the first pixel";

struct Input {
    name: String,
    driver: Driver,
    source: Option<String>,
    /// Least margin: margin, limit, level, side, moment.
    high: Option<(f64, f64, f64, Moment)>,
    low: Option<(f64, f64, f64, Moment)>,
}

struct DataLevel(Vec<Input>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let inputs = subject
        .circuit
        .strips
        .iter()
        .zip(&subject.circuit.drivers)
        .map(|(info, driver)| {
            let source = subject
                .prop
                .parts
                .get(info.part)
                .and_then(|p| match &p.kind {
                    PartKind::Strip(s) => s
                        .pixel
                        .logic_high
                        .as_ref()
                        .map(Threshold::source)
                        .map(str::to_owned),
                    _ => None,
                });
            Input {
                name: info.name.clone(),
                driver: *driver,
                source,
                high: None,
                low: None,
            }
        });
    Box::new(DataLevel(inputs.collect()))
}

fn keep(
    best: &mut Option<(f64, f64, f64, Moment)>,
    margin: f64,
    limit: f64,
    level: f64,
    moment: &Moment,
) {
    if best.is_none_or(|(m, ..)| margin < m || margin.is_nan()) {
        *best = Some((margin, limit, level, *moment));
    }
}

impl Check for DataLevel {
    fn observe(&mut self, figures: &Figures) {
        for (input, data) in self.0.iter_mut().zip(&figures.data) {
            let Some(d) = data else { continue };
            keep(
                &mut input.high,
                d.high_margin_v,
                d.high_threshold_v,
                d.high_v,
                &figures.moment,
            );
            keep(
                &mut input.low,
                d.low_margin_v,
                d.low_threshold_v,
                d.low_v,
                &figures.moment,
            );
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        self.0.iter().flat_map(results_of).collect()
    }
}

fn results_of(input: &Input) -> Vec<CheckResult> {
    let not = |why: &str| vec![CheckResult::not_checked(ID, PROTECTS, "V", why).part(&input.name)];
    if input.driver == Driver::None {
        return not("nothing that is known drives its data-in");
    }
    let (Some(high), Some(low)) = (&input.high, &input.low) else {
        return not("the pixel type states no logic thresholds; add logic-high and logic-low");
    };
    let who = match input.driver {
        Driver::Board => "board output",
        _ => "data-out of the strip before",
    };
    let source = input.source.clone().unwrap_or_default();
    let build = |(_, limit, level, moment): &(f64, f64, f64, Moment), side, word: &str| {
        at(CheckResult::judged(ID, PROTECTS, "V", side, *limit, *level), moment)
            .part(format!("{}.data-in {word}", input.name))
            .source(&source)
            .why(format!("{word} level of the {who} against the threshold at the first pixel, ground shift included, coincidence peak"))
    };
    vec![
        build(high, Side::AtLeast, "high"),
        build(low, Side::AtMost, "low"),
    ]
}
