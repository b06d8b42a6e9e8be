//! Which terminals the cell supplies: the connectivity that both the electrical model and the wiring
//! rules stand on.
//!
//! Terminals that wires, contacts, fuses and splices join form a *conductor*. Cells lift one conductor
//! above another; a load is supplied if both its ends lie on conductors that cells tie together.

use super::netlist::{Pin, Terminal};
use super::prop::{PartKind, Prop};
use std::collections::HashMap;

/// Largest resistor that still counts as part of a conductor, ohms. Common practice: resistors in a
/// supply leg are below it, data-line and bleeder resistors far above.
const JOINT_OHM_MAX: f64 = 10.0;

/// A pin of a part, without the text it was written as.
pub type Spot = (usize, Pin);

/// The conductors of a prop with every switch closed.
#[derive(Debug, Clone)]
pub struct Supply {
    conductor: HashMap<Spot, usize>,
    /// For each conductor the number of cells it lies above the first cell's minus; `None` where no
    /// cell reaches it.
    level: Vec<Option<i32>>,
}

/// How a load sits in the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fed {
    /// Plus above minus.
    Forward,
    /// Plus below minus.
    Reversed,
    /// Both ends on one conductor.
    Bridged,
    /// One end or both reach no cell.
    Unfed,
}

impl Supply {
    /// Traces the conductors of a prop.
    pub fn trace(prop: &Prop) -> Self {
        Self::trace_without(prop, |_| false)
    }

    /// As [`trace`](Self::trace), with the parts for which `open` holds taken as open circuits.
    pub fn trace_without(prop: &Prop, open: impl Fn(usize) -> bool) -> Self {
        let mut joints = Joints::default();
        for wire in &prop.wires {
            joints.join(spot(&wire.from), spot(&wire.to));
        }
        for (i, part) in prop.parts.iter().enumerate() {
            if open(i) {
                continue;
            }
            for (a, b) in bridges(&part.kind) {
                joints.join((i, a), (i, b));
            }
        }
        for (i, part) in prop.parts.iter().enumerate() {
            if let PartKind::Strip(_) = part.kind {
                joints.join_rails(i);
            }
        }
        let conductor = joints.number();
        let level = levels(prop, &conductor);
        Self { conductor, level }
    }

    /// The conductor a pin lies on; `None` where no wire touches it.
    pub fn conductor(&self, spot: Spot) -> Option<usize> {
        self.conductor.get(&spot).copied()
    }

    /// Whether a cell reaches the pin.
    pub fn is_live(&self, spot: Spot) -> bool {
        self.level_of(spot).is_some()
    }

    /// How many cells the pin lies above the first cell's minus.
    pub fn level_of(&self, spot: Spot) -> Option<i32> {
        self.level.get(self.conductor(spot)?).copied().flatten()
    }

    /// Pins that lie on the same conductor.
    pub fn together(&self, conductor: usize) -> impl Iterator<Item = Spot> + '_ {
        self.conductor
            .iter()
            .filter(move |(_, c)| **c == conductor)
            .map(|(s, _)| *s)
    }

    /// Pins that a signal on this conductor reaches: the conductor's own and, through series resistors,
    /// those beyond.
    pub fn together_through_signals(&self, prop: &Prop, conductor: usize) -> Vec<Spot> {
        let mut conductors = vec![conductor];
        let mut next = 0;
        while let Some(c) = conductors.get(next).copied() {
            next += 1;
            for (part, pin) in self.together(c) {
                let other = match (prop.parts.get(part).map(|p| &p.kind), pin) {
                    (Some(PartKind::Resistor(_)), Pin::A(n)) => Pin::B(n),
                    (Some(PartKind::Resistor(_)), Pin::B(n)) => Pin::A(n),
                    _ => continue,
                };
                if let Some(beyond) = self.conductor((part, other)) {
                    if self.level.get(beyond).is_some_and(Option::is_none)
                        && !conductors.contains(&beyond)
                    {
                        conductors.push(beyond);
                    }
                }
            }
        }
        let mut spots: Vec<Spot> = conductors.iter().flat_map(|c| self.together(*c)).collect();
        spots.sort_unstable();
        spots
    }

    /// The wired feeds of a strip: on its plus rail and on its minus rail, in order of pixels.
    pub fn feeds(&self, part: usize) -> (Vec<Spot>, Vec<Spot>) {
        let mut plus: Vec<Spot> = Vec::new();
        let mut minus: Vec<Spot> = Vec::new();
        for spot in self.conductor.keys().filter(|(p, _)| *p == part) {
            match spot.1 {
                Pin::RailPlus(_) => plus.push(*spot),
                Pin::RailMinus(_) => minus.push(*spot),
                _ => {}
            }
        }
        plus.sort_unstable();
        minus.sort_unstable();
        (plus, minus)
    }

    /// How a load between two pins is fed.
    pub fn fed(&self, plus: Spot, minus: Spot) -> Fed {
        match (self.level_of(plus), self.level_of(minus)) {
            (Some(_), Some(_)) if self.conductor(plus) == self.conductor(minus) => Fed::Bridged,
            (Some(p), Some(m)) if p > m => Fed::Forward,
            (Some(p), Some(m)) if p < m => Fed::Reversed,
            (Some(_), Some(_)) => Fed::Bridged,
            _ => Fed::Unfed,
        }
    }
}

/// The spot of a terminal.
pub fn spot(terminal: &Terminal) -> Spot {
    (terminal.part, terminal.pin)
}

/// The pairs of pins that a part joins with a conductor.
pub fn bridges(kind: &PartKind) -> Vec<(Pin, Pin)> {
    match kind {
        PartKind::Switch(_)
        | PartKind::Contact(_)
        | PartKind::Fuse(_)
        | PartKind::Diode(_)
        | PartKind::Protection(_) => {
            vec![(Pin::A(0), Pin::B(0))]
        }
        // A resistor of more than this is a load or a data resistor, not a joint.
        PartKind::Resistor(r) if r.resistance.si() <= JOINT_OHM_MAX => vec![(Pin::A(0), Pin::B(0))],
        PartKind::Connector { poles, .. } => (0..poles.len())
            .filter_map(|n| u16::try_from(n).ok())
            .map(|n| (Pin::A(n), Pin::B(n)))
            .collect(),
        _ => Vec::new(),
    }
}

#[derive(Default)]
struct Joints {
    index: HashMap<Spot, usize>,
    parent: Vec<usize>,
}

impl Joints {
    fn id(&mut self, spot: Spot) -> usize {
        let next = self.parent.len();
        let id = *self.index.entry(spot).or_insert(next);
        if id == next {
            self.parent.push(next);
        }
        id
    }

    fn root(&mut self, mut i: usize) -> usize {
        while self.parent[i] != i {
            self.parent[i] = self.parent[self.parent[i]];
            i = self.parent[i];
        }
        i
    }

    fn join(&mut self, a: Spot, b: Spot) {
        let (a, b) = (self.id(a), self.id(b));
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a] = b;
    }

    /// All feeds of one rail lie on that rail.
    fn join_rails(&mut self, part: usize) {
        let pins: Vec<Spot> = self
            .index
            .keys()
            .filter(|(p, _)| *p == part)
            .copied()
            .collect();
        for plus in [true, false] {
            let rail: Vec<Spot> = pins
                .iter()
                .filter(|(_, pin)| match pin {
                    Pin::RailPlus(_) => plus,
                    Pin::RailMinus(_) => !plus,
                    _ => false,
                })
                .copied()
                .collect();
            for pair in rail.windows(2) {
                if let [a, b] = pair {
                    self.join(*a, *b);
                }
            }
        }
    }

    fn number(mut self) -> HashMap<Spot, usize> {
        let spots: Vec<(Spot, usize)> = self.index.iter().map(|(s, i)| (*s, *i)).collect();
        let mut numbers = HashMap::new();
        let mut sorted = spots;
        sorted.sort_by_key(|(s, _)| *s);
        let mut out = HashMap::new();
        for (spot, i) in sorted {
            let root = self.root(i);
            let next = numbers.len();
            let number = *numbers.entry(root).or_insert(next);
            out.insert(spot, number);
        }
        out
    }
}

fn levels(prop: &Prop, conductor: &HashMap<Spot, usize>) -> Vec<Option<i32>> {
    let count = conductor.values().max().map_or(0, |m| m + 1);
    let mut level = vec![None; count];
    let cells: Vec<(usize, usize)> = prop
        .parts
        .iter()
        .enumerate()
        .filter(|(_, p)| matches!(p.kind, PartKind::Cell(_)))
        .filter_map(|(i, _)| {
            Some((
                *conductor.get(&(i, Pin::Plus))?,
                *conductor.get(&(i, Pin::Minus))?,
            ))
        })
        .collect();
    if let Some((_, minus)) = cells.first() {
        level[*minus] = Some(0);
    }
    // Each pass reaches at least one cell more, so as many passes as cells are enough.
    for _ in 0..cells.len() {
        for (plus, minus) in &cells {
            match (level[*plus], level[*minus]) {
                (None, Some(m)) => level[*plus] = Some(m + 1),
                (Some(p), None) => level[*minus] = Some(p - 1),
                _ => {}
            }
        }
    }
    level
}

/// Every conducting edge of the netlist with the name of what makes it: wires, then contacts and the like.
pub fn edges(prop: &Prop) -> Vec<(Spot, Spot, String)> {
    let wires = prop
        .wires
        .iter()
        .map(|w| (spot(&w.from), spot(&w.to), format!("wire {}", w.name)));
    let parts = prop.parts.iter().enumerate().flat_map(|(i, part)| {
        let joined = bridges(&part.kind).into_iter();
        joined.map(move |(a, b)| {
            (
                (i, a),
                (i, b),
                format!("{} {}", part.kind.word(), part.name),
            )
        })
    });
    wires.chain(parts).collect()
}
