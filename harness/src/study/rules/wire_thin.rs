//! `wire-too-thin`: a wire that carries more than its gauge may.

use super::{of_check, Finding};
use crate::build::parts::WireSize;
use crate::build::prop::Prop;
use crate::study::ampacity::ampacity_a;
use crate::study::verdict::{CheckResult, Verdict};
use crate::units::Gauge;

pub(super) fn find(prop: &Prop, checks: &[CheckResult], out: &mut Vec<Finding>) {
    let failed = checks
        .iter()
        .filter(|r| r.id == "wire-current" && r.verdict == Verdict::Fails);
    for check in failed {
        let (Some(limit), Some(worst)) = (check.limit, check.worst) else {
            continue;
        };
        let name = check.part.clone().unwrap_or_default();
        let wire = prop.wires.iter().find(|w| w.name == name);
        let mend = match wire.map(|w| (&w.size, &w.insulation_max)) {
            Some((WireSize::Gauge { .. }, insulation)) => {
                let kelvin = insulation.as_ref().map(|t| t.si());
                match thick_enough(worst, kelvin) {
                    Some(awg) => {
                        format!("take {awg} AWG or thicker with this insulation, or lower the cap")
                    }
                    None => "split the current over several feeds, or lower the cap".to_owned(),
                }
            }
            _ => "take a thicker wire, or lower the cap".to_owned(),
        };
        out.push(of_check(
            prop,
            check,
            "wire-too-thin",
            format!(
                "wire \"{name}\" carries {worst:.2} A, its gauge and insulation allow {limit:.2} A"
            ),
            "a wire in a closed tube cannot shed its heat: the insulation softens and shorts",
            mend,
        ));
    }
}

fn thick_enough(amperes: f64, insulation_k: Option<f64>) -> Option<i32> {
    (10..=30)
        .rev()
        .step_by(2)
        .find(|n| ampacity_a(Gauge::Awg(*n), insulation_k) >= amperes)
}
