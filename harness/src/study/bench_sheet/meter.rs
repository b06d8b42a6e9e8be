//! What an ohmmeter reads between two points of the netlist with the cell out.
//!
//! Pixels, regulators and protection circuits do not conduct at the low voltage of a meter; they count as
//! open. Diodes do too.

use super::OPEN_OHM;
use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{spot, Spot};
use crate::electrical::{Drive, Network, NodeId, PixelType, Solver, SourceDrive};
use crate::profile::condition::Condition;
use crate::profile::laws::wire_ohm;
use std::collections::BTreeMap;

/// A resistance of the netlist.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub(super) a: Spot,
    pub(super) b: Spot,
    pub(super) ohm: f64,
}

/// Which end of the spreads to take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Take {
    Stated,
    Low,
    High,
}

/// Every resistance that a meter sees, with the switches on or off.
pub(super) fn edges(prop: &Prop, on: bool, take: Take) -> Vec<Edge> {
    let condition = match take {
        Take::High => Condition {
            cautious: true,
            wire_length_tolerance: crate::units::Quantity::si(
                prop.conditions.wire_length_tolerance,
            ),
            ..Condition::nominal()
        },
        _ => Condition::nominal(),
    };
    let mut out: Vec<Edge> = prop
        .wires
        .iter()
        .map(|w| Edge {
            a: spot(&w.from),
            b: spot(&w.to),
            ohm: wire_ohm(w, &condition),
        })
        .collect();
    for (i, part) in prop.parts.iter().enumerate() {
        parts(&mut out, prop, i, &part.kind, on, take);
    }
    out
}

fn parts(out: &mut Vec<Edge>, prop: &Prop, i: usize, kind: &PartKind, on: bool, take: Take) {
    let of = |r: &crate::build::rated::Rated<crate::units::Resistance>| match take {
        Take::Stated => r.si(),
        Take::Low => r.low_si(),
        Take::High => r.high_si(),
    };
    let mut through = |n: u16, ohm: f64| {
        out.push(Edge {
            a: (i, Pin::A(n)),
            b: (i, Pin::B(n)),
            ohm,
        });
    };
    match kind {
        PartKind::Switch(c) if on => through(0, of(&c.resistance)),
        PartKind::Contact(c) => through(0, of(&c.resistance)),
        PartKind::Connector { contact, poles } => {
            for n in 0..poles.len() as u16 {
                through(n, of(&contact.resistance));
            }
        }
        PartKind::Fuse(f) => through(0, of(&f.resistance)),
        PartKind::Resistor(r) => through(0, of(&r.resistance)),
        PartKind::Strip(s) => {
            for (plus, ohm) in [(true, of(&s.rail_plus)), (false, of(&s.rail_minus))] {
                let mut places: Vec<u32> = Vec::new();
                for end in prop.wires.iter().flat_map(|w| [&w.from, &w.to]) {
                    match end.pin {
                        Pin::RailPlus(n) if plus && end.part == i => places.push(n),
                        Pin::RailMinus(n) if !plus && end.part == i => places.push(n),
                        _ => {}
                    }
                }
                places.sort_unstable();
                places.dedup();
                for pair in places.windows(2) {
                    let [a, b] = pair else { continue };
                    let pin = |n| {
                        if plus {
                            Pin::RailPlus(n)
                        } else {
                            Pin::RailMinus(n)
                        }
                    };
                    out.push(Edge {
                        a: (i, pin(*a)),
                        b: (i, pin(*b)),
                        ohm: ohm * f64::from(b - a),
                    });
                }
            }
        }
        _ => {}
    }
}

/// Resistance between two points, ohms; [`OPEN_OHM`] where nothing joins them.
pub(super) fn between(edges: &[Edge], from: Spot, to: Spot) -> f64 {
    if from == to {
        return 0.0;
    }
    let reached = reached(edges, from);
    if !reached.contains_key(&to) {
        return OPEN_OHM;
    }
    // One volt behind one ohm: what is left of the volt tells the resistance.
    let mut builder = Network::<PixelType>::builder();
    let mut nodes: BTreeMap<Spot, NodeId> = BTreeMap::new();
    for spot in reached.keys() {
        nodes.insert(*spot, builder.node(&format!("{spot:?}")));
    }
    for e in edges {
        if let (Some(a), Some(b)) = (nodes.get(&e.a), nodes.get(&e.b)) {
            builder.resistor("", *a, *b, e.ohm);
        }
    }
    let (Some(a), Some(b)) = (nodes.get(&from), nodes.get(&to)) else {
        return OPEN_OHM;
    };
    let source = builder.source("meter", *a, *b, 1.0, 1.0);
    let solved = builder.build().and_then(|n| Solver::new(&n)).ok();
    let Some(mut solver) = solved else {
        // Everything between the points is joined by 0 Ω.
        return 0.0;
    };
    let drive = Drive {
        strips: &[],
        loads: &[],
        sources: &[SourceDrive {
            emf_v: 1.0,
            ohm: 1.0,
        }],
    };
    match solver.solve(&drive) {
        Ok(solution) => {
            let amperes = solution.source_a(source);
            if amperes > 0.0 {
                (1.0 / amperes - 1.0).max(0.0)
            } else {
                OPEN_OHM
            }
        }
        Err(_) => OPEN_OHM,
    }
}

/// Every point that a point is joined to, with its distance in edges.
pub(super) fn reached(edges: &[Edge], from: Spot) -> BTreeMap<Spot, usize> {
    let mut out = BTreeMap::from([(from, 0)]);
    let mut queue = std::collections::VecDeque::from([from]);
    while let Some(at) = queue.pop_front() {
        let next = out.get(&at).copied().unwrap_or(0) + 1;
        for e in edges {
            for (here, there) in [(e.a, e.b), (e.b, e.a)] {
                if here == at && !out.contains_key(&there) {
                    out.insert(there, next);
                    queue.push_back(there);
                }
            }
        }
    }
    out
}
