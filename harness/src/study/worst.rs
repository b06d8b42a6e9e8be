//! Keeping the worst figure of a trace and where it was.

use super::verdict::{CheckResult, Side};
use crate::profile::figures::Moment;

/// The worst figure so far and its moment.
#[derive(Debug, Clone, Copy)]
pub struct Worst {
    side: Side,
    found: Option<(f64, Moment)>,
}

impl Worst {
    /// For figures that are safe on one side of their limit.
    pub fn new(side: Side) -> Self {
        Self { side, found: None }
    }

    /// Takes a figure; a figure that is not a number counts as the worst of all.
    pub fn see(&mut self, figure: f64, moment: &Moment) {
        let worse = match self.found {
            None => true,
            Some((worst, _)) if worst.is_nan() => false,
            Some((worst, _)) => figure.is_nan() || self.side.margin(worst, figure) < 0.0,
        };
        if worse {
            self.found = Some((figure, *moment));
        }
    }

    /// The worst figure.
    pub fn figure(&self) -> Option<f64> {
        self.found.map(|(f, _)| f)
    }

    /// The moment of the worst figure.
    pub fn moment(&self) -> Option<Moment> {
        self.found.map(|(_, m)| m)
    }

    /// A judged result against a limit, with the moment filled in; `None` where nothing was seen.
    pub fn judge(
        &self,
        id: &'static str,
        protects: &'static str,
        unit: &'static str,
        limit: f64,
    ) -> Option<CheckResult> {
        let (figure, moment) = self.found?;
        Some(at(
            CheckResult::judged(id, protects, unit, self.side, limit, figure),
            &moment,
        ))
    }
}

/// Fills a moment into a result.
pub fn at(mut result: CheckResult, moment: &Moment) -> CheckResult {
    result.time_s = Some(moment.time_s);
    result.frame = Some(moment.frame);
    result.cue = moment.cue_text();
    result.layers = moment.layers_text();
    result
}
