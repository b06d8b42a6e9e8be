//! Logic levels at each strip's data input.

use super::circuit::{Circuit, Driver};
use super::figures::{DataFigures, Figures};
use super::lower::Lowered;
use crate::build::parts::{Board, Threshold as PartThreshold};
use crate::build::prop::{PartKind, Prop};
use crate::electrical::data_line::{DataLine, Threshold};
use crate::electrical::Reading;

/// What is needed to read the levels of every data input.
#[derive(Debug)]
pub struct DataInputs {
    inputs: Vec<Option<Input>>,
    /// High level of a board output as a share of its rail.
    high_share: f64,
    /// Most that a board output can give, volts.
    board: bool,
}

#[derive(Debug)]
struct Input {
    driver: Driver,
    high: Threshold,
    low: Threshold,
}

impl DataInputs {
    /// Collects thresholds and drivers.
    pub fn new(prop: &Prop, circuit: &Circuit, board: Option<&Board>) -> Self {
        let inputs = circuit
            .strips
            .iter()
            .zip(&circuit.drivers)
            .map(|(info, driver)| {
                let PartKind::Strip(strip) = &prop.parts.get(info.part)?.kind else {
                    return None;
                };
                let cautious = circuit.condition.cautious;
                let high = threshold(strip.pixel.logic_high.as_ref()?, cautious, true);
                let low = threshold(strip.pixel.logic_low.as_ref()?, cautious, false);
                (*driver != Driver::None).then_some(Input {
                    driver: *driver,
                    high,
                    low,
                })
            });
        let high_share = board.map_or(1.0, |b| {
            if circuit.condition.cautious {
                b.data_high.low_si()
            } else {
                b.data_high.si()
            }
        });
        Self {
            inputs: inputs.collect(),
            high_share,
            board: board.is_some(),
        }
    }

    /// Reads every input in a solved frame.
    pub fn read(&self, f: &mut Figures, solution: &impl Reading, lowered: &Lowered) {
        let rail_v = f.rail_v;
        for (k, input) in self.inputs.iter().enumerate() {
            let figures = input
                .as_ref()
                .and_then(|i| self.levels(i, k, rail_v, solution, lowered));
            if let Some(slot) = f.data.get_mut(k) {
                *slot = figures;
            }
        }
    }

    fn levels(
        &self,
        input: &Input,
        strip: usize,
        rail_v: f64,
        solution: &impl Reading,
        lowered: &Lowered,
    ) -> Option<DataFigures> {
        let minus_v = solution.node_v(*lowered.strip_minus.get(strip)?);
        let supply_v = solution.strip_supply(*lowered.strips.get(strip)?).first_v;
        let (high_v, ground_v) = match input.driver {
            Driver::Board if self.board => {
                let (_, ground) = lowered.board_nodes?;
                (rail_v * self.high_share, solution.node_v(ground))
            }
            // A pixel drives its output from its own supply.
            Driver::Strip(before) => {
                let supply = solution.strip_supply(*lowered.strips.get(before)?).last_v;
                (supply, solution.node_v(*lowered.strip_minus.get(before)?))
            }
            _ => return None,
        };
        let line = DataLine {
            high_v,
            low_v: 0.0,
            board_ground_v: ground_v,
            pixel_ground_v: minus_v,
            pixel_supply_v: supply_v,
            threshold_high: input.high,
            threshold_low: input.low,
        };
        let margins = line.margins();
        let (high_threshold_v, low_threshold_v) = (input.high.at(supply_v), input.low.at(supply_v));
        Some(DataFigures {
            high_margin_v: margins.high_v,
            high_threshold_v,
            high_v: high_threshold_v + margins.high_v,
            low_margin_v: margins.low_v,
            low_threshold_v,
            low_v: low_threshold_v - margins.low_v,
        })
    }
}

fn threshold(of: &PartThreshold, cautious: bool, high: bool) -> Threshold {
    let pick = |low: f64, nominal: f64, top: f64| match (cautious, high) {
        (false, _) => nominal,
        (true, true) => top,
        (true, false) => low,
    };
    match of {
        PartThreshold::OfSupply(r) => Threshold::OfSupply(pick(r.low_si(), r.si(), r.high_si())),
        PartThreshold::Fixed(v) => Threshold::Volts(pick(v.low_si(), v.si(), v.high_si())),
    }
}
