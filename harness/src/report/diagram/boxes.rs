//! Boxes: the parts that stand between supply and return, in a row from the cell to the last strip.

use super::chains::{is_element, region, Chain, End, Link, Netlist, Region};
use super::label::{element_width, wire_width};
use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{spot, Spot, Supply};
use std::collections::{BTreeMap, BTreeSet};

/// Room of one vertical wire with its label.
pub(crate) const LANE: f64 = 92.0;
/// Height of every box.
pub(crate) const HEIGHT: f64 = 128.0;
/// Distance of two pins on the side of a box.
const SIDE_PITCH: f64 = 24.0;
/// Depth of the first pin on the side of a box.
const SIDE_FIRST: f64 = 46.0;
/// Distance of two lanes in a gap.
const GAP_LANE: f64 = 11.0;

/// On which side of a box a pin lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Top,
    Bottom,
    Left,
    Right,
}

/// A box with its wired pins, top left corner at (`x`, 0).
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    pub(crate) part: usize,
    pub(crate) x: f64,
    pub(crate) width: f64,
    pub(crate) pins: Vec<(Pin, Side, f64, f64)>,
}

/// The row of boxes.
#[derive(Debug)]
pub(crate) struct Row {
    pub(crate) boxes: Vec<Placed>,
    /// Chains that run straight from a box to its neighbour: index, left x, right x, y.
    pub(crate) straight: BTreeMap<usize, (f64, f64, f64)>,
    /// Lane of a side pin, or of a pin that must be led round its box.
    pub(crate) lanes: BTreeMap<Spot, f64>,
    pub(crate) width: f64,
}

fn side(kind: &PartKind, pin: Pin) -> Side {
    match (kind, pin) {
        (PartKind::Button, Pin::A(_))
        | (_, Pin::Data(_) | Pin::Clock(_) | Pin::DataOut | Pin::ClockOut) => Side::Right,
        (_, Pin::Input | Pin::DataIn | Pin::ClockIn) => Side::Left,
        (PartKind::Button, _) | (_, Pin::Minus | Pin::Ground | Pin::RailMinus(_) | Pin::B(_)) => {
            Side::Bottom
        }
        _ => Side::Top,
    }
}

/// Parts in the order in which they stand from left to right.
fn order(prop: &Prop, supply: &Supply) -> Vec<usize> {
    let wired: BTreeSet<usize> = prop
        .wires
        .iter()
        .flat_map(|w| [w.from.part, w.to.part])
        .collect();
    let boxed = |i: &usize| {
        wired.contains(i)
            && !matches!(prop.parts.get(*i).map(|p| &p.kind), Some(PartKind::Splice))
            && !is_element(prop, supply, *i)
    };
    let rank = |i: &usize| match prop.parts.get(*i).map(|p| &p.kind) {
        Some(PartKind::Cell(_)) => 0,
        Some(PartKind::Supply(_)) => 1,
        Some(PartKind::Button) => 2,
        Some(PartKind::Board(_)) => 3,
        Some(PartKind::Strip(_)) => 4,
        _ => 5,
    };
    let mut parts: Vec<usize> = (0..prop.parts.len()).filter(boxed).collect();
    parts.sort_by_key(rank);
    // Capacitors and resistors stand beside the first strip whose supply they share.
    let nearest = |i: usize| {
        let own: Vec<usize> = hubs_of(prop, i);
        let strips = parts.iter().filter(|p| rank(p) == 4 || rank(p) == 3);
        let mut best = None;
        for s in strips {
            if hubs_of(prop, *s).iter().any(|h| own.contains(h)) {
                best = Some(*s);
                if rank(s) == 4 {
                    break;
                }
            }
        }
        best
    };
    let others: Vec<usize> = parts.iter().copied().filter(|p| rank(p) == 5).collect();
    let mut out: Vec<usize> = parts.iter().copied().filter(|p| rank(p) != 5).collect();
    for other in others {
        let place = nearest(other).and_then(|s| out.iter().position(|p| *p == s));
        match place {
            // Between two strips of one line a capacitor would stand in the way of the data.
            Some(at) => {
                let mut at = at + 1;
                while at < out.len()
                    && rank(&out[at]) == 4
                    && chained(prop, supply, out[at - 1], out[at])
                {
                    at += 1;
                }
                out.insert(at, other);
            }
            None => out.push(other),
        }
    }
    out
}

/// Whether the data of one strip goes on to the other.
fn chained(prop: &Prop, supply: &Supply, a: usize, b: usize) -> bool {
    let line = supply.conductor((a, Pin::DataOut));
    line.is_some_and(|c| {
        supply
            .together_through_signals(prop, c)
            .contains(&(b, Pin::DataIn))
    })
}

/// Splices that a part's wires lead to.
fn hubs_of(prop: &Prop, part: usize) -> Vec<usize> {
    let ends = prop.wires.iter().map(|w| (w.from.part, w.to.part));
    ends.filter_map(|(a, b)| match (a == part, b == part) {
        (true, _) => Some(b),
        (_, true) => Some(a),
        _ => None,
    })
    .collect()
}

/// Places the boxes from left to right.
pub(crate) fn row(
    prop: &Prop,
    supply: &Supply,
    netlist: &Netlist,
    currents: &[Option<f64>],
    nets: &[String],
) -> Row {
    let order = order(prop, supply);
    let mut boxes: Vec<Placed> = order.iter().filter_map(|i| unplaced(prop, *i)).collect();
    let straight = neighbours(&boxes, netlist);
    let mut out = Row {
        boxes: Vec::new(),
        straight: BTreeMap::new(),
        lanes: BTreeMap::new(),
        width: 0.0,
    };
    let mut x = 14.0;
    let mut previous: Option<Placed> = None;
    for mut this in boxes.drain(..) {
        // The gap before this box: lanes of the box on the left, a straight chain, lanes of this box.
        let left = previous.as_ref().map_or_else(Vec::new, |p| {
            lane_pins(p, supply, Side::Right, &straight, netlist)
        });
        let right = lane_pins(&this, supply, Side::Left, &straight, netlist);
        for (k, at) in left.iter().rev().enumerate() {
            out.lanes.insert(*at, x + GAP_LANE * (k + 1) as f64);
        }
        x += GAP_LANE * left.len() as f64;
        let chain = straight
            .iter()
            .find(|(c, _)| ends_at(netlist, **c, this.part));
        let from = previous.as_ref().map_or(0.0, |p: &Placed| p.x + p.width);
        let room = chain.map_or(if previous.is_some() { 26.0 } else { 0.0 }, |(c, _)| {
            chain_width(prop, netlist.chains.get(*c), currents, nets) + 14.0
        });
        x += room;
        for (k, at) in right.iter().enumerate() {
            out.lanes.insert(*at, x + GAP_LANE * (k + 1) as f64);
        }
        x += GAP_LANE * right.len() as f64 + if right.is_empty() { 0.0 } else { GAP_LANE };
        this.x = x;
        for pin in &mut this.pins {
            pin.2 += x;
        }
        if let Some((c, _)) = chain {
            out.straight.insert(*c, (from, x, SIDE_FIRST));
        }
        x += this.width;
        out.boxes.extend(previous.take());
        previous = Some(this);
    }
    if let Some(last) = previous {
        let right = lane_pins(&last, supply, Side::Right, &straight, netlist);
        for (k, at) in right.iter().rev().enumerate() {
            out.lanes.insert(*at, x + GAP_LANE * (k + 1) as f64);
        }
        x += GAP_LANE * right.len() as f64;
        out.boxes.push(last);
    }
    out.width = x + 14.0;
    out
}

fn ends_at(netlist: &Netlist, chain: usize, part: usize) -> bool {
    netlist.chains.get(chain).is_some_and(|c| {
        [c.from, c.to].iter().any(|e| {
            e.spot().0 == part && matches!(e.spot().1, Pin::DataIn | Pin::Input | Pin::ClockIn)
        })
    })
}

/// Pins of a box that need a lane in the gap on one side, from top to bottom: the topmost takes the
/// lane that is farthest from the box.
fn lane_pins(
    placed: &Placed,
    supply: &Supply,
    of: Side,
    straight: &BTreeMap<usize, ()>,
    netlist: &Netlist,
) -> Vec<Spot> {
    let is_straight = |spot: Spot| {
        straight.keys().any(|c| {
            netlist
                .chains
                .get(*c)
                .is_some_and(|c| c.from.spot() == spot || c.to.spot() == spot)
        })
    };
    let mut out: Vec<Spot> = Vec::new();
    for (pin, side, _, _) in &placed.pins {
        let at = (placed.part, *pin);
        let here = match side {
            Side::Left | Side::Right => *side == of && !is_straight(at),
            // Led round the box on its right where it belongs to the other half of the sheet.
            Side::Top => of == Side::Right && region(supply, at) != Region::Top,
            Side::Bottom => of == Side::Right && region(supply, at) != Region::Bottom,
        };
        if here {
            out.push(at);
        }
    }
    out
}

/// Chains from the first pin on the right of a box to the first pin on the left of the next.
fn neighbours(boxes: &[Placed], netlist: &Netlist) -> BTreeMap<usize, ()> {
    let mut out = BTreeMap::new();
    for pair in boxes.windows(2) {
        let [a, b] = pair else { continue };
        let first = |placed: &Placed, side| {
            placed
                .pins
                .iter()
                .find(|p| p.1 == side)
                .map(|p| End::Pin((placed.part, p.0)))
        };
        let (Some(from), Some(to)) = (first(a, Side::Right), first(b, Side::Left)) else {
            continue;
        };
        let joins = |c: &Chain| (c.from == from && c.to == to) || (c.from == to && c.to == from);
        if let Some(k) = netlist.chains.iter().position(joins) {
            out.insert(k, ());
        }
    }
    out
}

/// Width that the links of a chain need side by side.
fn chain_width(
    prop: &Prop,
    chain: Option<&Chain>,
    currents: &[Option<f64>],
    nets: &[String],
) -> f64 {
    let links = chain.map_or(&[][..], |c| &c.links);
    links
        .iter()
        .map(|link| match link {
            Link::Wire(i, _) => wire_width(prop, *i, currents, nets),
            Link::Element(part, pin) => element_width(prop, *part, *pin),
        })
        .sum()
}

fn unplaced(prop: &Prop, index: usize) -> Option<Placed> {
    let part = prop.parts.get(index)?;
    let mut pins: BTreeSet<Pin> = BTreeSet::new();
    for wire in &prop.wires {
        for end in [&wire.from, &wire.to] {
            if end.part == index {
                pins.insert(spot(end).1);
            }
        }
    }
    let on = |side: Side| {
        pins.iter()
            .copied()
            .filter(move |p| self::side(&part.kind, *p) == side)
            .collect::<Vec<_>>()
    };
    let (top, bottom, left, right) = (
        on(Side::Top),
        on(Side::Bottom),
        on(Side::Left),
        on(Side::Right),
    );
    let lanes = top.len().max(bottom.len()).max(1) as f64;
    let least: f64 = match part.kind {
        PartKind::Strip(_) => 118.0,
        PartKind::Board(_) => 136.0,
        PartKind::Cell(_) | PartKind::Supply(_) => 128.0,
        PartKind::Button => 104.0,
        _ => 104.0,
    };
    let width = (lanes * LANE).max(least);
    let mut placed = Vec::new();
    for (side, list, y) in [(Side::Top, top, 0.0), (Side::Bottom, bottom, HEIGHT)] {
        let pitch = (width - 8.0) / list.len().max(1) as f64;
        for (k, pin) in list.into_iter().enumerate() {
            placed.push((pin, side, 18.0 + pitch * k as f64, y));
        }
    }
    for (side, list, x) in [(Side::Left, left, 0.0), (Side::Right, right, width)] {
        for (k, pin) in list.into_iter().enumerate() {
            let y = SIDE_FIRST + SIDE_PITCH * k as f64;
            placed.push((pin, side, x, y.min(HEIGHT - 10.0)));
        }
    }
    Some(Placed {
        part: index,
        x: 0.0,
        width,
        pins: placed,
    })
}
