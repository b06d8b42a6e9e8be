//! `protection-trip`: the protection circuit must not open, taking its delay into account.

use super::carried::branches_of;
use super::Check;
use crate::build::prop::PartKind;
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::ending::PULSE_S;
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

const ID: &str = "protection-trip";
const PROTECTS: &str = "the prop from going dark when the protection opens";

struct Guard {
    branch: usize,
    name: String,
    limit_a: f64,
    delay_s: Option<f64>,
    under_v: Option<f64>,
    source: String,
    peak: Worst,
    sustained: Worst,
    cell_v: Worst,
}

struct ProtectionTrip(Vec<Guard>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let guards = branches_of(subject, BranchKind::Protection);
    Box::new(ProtectionTrip(
        guards
            .filter_map(|(i, b)| guard(subject, i, b.index))
            .collect(),
    ))
}

fn guard(subject: Subject<'_>, branch: usize, part: usize) -> Option<Guard> {
    let part = subject.prop.parts.get(part)?;
    let PartKind::Protection(p) = &part.kind else {
        return None;
    };
    Some(Guard {
        branch,
        name: part.name.clone(),
        limit_a: p.trip.low_si(),
        delay_s: p.delay.as_ref().map(|d| d.low_si()),
        under_v: p.under_voltage.as_ref().map(|v| v.high_si()),
        source: p.trip.source_or_given().to_owned(),
        peak: Worst::new(Side::AtMost),
        sustained: Worst::new(Side::AtMost),
        cell_v: Worst::new(Side::AtLeast),
    })
}

impl Check for ProtectionTrip {
    fn observe(&mut self, figures: &Figures) {
        for g in &mut self.0 {
            let at = |v: &[f64]| v.get(g.branch).copied().unwrap_or(f64::NAN).abs();
            g.peak.see(at(&figures.branch_peak_a), &figures.moment);
            g.sustained.see(at(&figures.branch_a), &figures.moment);
            g.cell_v.see(figures.cell_peak_v, &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.0.is_empty() {
            return vec![CheckResult::not_checked(ID, PROTECTS, "A", "no protection circuit is drawn; if the cell has one built in, draw it as a part of kind \"protection\"")];
        }
        self.0.iter().flat_map(results_of).collect()
    }
}

fn results_of(g: &Guard) -> Vec<CheckResult> {
    // A pulse peak lasts a small part of a PWM period. A trip delay longer than that rides through it,
    // but whether peaks recur within the delay is not known, so the peak counts unless the delay
    // outlasts a whole PWM period of the slowest pixels (400 Hz: 2.5 ms).
    let rides_through = g.delay_s.is_some_and(|d| d > PULSE_S);
    let (worst, what) = if rides_through {
        (
            &g.sustained,
            format!(
                "frame average: the trip delay of {:.0} ms outlasts a PWM period",
                g.delay_s.unwrap_or(0.0) * 1e3
            ),
        )
    } else {
        (
            &g.peak,
            "coincidence peak (quantile 0.9999): no trip delay longer than a PWM period is stated"
                .to_owned(),
        )
    };
    let current = worst
        .judge(ID, PROTECTS, "A", g.limit_a)
        .map(|r| r.part(&g.name).source(&g.source).why(what));
    let voltage = g
        .under_v
        .and_then(|limit| g.cell_v.judge(ID, PROTECTS, "V", limit))
        .map(|r| {
            r.part(&g.name)
                .source(&g.source)
                .why("cell voltage at the coincidence peak against the under-voltage cut")
        });
    current.into_iter().chain(voltage).collect()
}
