//! The joint plan: in which order to solder, with what to mind at each joint and what to check after it.

use super::cut_list::{gauge_words, STRIP_M};
use crate::build::parts::WireSize;
use crate::build::prop::{Part, PartKind, Prop};
use crate::units::Quantity;
use serde::Serialize;

/// Where a rule of work comes from.
pub const COMMON: &str = "common practice";

/// Iron for ordinary joints.
pub const IRON: &str = "iron at about 340 °C, a quick clean joint (common practice)";
/// Limit of LED packages.
pub const IRON_LED: &str =
    "iron below 300 °C, 3 s at most, once (data sheets WS2812-2020 p. 5 and WS2813 p. 5; stricter than common practice)";
/// Limit of tactile buttons.
pub const IRON_BUTTON: &str =
    "iron below 350 °C, 3 s at most (data sheet of the tactile switch 430 182 043 816)";

/// One wire to solder at both its ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Joint {
    /// Number in the order of work, from 1.
    pub step: usize,
    /// The sub-assembly: a zone, or two of them.
    pub assembly: String,
    /// Name of the wire.
    pub wire: String,
    /// Gauge, colour.
    pub kind: String,
    /// One end.
    pub from: String,
    /// The other end.
    pub to: String,
    /// What to do before.
    pub before: String,
    /// What to mind at each end.
    pub heat: Vec<String>,
    /// What to check after.
    pub after: String,
}

/// The order of work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JointPlan {
    /// What is got ready.
    pub prepare: Vec<String>,
    /// The joints in their order.
    pub joints: Vec<Joint>,
    /// Connections by touch or given by their resistance: nothing to solder.
    pub touch: Vec<String>,
    /// What is tested on the bench before anything goes into the tube.
    pub bench: Vec<String>,
    /// In which order parts go in.
    pub install: Vec<String>,
    /// What comes last.
    pub close: Vec<String>,
}

/// Makes the plan.
///
/// # Errors
/// The parts that wait for one another in a ring.
pub fn joint_plan(prop: &Prop) -> Result<JointPlan, String> {
    let order = order_of_parts(prop)?;
    let rank = |part: usize| order.iter().position(|p| *p == part).unwrap_or(usize::MAX);
    let mut soldered: Vec<usize> = Vec::new();
    let mut touch = Vec::new();
    for (i, wire) in prop.wires.iter().enumerate() {
        match &wire.size {
            WireSize::Resistance(_) => {
                touch.push(format!("{}: {} on {}", wire.name, wire.from, wire.to));
            }
            WireSize::Gauge { .. } => soldered.push(i),
        }
    }
    // A sub-assembly is finished before what leads to another; within one, in the order of its parts.
    soldered.sort_by_key(|i| {
        let Some(wire) = prop.wires.get(*i) else {
            return (usize::MAX, usize::MAX, 0, *i);
        };
        let (a, b) = (wire.from.part, wire.to.part);
        let zones = (zone(prop, a), zone(prop, b));
        let across = usize::from(zones.0 != zones.1);
        let group = place_of_zone(prop, &zones.0).max(place_of_zone(prop, &zones.1));
        (group, across, rank(a).max(rank(b)), *i)
    });
    let joints = soldered
        .iter()
        .enumerate()
        .filter_map(|(k, i)| joint(prop, *i, k + 1))
        .collect();
    Ok(JointPlan {
        prepare: prepare(),
        joints,
        touch,
        bench: bench(),
        install: install(prop, &order),
        close: close(),
    })
}

fn joint(prop: &Prop, index: usize, step: usize) -> Option<Joint> {
    let wire = prop.wires.get(index)?;
    let (a, b) = (
        prop.parts.get(wire.from.part)?,
        prop.parts.get(wire.to.part)?,
    );
    let (za, zb) = (zone(prop, wire.from.part), zone(prop, wire.to.part));
    let assembly = if za == zb {
        za
    } else {
        format!("{za} to {zb}")
    };
    let gauge = match &wire.size {
        WireSize::Gauge { gauge, .. } => gauge_words(*gauge),
        WireSize::Resistance(_) => String::new(),
    };
    let kind = [Some(gauge), wire.colour.clone()]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    let strip_mm = wire.strip_length.map_or(STRIP_M, |s| s.si()) * 1e3;
    let mut heat: Vec<String> = Vec::new();
    for (part, end) in [(a, &wire.from), (b, &wire.to)] {
        heat.push(format!("{end}: {}", heat_of(part)));
    }
    let neighbours = neighbours(prop, index);
    let near = if neighbours.is_empty() {
        String::new()
    } else {
        format!("; no short to {}", neighbours.join(", "))
    };
    Some(Joint {
        step,
        assembly,
        wire: wire.name.clone(),
        kind,
        from: wire.from.text.clone(),
        to: wire.to.text.clone(),
        before: format!(
            "strip {strip_mm:.0} mm, pre-tin both ends and both pads, sleeve on the wire first where the joint is bare"
        ),
        heat,
        after: format!("clean the flux off with alcohol, pull gently{near}"),
    })
}

fn heat_of(part: &Part) -> &'static str {
    match part.kind {
        PartKind::Strip(_) => IRON_LED,
        PartKind::Button => IRON_BUTTON,
        PartKind::Cell(_) => "never solder to a bare cell: use its holder or its welded tab; heat makes a lithium cell vent",
        _ => IRON,
    }
}

/// Other pads of the two parts that must not touch this joint.
fn neighbours(prop: &Prop, index: usize) -> Vec<String> {
    let Some(wire) = prop.wires.get(index) else {
        return Vec::new();
    };
    let mut out: Vec<String> = Vec::new();
    for end in [&wire.from, &wire.to] {
        let splice = matches!(
            prop.parts.get(end.part).map(|p| &p.kind),
            Some(PartKind::Splice)
        );
        if splice {
            continue;
        }
        for other in prop.wires.iter().flat_map(|w| [&w.from, &w.to]) {
            if other.part == end.part && other.pin != end.pin && !out.contains(&other.text) {
                out.push(other.text.clone());
            }
        }
    }
    out.truncate(4);
    out
}

/// The zone of a part in words.
fn zone(prop: &Prop, part: usize) -> String {
    prop.parts
        .get(part)
        .and_then(|p| p.zone.clone())
        .unwrap_or_else(|| "whole prop".to_owned())
}

/// Place of a zone in the order of work: deepest first, then the order of the file.
fn place_of_zone(prop: &Prop, name: &str) -> usize {
    let mut zones: Vec<usize> = (0..prop.zones.len()).collect();
    let depth = |z: &usize| prop.zones.get(*z).map_or(0, |z| z.depth);
    zones.sort_by_key(|z| std::cmp::Reverse(depth(z)));
    // What must come before it moves it back.
    let mut out: Vec<usize> = Vec::new();
    let mut left = zones;
    while !left.is_empty() {
        let ready = left.iter().position(|z| {
            prop.zones.get(*z).is_some_and(|zone| {
                zone.after.iter().all(|a| {
                    out.iter()
                        .any(|o| prop.zones.get(*o).is_some_and(|z| z.name == *a))
                })
            })
        });
        // A ring of zones is told by the order of the parts; here any way out does.
        let next = left.remove(ready.unwrap_or(0));
        out.push(next);
    }
    let at = out
        .iter()
        .position(|z| prop.zones.get(*z).is_some_and(|z| z.name == name));
    at.unwrap_or(out.len())
}

/// Parts in the order in which they go in: what is deeper first, and nothing before what it waits for.
fn order_of_parts(prop: &Prop) -> Result<Vec<usize>, String> {
    let mut left: Vec<usize> = (0..prop.parts.len()).collect();
    left.sort_by_key(|i| (place_of_zone(prop, &zone(prop, *i)), *i));
    let mut out: Vec<usize> = Vec::new();
    while !left.is_empty() {
        let placed = |name: &String| {
            out.iter()
                .any(|o| prop.parts.get(*o).is_some_and(|p| p.name == *name))
        };
        let ready = left.iter().position(|i| {
            let part = prop.parts.get(*i);
            part.is_some_and(|p| p.after.iter().all(placed))
        });
        let Some(at) = ready else {
            let names: Vec<&str> = left
                .iter()
                .filter_map(|i| prop.parts.get(*i))
                .filter(|p| !p.after.is_empty())
                .map(|p| p.name.as_str())
                .collect();
            return Err(format!(
                "these parts wait for one another: {}; take one of their `after` out",
                names.join(", ")
            ));
        };
        out.push(left.remove(at));
    }
    Ok(out)
}

fn install(prop: &Prop, order: &[usize]) -> Vec<String> {
    let parts = order.iter().filter_map(|i| prop.parts.get(*i));
    parts
        .filter(|p| !matches!(p.kind, PartKind::Splice | PartKind::Cell(_)))
        .map(|p| {
            let zone = p
                .zone
                .as_ref()
                .map_or_else(String::new, |z| format!(" into {z}"));
            let after = if p.after.is_empty() {
                String::new()
            } else {
                format!(", after {}", p.after.join(", "))
            };
            format!("{}{zone}{after}", p.name)
        })
        .collect()
}

fn owned(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|l| (*l).to_owned()).collect()
}

fn prepare() -> Vec<String> {
    owned(&[
        "take the cell out and put it away; take the storage card out of the board (common practice)",
        "ventilate, wear eye protection, put the iron in its stand",
        "cut the wires by the cut list: a little longer than their routed path (common practice)",
        "22 AWG with thin high-temperature insulation for the supply wires (common practice; the drawing and its checks come first)",
        "wire and test everything on the bench before anything goes into the tube (common practice)",
    ])
}

fn bench() -> Vec<String> {
    owned(&[
        "clean the residue off every board with alcohol and let it dry (common practice)",
        "shorts first: go through the resistances of the bench sheet with the cell out",
        "then polarity at every connector; a reversed cell destroys the pixels",
        "storage card back in, now that soldering is done (common practice)",
        "then the current-limited supply in place of the cell, with the readings of the bench sheet",
        "the cell only after every reading is in range",
    ])
}

fn close() -> Vec<String> {
    owned(&[
        "check shorts and polarity once more with everything in its place, then put the cell in",
        "verify every function: button, each strip, sound",
        "secure nuts and small pixels with a dab of adhesive last, after the function is verified (common practice)",
    ])
}
