//! The netlist as a drawing sees it: hubs where several wires meet, and chains of wires and two-ended parts
//! between them.

use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{spot, Spot, Supply};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Which part of the sheet a conductor is drawn in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Region {
    /// Supply, above the boxes.
    Top,
    /// Data and button, between the boxes and the returns.
    Signal,
    /// Return, at the bottom.
    Bottom,
}

/// Where a chain ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum End {
    /// A hub, by its spot.
    Hub(Spot),
    /// A pin of a box that one wire meets.
    Pin(Spot),
    /// Nothing: the pin hangs in the air.
    Loose(Spot),
}

impl End {
    /// The pin or joint it is at.
    pub(crate) fn spot(self) -> Spot {
        match self {
            Self::Hub(s) | Self::Pin(s) | Self::Loose(s) => s,
        }
    }
}

/// One thing in a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Link {
    /// A wire by its index; whether it is walked from `from` to `to`.
    Wire(usize, bool),
    /// A two-ended part or a pole of a connector, by the pin it is entered at.
    Element(usize, Pin),
}

/// Wires and two-ended parts in a row.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    pub(crate) from: End,
    pub(crate) to: End,
    pub(crate) links: Vec<Link>,
    pub(crate) region: Region,
    /// Chains from the cell.
    pub(crate) depth: usize,
}

/// The netlist, cut into chains.
#[derive(Debug)]
pub(crate) struct Netlist {
    pub(crate) chains: Vec<Chain>,
    /// Each hub with its region and its distance from the cell in chains.
    pub(crate) hubs: BTreeMap<Spot, (Region, usize)>,
}

/// Whether a part is drawn within a line.
pub(crate) fn is_element(prop: &Prop, supply: &Supply, part: usize) -> bool {
    match prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Resistor(_)) => {
            let level = |pin| supply.level_of((part, pin));
            // Between two live conductors it is a load.
            !matches!((level(Pin::A(0)), level(Pin::B(0))), (Some(a), Some(b)) if a != b)
        }
        Some(
            PartKind::Switch(_)
            | PartKind::Contact(_)
            | PartKind::Connector { .. }
            | PartKind::Fuse(_)
            | PartKind::Diode(_)
            | PartKind::Protection(_),
        ) => true,
        _ => false,
    }
}

fn opposite(pin: Pin) -> Pin {
    match pin {
        Pin::A(n) => Pin::B(n),
        Pin::B(n) => Pin::A(n),
        other => other,
    }
}

struct Walker<'a> {
    prop: &'a Prop,
    supply: &'a Supply,
    at: BTreeMap<Spot, Vec<usize>>,
    wires: BTreeSet<usize>,
    elements: BTreeSet<(usize, u16)>,
    /// Where a ring of wires and two-ended parts is cut open.
    cut: Option<Spot>,
}

impl Walker<'_> {
    fn degree(&self, spot: Spot) -> usize {
        self.at.get(&spot).map_or(0, Vec::len)
    }

    fn passes(&self, spot: Spot) -> bool {
        is_element(self.prop, self.supply, spot.0)
            && self.degree(spot) <= 1
            && self.cut != Some(spot)
    }

    fn end(&self, spot: Spot) -> End {
        let splice = spot.1 == Pin::Joint;
        if splice || self.degree(spot) > 1 || self.cut == Some(spot) {
            End::Hub(spot)
        } else {
            End::Pin(spot)
        }
    }

    /// Follows a wire from a spot to the end of its chain.
    fn walk(&mut self, from: End, wire: Option<usize>) -> Option<Chain> {
        let mut links = Vec::new();
        let mut at = from.spot();
        let mut next = wire;
        let to = loop {
            match next.take() {
                Some(index) => {
                    if !self.wires.insert(index) {
                        return None;
                    }
                    let wire = self.prop.wires.get(index)?;
                    let forward = spot(&wire.from) == at;
                    links.push(Link::Wire(index, forward));
                    at = if forward {
                        spot(&wire.to)
                    } else {
                        spot(&wire.from)
                    };
                    if !self.passes(at) {
                        break self.end(at);
                    }
                }
                None => {
                    // At a pin of a two-ended part: through it.
                    let (Pin::A(n) | Pin::B(n)) = at.1 else {
                        break End::Loose(at);
                    };
                    if !self.elements.insert((at.0, n)) {
                        if links.is_empty() {
                            return None;
                        }
                        break End::Loose(at);
                    }
                    links.push(Link::Element(at.0, at.1));
                    at = (at.0, opposite(at.1));
                    match self.degree(at) {
                        _ if self.cut == Some(at) => break End::Hub(at),
                        0 => break End::Loose(at),
                        1 => next = self.at.get(&at).and_then(|w| w.first().copied()),
                        _ => break End::Hub(at),
                    }
                }
            }
        };
        Some(Chain {
            from,
            to,
            links,
            region: Region::Signal,
            depth: 0,
        })
    }
}

/// Cuts the netlist into chains.
pub(crate) fn netlist(prop: &Prop, supply: &Supply) -> Netlist {
    let mut at: BTreeMap<Spot, Vec<usize>> = BTreeMap::new();
    for (i, wire) in prop.wires.iter().enumerate() {
        at.entry(spot(&wire.from)).or_default().push(i);
        at.entry(spot(&wire.to)).or_default().push(i);
    }
    let mut walker = Walker {
        prop,
        supply,
        at: at.clone(),
        wires: BTreeSet::new(),
        elements: BTreeSet::new(),
        cut: None,
    };
    let mut chains = Vec::new();
    // From the cells outwards, so that chains run with the current.
    let is_cell = |s: &Spot| {
        matches!(
            prop.parts.get(s.0).map(|p| &p.kind),
            Some(PartKind::Cell(_))
        )
    };
    let mut starts: VecDeque<Spot> = at.keys().filter(|s| is_cell(s)).copied().collect();
    let outputs = at
        .keys()
        .filter(|s| matches!(s.1, Pin::Data(_) | Pin::Clock(_)));
    starts.extend(outputs.copied().collect::<Vec<_>>());
    starts.extend(
        at.keys()
            .filter(|s| s.1 == Pin::DataOut)
            .copied()
            .collect::<Vec<_>>(),
    );
    starts.extend(at.keys().copied().collect::<Vec<_>>());
    let mut seen = BTreeSet::new();
    while let Some(start) = starts.pop_front() {
        if walker.passes(start) || !seen.insert(start) {
            continue;
        }
        let from = walker.end(start);
        let wires = at.get(&start).cloned().unwrap_or_default();
        let mut found: Vec<Chain> = wires
            .into_iter()
            .filter_map(|w| walker.walk(from, Some(w)))
            .collect();
        if is_element(prop, supply, start.0) {
            found.extend(walker.walk(from, None));
        }
        for chain in found {
            if let End::Hub(next) = chain.to {
                starts.push_front(next);
            }
            chains.push(chain);
        }
    }
    // What is left hangs on nothing: unwired parts are not drawn, a ring of parts is cut open.
    for i in 0..prop.wires.len() {
        if !walker.wires.contains(&i) {
            let Some(start) = prop.wires.get(i).map(|w| spot(&w.from)) else {
                continue;
            };
            walker.cut = Some(start);
            chains.extend(walker.walk(End::Hub(start), Some(i)));
            walker.cut = None;
        }
    }
    finish(prop, supply, chains)
}

fn finish(prop: &Prop, supply: &Supply, mut chains: Vec<Chain>) -> Netlist {
    let mut hubs = BTreeMap::new();
    for chain in &mut chains {
        chain.region = region(supply, chain.from.spot());
        for end in [chain.from, chain.to] {
            if let End::Hub(s) = end {
                hubs.insert(s, (region(supply, s), usize::MAX));
            }
        }
    }
    let is_cell = |s: Spot| {
        matches!(
            prop.parts.get(s.0).map(|p| &p.kind),
            Some(PartKind::Cell(_))
        )
    };
    for (s, (_, depth)) in &mut hubs {
        if is_cell(*s) {
            *depth = 0;
        }
    }
    for _ in 0..=chains.len() {
        for chain in &chains {
            let of = |end: End, hubs: &BTreeMap<Spot, (Region, usize)>| match end {
                End::Hub(s) => hubs.get(&s).map_or(usize::MAX, |h| h.1),
                End::Pin(s) if is_cell(s) => 0,
                _ => usize::MAX,
            };
            let (a, b) = (of(chain.from, &hubs), of(chain.to, &hubs));
            for (end, other) in [(chain.from, b), (chain.to, a)] {
                if let End::Hub(s) = end {
                    if let Some(h) = hubs.get_mut(&s) {
                        h.1 = h.1.min(other.saturating_add(1));
                    }
                }
            }
        }
    }
    for (_, depth) in hubs.values_mut() {
        if *depth == usize::MAX {
            *depth = 1;
        }
    }
    for chain in &mut chains {
        let of = |end: End| match end {
            End::Hub(s) => hubs.get(&s).map(|h| h.1),
            End::Pin(s) if is_cell(s) => Some(0),
            _ => None,
        };
        chain.depth = match (of(chain.from), of(chain.to)) {
            (Some(a), Some(b)) => a.min(b),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => 0,
        };
        // With the current: from the nearer end on.
        if let (Some(a), Some(b)) = (of(chain.from), of(chain.to)) {
            if b < a {
                turn(chain);
            }
        } else if of(chain.from).is_none() && of(chain.to).is_some() {
            turn(chain);
        }
    }
    Netlist { chains, hubs }
}

fn turn(chain: &mut Chain) {
    std::mem::swap(&mut chain.from, &mut chain.to);
    chain.links.reverse();
    for link in &mut chain.links {
        match link {
            Link::Wire(_, forward) => *forward = !*forward,
            Link::Element(_, pin) => *pin = opposite(*pin),
        }
    }
}

/// The part of the sheet that a pin's conductor belongs to.
pub(crate) fn region(supply: &Supply, at: Spot) -> Region {
    match supply.level_of(at) {
        Some(level) if level > 0 => return Region::Top,
        Some(_) => return Region::Bottom,
        None => {}
    }
    let Some(conductor) = supply.conductor(at) else {
        return Region::Signal;
    };
    let mut found = Region::Signal;
    for (_, pin) in supply.together(conductor) {
        match pin {
            Pin::Plus | Pin::Supply | Pin::Rail | Pin::RailPlus(_) => return Region::Top,
            Pin::Minus | Pin::Ground | Pin::RailMinus(_) => found = Region::Bottom,
            _ => {}
        }
    }
    found
}
