//! `board-supply`: brown-out reset, memory card and regulator input, at the coincidence peak.

use super::Check;
use crate::build::parts::Board;
use crate::build::prop::PartKind;
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

struct BoardSupply {
    part: Option<String>,
    limits: Vec<Limit>,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let part = subject
        .circuit
        .board
        .and_then(|i| subject.prop.parts.get(i));
    let limits = match part.map(|p| &p.kind) {
        Some(PartKind::Board(board)) => limits(board),
        _ => Vec::new(),
    };
    Box::new(BoardSupply {
        part: part.map(|p| p.name.clone()),
        limits,
    })
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

impl Check for BoardSupply {
    fn observe(&mut self, figures: &Figures) {
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
                Point::Rail => "logic rail",
                Point::Input => "supply terminals",
            };
            let judged = l.worst.judge(ID, l.protects, "V", l.volts)?;
            Some(
                judged
                    .part(format!("{part} {}", l.what))
                    .source(&l.source)
                    .why(format!(
                        "{place} at the coincidence peak; no credit is taken for capacitors"
                    )),
            )
        };
        self.limits.iter().filter_map(result).collect()
    }
}
