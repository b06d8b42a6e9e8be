//! Two builds side by side: what differs in the netlist, and what that does to every check.

use super::cap::CapResult;
use super::verdict::{CheckResult, Verdict};
use super::workshop::cut_list::gauge_words;
use crate::build::parts::{Wire, WireSize};
use crate::build::prop::{Part, PartKind, Prop};
use crate::units::Quantity;
use serde::Serialize;

/// What differs between two netlists, in words; the second against the first.
pub fn differences(first: &Prop, second: &Prop) -> Vec<String> {
    let mut out = Vec::new();
    for part in &first.parts {
        match second.parts.iter().find(|p| p.name == part.name) {
            None => out.push(format!("without {} \"{}\"", part.kind.word(), part.name)),
            Some(other) => out.extend(part_change(part, other)),
        }
    }
    for part in &second.parts {
        if !first.parts.iter().any(|p| p.name == part.name) {
            let from = part
                .from
                .as_ref()
                .map_or_else(String::new, |f| format!(" ({f})"));
            out.push(format!("with {} \"{}\"{from}", part.kind.word(), part.name));
        }
    }
    for wire in &first.wires {
        match second.wires.iter().find(|w| w.name == wire.name) {
            None => out.push(format!(
                "without wire {} ({} to {})",
                wire.name, wire.from, wire.to
            )),
            Some(other) => wire_change(wire, other, &mut out),
        }
    }
    for wire in &second.wires {
        if !first.wires.iter().any(|w| w.name == wire.name) {
            out.push(format!(
                "with wire {} from {} to {}, {}",
                wire.name,
                wire.from,
                wire.to,
                size_words(wire)
            ));
        }
    }
    if first.cap != second.cap {
        out.push(format!("cap {} instead of {}", second.cap, first.cap));
    }
    if first.conditions != second.conditions {
        out.push("other conditions of the checks".to_owned());
    }
    if first.sound != second.sound {
        out.push("other sound levels".to_owned());
    }
    out
}

fn part_change(first: &Part, second: &Part) -> Option<String> {
    if first.kind == second.kind {
        return None;
    }
    let name = &first.name;
    if first.from != second.from {
        let of = |p: &Part| {
            p.from
                .clone()
                .unwrap_or_else(|| format!("{} given in full", p.kind.word()))
        };
        return Some(format!(
            "\"{name}\": {} instead of {}",
            of(second),
            of(first)
        ));
    }
    if let (PartKind::Strip(a), PartKind::Strip(b)) = (&first.kind, &second.kind) {
        if a.pixels != b.pixels {
            return Some(format!(
                "\"{name}\": {} pixels instead of {}",
                b.pixels, a.pixels
            ));
        }
        if a.pixel.id != b.pixel.id {
            return Some(format!(
                "\"{name}\": pixel {} instead of {}",
                b.pixel.id, a.pixel.id
            ));
        }
        // Only its place in the frame moved.
        let moved = crate::build::parts::Strip {
            first: a.first,
            ..b.as_ref().clone()
        };
        if moved == **a {
            return Some(format!(
                "\"{name}\": begins at pixel {} of the frame instead of {}",
                b.first, a.first
            ));
        }
    }
    Some(format!(
        "\"{name}\": other figures of the {}",
        first.kind.word()
    ))
}

fn wire_change(first: &Wire, second: &Wire, out: &mut Vec<String>) {
    let ends = |w: &Wire| [(w.from.part, w.from.pin), (w.to.part, w.to.pin)];
    let texts = |w: &Wire| (w.from.text.clone(), w.to.text.clone());
    if texts(first) != texts(second) || ends(first).len() != ends(second).len() {
        out.push(format!(
            "wire {} runs from {} to {} instead of {} to {}",
            first.name, second.from, second.to, first.from, first.to
        ));
    }
    if first.size != second.size {
        out.push(format!(
            "wire {}: {} instead of {}",
            first.name,
            size_words(second),
            size_words(first)
        ));
    }
}

fn size_words(wire: &Wire) -> String {
    match &wire.size {
        WireSize::Gauge { gauge, length, .. } => {
            format!("{} {:.0} mm", gauge_words(*gauge), length.si() * 1e3)
        }
        WireSize::Resistance(r) => format!("{} mΩ", r.si() * 1e3),
    }
}

/// One check in two builds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// Id of the check.
    pub id: &'static str,
    /// What it is about.
    pub part: Option<String>,
    /// Its unit.
    pub unit: &'static str,
    /// Its worst result in the first build.
    pub first: Option<CheckResult>,
    /// Its worst result in the second build.
    pub second: Option<CheckResult>,
    /// By how much the margin grew, as a share of the limit.
    pub change: Option<f64>,
}

/// Pairs the checks of two builds, largest changes first: a verdict that turned, then the change of the margin.
pub fn side_by_side(first: &[CheckResult], second: &[CheckResult]) -> Vec<Pair> {
    let mut pairs: Vec<Pair> = Vec::new();
    for (results, is_first) in [(first, true), (second, false)] {
        for result in results {
            let part = result.bare_part().map(str::to_owned);
            let at = pairs
                .iter()
                .position(|p| p.id == result.id && p.part == part && p.unit == result.unit);
            let at = at.unwrap_or_else(|| {
                pairs.push(Pair {
                    id: result.id,
                    part,
                    unit: result.unit,
                    first: None,
                    second: None,
                    change: None,
                });
                pairs.len() - 1
            });
            if let Some(pair) = pairs.get_mut(at) {
                let slot = if is_first {
                    &mut pair.first
                } else {
                    &mut pair.second
                };
                if slot.as_ref().is_none_or(|old| worse(result, old)) {
                    *slot = Some(result.clone());
                }
            }
        }
    }
    for pair in &mut pairs {
        let share = |r: &Option<CheckResult>| r.as_ref().and_then(|r| r.margin_share);
        pair.change = match (share(&pair.first), share(&pair.second)) {
            (Some(a), Some(b)) => Some(b - a),
            _ => None,
        };
    }
    pairs.sort_by(|a, b| size_of(b).total_cmp(&size_of(a)));
    pairs
}

fn size_of(pair: &Pair) -> f64 {
    let fails = |r: &Option<CheckResult>| r.as_ref().is_some_and(|r| r.verdict == Verdict::Fails);
    let turned = if fails(&pair.first) == fails(&pair.second) {
        0.0
    } else {
        1e3
    };
    let alone = if pair.first.is_none() || pair.second.is_none() {
        1e-3
    } else {
        0.0
    };
    turned + alone + pair.change.filter(|c| c.is_finite()).map_or(0.0, f64::abs)
}

fn worse(a: &CheckResult, b: &CheckResult) -> bool {
    let share = |r: &CheckResult| r.margin_share.unwrap_or(f64::INFINITY);
    share(a) < share(b)
}

/// A build with its results.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    /// Name of the build or variant.
    pub name: String,
    /// What differs from the first build.
    pub differences: Vec<String>,
    /// Checks beside those of the first build; empty for the first.
    pub checks: Vec<Pair>,
    /// The caps it allows, one a preset.
    pub caps: Vec<CapResult>,
    /// Whether any check fails.
    pub fails: bool,
}
