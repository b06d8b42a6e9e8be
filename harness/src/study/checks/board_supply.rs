//! `board-supply`: brown-out reset, memory card and regulator input, at the coincidence peak.
//!
//! Bulk capacitors count as far as they smooth the peak, and the rail's own capacitor as far as it holds through a dip
//! of one PWM period; both are in the figures already. The line says how long that capacitor would last.

use super::Check;
use crate::build::parts::{Board, RegulatorKind};
use crate::build::prop::PartKind;
use crate::build::rated::Corner;
use crate::electrical::regulator::hold_up_at_current_s;
use crate::profile::bulk::longest_period_s;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "board-supply";

#[derive(Clone, Copy)]
enum Point {
    Rail,
    Input,
}

struct Limit {
    point: Point,
    what: &'static str,
    protects: &'static str,
    volts: f64,
    source: String,
    worst: Worst,
}

/// The capacitor on the rail: farads, the rail's current in amperes and its voltage.
type Hold = Option<(f64, f64, f64)>;

struct BoardSupply {
    part: Option<String>,
    hold: Hold,
    dip_s: f64,
    aligned: Worst,
    limits: Vec<Limit>,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let part = subject
        .circuit
        .board
        .and_then(|i| subject.prop.parts.get(i));
    let (limits, hold) = match part.map(|p| &p.kind) {
        Some(PartKind::Board(board)) => (
            limits(board),
            hold(board, subject.circuit.condition.cautious),
        ),
        _ => (Vec::new(), None),
    };
    Box::new(BoardSupply {
        part: part.map(|p| p.name.clone()),
        hold,
        dip_s: longest_period_s(subject.prop, subject.circuit),
        aligned: Worst::new(Side::AtMost),
        limits,
    })
}

fn hold(board: &Board, cautious: bool) -> Hold {
    let corner = if cautious {
        Corner::High
    } else {
        Corner::Nominal
    };
    let farad = board.rail_capacitance.as_ref()?;
    if board.regulator.kind == RegulatorKind::Direct {
        return None;
    }
    let rail_a = board.logic.at(corner) + board.card.as_ref().map_or(0.0, |c| c.at(corner));
    let farad = if cautious { farad.low_si() } else { farad.si() };
    Some((farad, rail_a, board.regulator.output.si()))
}

fn limits(board: &Board) -> Vec<Limit> {
    let wanted = [
        (
            Point::Rail,
            "reset",
            "the board from resetting (brown-out)",
            &board.reset_level,
        ),
        (
            Point::Rail,
            "card",
            "the memory card from errors",
            &board.card_min,
        ),
        (
            Point::Input,
            "supply-min",
            "the board's lowest working supply",
            &board.supply_min,
        ),
        (
            Point::Input,
            "regulator",
            "the regulator from stopping",
            &board.regulator.input_min,
        ),
    ];
    let found = wanted
        .into_iter()
        .filter_map(|(point, what, protects, value)| {
            let value = value.as_ref()?;
            // The cautious end of a falling threshold is its highest.
            Some(Limit {
                point,
                what,
                protects,
                volts: value.high_si(),
                source: value.source_or_given().to_owned(),
                worst: Worst::new(Side::AtLeast),
            })
        });
    found.collect()
}

impl BoardSupply {
    /// How long the rail's capacitor alone holds it above a limit, against how long a dip may last.
    fn held(&self, limit_v: f64) -> String {
        let Some((farad, rail_a, rail_v)) = self.hold.filter(|(_, a, _)| *a > 0.0) else {
            return String::new();
        };
        let alone_s = hold_up_at_current_s(farad, rail_v, limit_v, rail_a);
        let dip = if self.dip_s > 0.0 {
            format!("{:.1} ms", self.dip_s * 1e3)
        } else {
            "a time that is not known".to_owned()
        };
        format!(
            " (its own {:.0} µF hold it for {:.2} ms from {rail_v:.1} V; a dip of pulses lasts up to {dip})",
            farad * 1e6,
            alone_s * 1e3
        )
    }
}

impl Check for BoardSupply {
    fn observe(&mut self, figures: &Figures) {
        self.aligned.see(figures.cell_aligned_a, &figures.moment);
        for limit in &mut self.limits {
            let volts = match limit.point {
                Point::Rail => figures.rail_v,
                Point::Input => figures.board_peak_v,
            };
            limit.worst.see(volts, &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        const PROTECTS: &str = "the board from resetting (brown-out)";
        let Some(part) = &self.part else {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "V",
                "no board is drawn",
            )];
        };
        if self.limits.is_empty() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "V",
                "the board states no reset-level, card-min or supply-min",
            )
            .part(part)];
        }
        let result = |l: &Limit| {
            let place = match l.point {
                Point::Rail => format!("logic rail{}", self.held(l.volts)),
                Point::Input => "supply terminals".to_owned(),
            };
            let judged = l.worst.judge(ID, l.protects, "V", l.volts)?;
            Some(
                judged
                    .part(format!("{part} {}", l.what))
                    .source(&l.source)
                    .why(format!(
                        "{place} at the coincidence peak, smoothed by the bulk capacitors; aligned worst case {:.2} A at the cell",
                        self.aligned.figure().unwrap_or(f64::NAN)
                    )),
            )
        };
        self.limits.iter().filter_map(result).collect()
    }
}
