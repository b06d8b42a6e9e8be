//! When a prop goes dark on its own: at the cell's cut-off, when the protection opens, or when the board resets.

use super::circuit::{BranchKind, Subject};
use super::figures::Figures;
use crate::build::prop::PartKind;
use crate::build::rated::Rated;
use crate::units::Quantity;
use serde::Serialize;

/// Longest PWM period of the pixels in question, seconds (400 Hz): a trip delay beyond it rides through pulses.
pub const PULSE_S: f64 = 2.5e-3;

/// Why a prop went dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EndKind {
    /// The cell is at the voltage below which it must not be discharged.
    CutOff,
    /// The protection opens: too much current for longer than its delay, or too low a cell.
    ProtectionTrip,
    /// The board's rail is at its reset level.
    BrownOut,
    /// The supply has no operating point.
    SupplyCollapse,
}

/// The first end of a trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ended {
    /// Why.
    pub what: EndKind,
    /// The part, or the load that collapses.
    pub part: String,
    /// When, seconds from the start.
    pub time_s: f64,
    /// Index of that frame.
    pub frame: u64,
    /// The figure that passed its limit, in `unit`; `None` for a collapse.
    pub figure: Option<f64>,
    /// The limit.
    pub limit: Option<f64>,
    /// Unit of both.
    pub unit: &'static str,
}

impl std::fmt::Display for Ended {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let what = match self.what {
            EndKind::CutOff => "reaches its cut-off",
            EndKind::ProtectionTrip => "opens",
            EndKind::BrownOut => "resets",
            EndKind::SupplyCollapse => "finds no operating point",
        };
        write!(f, "{} {what} at {:.2} s", self.part, self.time_s)?;
        match (self.figure, self.limit) {
            (Some(figure), Some(limit)) => {
                write!(f, ": {figure:.2} {0}, limit {limit:.2} {0}", self.unit)
            }
            _ => Ok(()),
        }
    }
}

struct Guard {
    branch: usize,
    name: String,
    trip_a: f64,
    delay_s: f64,
    under_v: Option<f64>,
    over_s: f64,
}

/// Watches a trace for its first end.
pub struct Ending {
    cell: String,
    cut_off_v: f64,
    guards: Vec<Guard>,
    board: Option<(String, f64)>,
    found: Option<Ended>,
}

impl Ending {
    /// For a prop under the condition of its circuit; where that is cautious, limits are at their unfavourable ends.
    pub fn new(subject: Subject<'_>) -> Self {
        let cautious = subject.circuit.condition.cautious;
        let name = |i: usize| subject.prop.parts.get(i).map_or("", |p| p.name.as_str());
        let guard = |(branch, info): (usize, &super::circuit::BranchInfo)| {
            let PartKind::Protection(p) = &subject.prop.parts.get(info.index)?.kind else {
                return None;
            };
            Some(Guard {
                branch,
                name: info.name.clone(),
                trip_a: lower(&p.trip, cautious),
                delay_s: p.delay.as_ref().map_or(0.0, |d| lower(d, cautious)),
                under_v: p.under_voltage.as_ref().map(|v| upper(v, cautious)),
                over_s: 0.0,
            })
        };
        let branches = subject.circuit.branches.iter().enumerate();
        let guards = branches
            .filter(|(_, b)| b.kind == BranchKind::Protection)
            .filter_map(guard);
        let board = subject.circuit.board.and_then(|i| {
            let PartKind::Board(b) = &subject.prop.parts.get(i)?.kind else {
                return None;
            };
            let level = upper(b.reset_level.as_ref()?, cautious);
            Some((name(i).to_owned(), level))
        });
        Self {
            cell: name(subject.circuit.cell).to_owned(),
            cut_off_v: subject.prop.cell().map_or(0.0, |(_, c)| c.cut_off.si()),
            guards: guards.collect(),
            board,
            found: None,
        }
    }

    /// The first end so far.
    pub fn found(&self) -> Option<&Ended> {
        self.found.as_ref()
    }

    /// Takes the next frame.
    pub fn observe(&mut self, f: &Figures) {
        if self.found.is_some() {
            return;
        }
        let end = |what, part: &str, figure: f64, limit: f64, unit| Ended {
            what,
            part: part.to_owned(),
            time_s: f.moment.time_s,
            frame: f.moment.frame,
            figure: figure.is_finite().then_some(figure),
            limit: figure.is_finite().then_some(limit),
            unit,
        };
        if let Some(load) = &f.collapsed {
            self.found = Some(end(EndKind::SupplyCollapse, load, f64::NAN, 0.0, "V"));
            return;
        }
        for g in &mut self.guards {
            let pick = |list: &[f64]| list.get(g.branch).copied().unwrap_or(0.0).abs();
            let amps = if g.delay_s > PULSE_S {
                pick(&f.branch_a)
            } else {
                pick(&f.branch_peak_a)
            };
            g.over_s = if amps > g.trip_a {
                g.over_s + f.period_s
            } else {
                0.0
            };
            // A frame longer than the delay trips within itself.
            if g.over_s > 0.0 && g.over_s >= g.delay_s {
                self.found = Some(end(EndKind::ProtectionTrip, &g.name, amps, g.trip_a, "A"));
                return;
            }
            if let Some(limit) = g.under_v.filter(|v| f.cell_v < *v) {
                self.found = Some(end(EndKind::ProtectionTrip, &g.name, f.cell_v, limit, "V"));
                return;
            }
        }
        if let Some((name, level)) = &self.board {
            if f.rail_v < *level {
                self.found = Some(end(EndKind::BrownOut, name, f.rail_v, *level, "V"));
                return;
            }
        }
        if f.cell_v < self.cut_off_v {
            self.found = Some(end(
                EndKind::CutOff,
                &self.cell,
                f.cell_v,
                self.cut_off_v,
                "V",
            ));
        }
    }
}

fn lower<Q: Quantity>(rated: &Rated<Q>, cautious: bool) -> f64 {
    if cautious {
        rated.low_si()
    } else {
        rated.si()
    }
}

fn upper<Q: Quantity>(rated: &Rated<Q>, cautious: bool) -> f64 {
    if cautious {
        rated.high_si()
    } else {
        rated.si()
    }
}
