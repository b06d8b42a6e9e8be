//! `cell-temperature` and `touch-temperature`: not modelled yet, and said so.

use super::Check;
use crate::profile::figures::Figures;
use crate::study::verdict::CheckResult;

struct NoModel(CheckResult);

pub(super) fn cell_temperature() -> Box<dyn Check> {
    Box::new(NoModel(CheckResult::not_checked(
        "cell-temperature",
        "the cell from heat and cold",
        "°C",
        "there is no thermal model of the cell yet",
    )))
}

pub(super) fn touch_temperature() -> Box<dyn Check> {
    Box::new(NoModel(CheckResult::not_checked(
        "touch-temperature",
        "the hand that holds the prop",
        "°C",
        "there is no thermal model of the tube yet",
    )))
}

impl Check for NoModel {
    fn observe(&mut self, _: &Figures) {}

    fn results(&self) -> Vec<CheckResult> {
        vec![self.0.clone()]
    }
}
