//! A validated prop under one condition, as a network for the solver.
//!
//! This is the only place where parts become resistances, sources, loads and strips.

use super::circuit::{BranchInfo, BranchKind, Circuit, Driver, StripInfo, Subject};
use super::condition::Condition;
use super::laws::{pixel_law, wire_ohm};
use crate::build::netlist::Pin;
use crate::build::parts::{RegulatorKind, Strip};
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Corner;
use crate::build::supply::{bridges, spot, Fed, Spot, Supply};
use crate::electrical::{
    Feed, LoadId, LoadLaw, Network, NetworkBuilder, NetworkError, NodeId, Rail, SourceId, StripId,
    StripSpec,
};
use std::collections::HashMap;

/// A network with the map back to the prop.
#[derive(Debug)]
pub struct Lowered {
    /// What the solver works on.
    pub network: Network,
    /// Names and connections.
    pub circuit: Circuit,
    /// The cells, in part order, then the diodes that take a voltage.
    pub sources: Vec<SourceId>,
    /// EMF of each of those diodes, volts: negative, in the direction of its current.
    pub drops: Vec<f64>,
    /// The node of each supplied pin.
    pub nodes: HashMap<Spot, NodeId>,
    /// Part indices of the cells.
    pub source_parts: Vec<usize>,
    /// The strips, parallel to `circuit.strips`.
    pub strips: Vec<StripId>,
    /// The wires and contacts, parallel to `circuit.branches`.
    pub branches: Vec<crate::electrical::BranchId>,
    /// The board's logic supply.
    pub logic: Option<LoadId>,
    /// The board's amplifier.
    pub amplifier: Option<LoadId>,
    /// The board's supply and ground.
    pub board_nodes: Option<(NodeId, NodeId)>,
    /// For each strip the node at which its first pixel's minus is fed, and its feeds' pixel numbers.
    pub strip_minus: Vec<NodeId>,
    /// Bulk capacitors, in part order.
    pub capacitors: Vec<LoweredCapacitor>,
    /// Names of the loads, in solver order: the board's, then the capacitors.
    pub load_names: Vec<String>,
}

/// A bulk capacitor of the network: a load that delivers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoweredCapacitor {
    /// Index of its part.
    pub part: usize,
    /// What it delivers in a moment, as a load of the solver.
    pub load: LoadId,
}

/// Lowest supply that the solver lets a constant-power load work at where the part states none, volts:
/// below it no amplifier or converter for one lithium cell runs. Common practice.
pub const POWER_LOAD_MIN_V: f64 = 2.0;
/// Supply below which a linear regulator no longer draws its full current, volts.
const LINEAR_FULL_V: f64 = 1.0;

/// Lowers a prop for a condition.
///
/// # Errors
/// What keeps the netlist from being solved; the wiring findings name the same in the builder's words.
pub fn lower(prop: &Prop, condition: Condition) -> Result<Lowered, NetworkError> {
    Lowering::new(prop, condition).run()
}

struct Lowering<'a> {
    prop: &'a Prop,
    condition: Condition,
    supply: Supply,
    builder: NetworkBuilder,
    nodes: HashMap<Spot, NodeId>,
}

impl<'a> Lowering<'a> {
    fn new(prop: &'a Prop, condition: Condition) -> Self {
        Self {
            prop,
            condition,
            supply: Supply::trace(prop),
            builder: Network::builder(),
            nodes: HashMap::new(),
        }
    }

    fn corner(&self) -> Corner {
        if self.condition.cautious {
            Corner::High
        } else {
            Corner::Nominal
        }
    }

    fn run(mut self) -> Result<Lowered, NetworkError> {
        let (mut sources, source_parts) = self.sources();
        let (branches, branch_ids) = self.branches();
        let (strips, strip_ids, strip_minus) = self.strips()?;
        let board = self.board();
        let capacitors = self.capacitors();
        let drivers = self.drivers(&strips);
        let drops = self.diode_drops(&mut sources);
        let cell = source_parts.first().copied().unwrap_or(0);
        let circuit = Circuit {
            condition: self.condition,
            branches,
            strips,
            drivers,
            cell,
            board: board.as_ref().map(|b| b.part),
        };
        let mut load_names = Vec::new();
        if let Some(board) = &board {
            let name = self
                .prop
                .parts
                .get(board.part)
                .map_or("board", |p| p.name.as_str());
            load_names.push(format!("{name} logic"));
            if board.amplifier.is_some() {
                load_names.push(format!("{name} amplifier"));
            }
        }
        let name = |c: &LoweredCapacitor| self.prop.parts.get(c.part).map(|p| p.name.clone());
        load_names.extend(capacitors.iter().filter_map(name));
        Ok(Lowered {
            network: self.builder.build()?,
            circuit,
            sources,
            drops,
            nodes: self.nodes,
            source_parts,
            strips: strip_ids,
            branches: branch_ids,
            logic: board.as_ref().map(|b| b.logic),
            amplifier: board.as_ref().and_then(|b| b.amplifier),
            board_nodes: board.as_ref().map(|b| b.nodes),
            strip_minus,
            capacitors,
            load_names,
        })
    }

    /// The node of a pin. Feeds of one rail at different pixels are different nodes.
    fn node(&mut self, spot: Spot) -> NodeId {
        if let Some(id) = self.nodes.get(&spot) {
            return *id;
        }
        let part = self.prop.parts.get(spot.0).map_or("?", |p| p.name.as_str());
        let id = self.builder.node(&format!("{part}.{:?}", spot.1));
        self.nodes.insert(spot, id);
        id
    }

    fn sources(&mut self) -> (Vec<SourceId>, Vec<usize>) {
        let mut ids = Vec::new();
        let mut parts = Vec::new();
        for (i, part) in self.prop.parts.iter().enumerate() {
            if !matches!(part.kind, PartKind::Cell(_))
                || !self.supply.is_live((i, Pin::Plus))
                || !self.supply.is_live((i, Pin::Minus))
            {
                continue;
            }
            let (plus, minus) = (self.node((i, Pin::Plus)), self.node((i, Pin::Minus)));
            // EMF and resistance are set frame by frame from the cell's state.
            ids.push(self.builder.source(&part.name, plus, minus, 3.7, 0.05));
            parts.push(i);
        }
        (ids, parts)
    }

    fn branches(&mut self) -> (Vec<BranchInfo>, Vec<crate::electrical::BranchId>) {
        let mut infos = Vec::new();
        let mut ids = Vec::new();
        let prop = self.prop;
        for (index, wire) in prop.wires.iter().enumerate() {
            let (a, b) = (spot(&wire.from), spot(&wire.to));
            if wire.from.pin.is_signal() || wire.to.pin.is_signal() || !self.supply.is_live(a) {
                continue;
            }
            let ohm = wire_ohm(wire, &self.condition);
            let (from, to) = (self.node(a), self.node(b));
            ids.push(self.builder.resistor(&wire.name, from, to, ohm));
            infos.push(BranchInfo {
                name: wire.name.clone(),
                kind: BranchKind::Wire,
                index,
                ohm,
            });
        }
        for (index, part) in prop.parts.iter().enumerate() {
            for (pole, (a, b)) in bridges(&part.kind).into_iter().enumerate() {
                let (a, b) = ((index, a), (index, b));
                if !self.supply.is_live(a) {
                    continue;
                }
                let Some((kind, ohm, suffix)) = self.bridge(&part.kind, pole) else {
                    continue;
                };
                let name = format!("{}{suffix}", part.name);
                let (from, mut to) = (self.node(a), self.node(b));
                if let PartKind::Diode(d) = &part.kind {
                    if d.forward.at(self.corner()) > 0.0 {
                        // Its voltage follows behind this node.
                        to = self.node((index, Pin::Joint));
                    }
                }
                ids.push(self.builder.resistor(&name, from, to, ohm));
                infos.push(BranchInfo {
                    name,
                    kind,
                    index,
                    ohm,
                });
            }
            if let PartKind::Resistor(r) = &part.kind {
                let (a, b) = ((index, Pin::A(0)), (index, Pin::B(0)));
                // One that `bridges` passed over as too large for a joint: a load between two live conductors.
                if bridges(&part.kind).is_empty()
                    && self.supply.is_live(a)
                    && self.supply.is_live(b)
                {
                    let (from, to) = (self.node(a), self.node(b));
                    let ohm = r.resistance.at(self.corner());
                    ids.push(self.builder.resistor(&part.name, from, to, ohm));
                    infos.push(BranchInfo {
                        name: part.name.clone(),
                        kind: BranchKind::Resistor,
                        index,
                        ohm,
                    });
                }
            }
        }
        (infos, ids)
    }

    /// Puts the voltage of each diode behind its resistance, as an EMF against its current. The drawing
    /// decides the direction: one that is reversed is a finding, not a circuit to solve.
    fn diode_drops(&mut self, sources: &mut Vec<SourceId>) -> Vec<f64> {
        let mut drops = Vec::new();
        let prop = self.prop;
        for (index, part) in prop.parts.iter().enumerate() {
            let PartKind::Diode(d) = &part.kind else {
                continue;
            };
            let volts = d.forward.at(self.corner());
            if volts <= 0.0 || !self.supply.is_live((index, Pin::A(0))) {
                continue;
            }
            let (inner, cathode) = (
                self.node((index, Pin::Joint)),
                self.node((index, Pin::B(0))),
            );
            sources.push(self.builder.source(&part.name, cathode, inner, -volts, 0.0));
            drops.push(-volts);
        }
        drops
    }

    fn bridge(&self, kind: &PartKind, pole: usize) -> Option<(BranchKind, f64, String)> {
        let corner = self.corner();
        let plain = String::new();
        Some(match kind {
            PartKind::Switch(c) | PartKind::Contact(c) => {
                (BranchKind::Contact, c.resistance.at(corner), plain)
            }
            PartKind::Connector { contact, poles } => (
                BranchKind::Contact,
                contact.resistance.at(corner),
                format!(".{}", poles.get(pole)?),
            ),
            PartKind::Fuse(f) => (BranchKind::Fuse, f.resistance.at(corner), plain),
            PartKind::Diode(d) => (BranchKind::Diode, d.resistance.at(corner), plain),
            PartKind::Protection(p) => (BranchKind::Protection, p.resistance.at(corner), plain),
            PartKind::Resistor(r) => (BranchKind::Resistor, r.resistance.at(corner), plain),
            _ => return None,
        })
    }

    fn strips(&mut self) -> Result<LoweredStrips, NetworkError> {
        let mut infos = Vec::new();
        let mut ids = Vec::new();
        let mut minus_nodes = Vec::new();
        let prop = self.prop;
        for (part, strip) in prop.strips() {
            let (plus, minus) = self.supply.feeds(part);
            let (Some(p), Some(m)) = (plus.first(), minus.first()) else {
                continue;
            };
            if self.supply.fed(*p, *m) != Fed::Forward {
                continue;
            }
            let first_minus = self.node(*m);
            let mut feeds = Vec::new();
            for spot in plus.iter().chain(&minus) {
                let (rail, pixel) = match spot.1 {
                    Pin::RailPlus(n) => (Rail::Positive, n),
                    Pin::RailMinus(n) => (Rail::Negative, n),
                    _ => continue,
                };
                let node = self.node(*spot);
                feeds.push(Feed {
                    rail,
                    pixel: pixel as usize,
                    node,
                    ohm: 0.0,
                });
            }
            let name = prop
                .parts
                .get(part)
                .map_or_else(String::new, |p| p.name.clone());
            ids.push(self.builder.strip(self.strip_spec(&name, strip, feeds)?));
            infos.push(StripInfo {
                name,
                part,
                pixels: strip.pixels,
                channels: strip.channels(),
                first: strip.first,
            });
            minus_nodes.push(first_minus);
        }
        Ok((infos, ids, minus_nodes))
    }

    fn strip_spec(
        &self,
        name: &str,
        strip: &Strip,
        feeds: Vec<Feed>,
    ) -> Result<StripSpec, NetworkError> {
        let corner = self.corner();
        Ok(StripSpec {
            name: name.to_owned(),
            law: pixel_law(&strip.pixel, corner)?,
            pixels: strip.pixels as usize,
            rail_pos_ohm: strip.rail_plus.at(corner),
            rail_neg_ohm: strip.rail_minus.at(corner),
            feeds,
        })
    }

    fn board(&mut self) -> Option<LoweredBoard> {
        let (part, board) = self.prop.board()?;
        if self.supply.fed((part, Pin::Supply), (part, Pin::Ground)) != Fed::Forward {
            return None;
        }
        let name = self
            .prop
            .parts
            .get(part)
            .map_or("board", |p| p.name.as_str());
        let (plus, minus) = (
            self.node((part, Pin::Supply)),
            self.node((part, Pin::Ground)),
        );
        let corner = self.corner();
        let rail_a = board.logic.at(corner) + board.card.as_ref().map_or(0.0, |c| c.at(corner));
        let r = &board.regulator;
        let (law, amount) = match r.kind {
            RegulatorKind::Linear | RegulatorKind::Direct => (
                LoadLaw::ConstantCurrent {
                    full_v: LINEAR_FULL_V,
                },
                rail_a + r.quiescent.at(corner),
            ),
            RegulatorKind::Switching => {
                let min_v = r
                    .input_min
                    .as_ref()
                    .map_or(POWER_LOAD_MIN_V, |v| v.si())
                    .max(0.1);
                let efficiency = if self.condition.cautious {
                    r.efficiency.low_si()
                } else {
                    r.efficiency.si()
                };
                let watts =
                    r.output.si() * rail_a / efficiency + r.output.si() * r.quiescent.at(corner);
                (LoadLaw::ConstantPower { min_v }, watts)
            }
        };
        let logic = self
            .builder
            .load(&format!("{name} logic"), plus, minus, law, amount);
        let amplifier = board.amplifier.as_ref().map(|a| {
            let min_v = a
                .supply_min
                .as_ref()
                .map_or(POWER_LOAD_MIN_V, |v| v.si())
                .max(0.1);
            self.builder.load(
                &format!("{name} amplifier"),
                plus,
                minus,
                LoadLaw::ConstantPower { min_v },
                0.0,
            )
        });
        Some(LoweredBoard {
            part,
            logic,
            amplifier,
            nodes: (plus, minus),
        })
    }

    fn capacitors(&mut self) -> Vec<LoweredCapacitor> {
        let mut out = Vec::new();
        let prop = self.prop;
        for (part, p) in prop.parts.iter().enumerate() {
            let ends = ((part, Pin::Plus), (part, Pin::Minus));
            if !matches!(p.kind, PartKind::Capacitor(_))
                || self.supply.fed(ends.0, ends.1) != Fed::Forward
            {
                continue;
            }
            let (plus, minus) = (self.node(ends.0), self.node(ends.1));
            let load = self
                .builder
                .load(&p.name, plus, minus, LoadLaw::Injection, 0.0);
            out.push(LoweredCapacitor { part, load });
        }
        out
    }

    fn drivers(&self, strips: &[StripInfo]) -> Vec<Driver> {
        let driver = |info: &StripInfo| {
            let Some(conductor) = self.supply.conductor((info.part, Pin::DataIn)) else {
                return Driver::None;
            };
            let mut found = Driver::None;
            for (part, pin) in self.supply.together_through_signals(self.prop, conductor) {
                match pin {
                    Pin::Data(_) => return Driver::Board,
                    Pin::DataOut => {
                        if let Some(k) = strips.iter().position(|s| s.part == part) {
                            found = Driver::Strip(k);
                        }
                    }
                    _ => {}
                }
            }
            found
        };
        strips.iter().map(driver).collect()
    }
}

/// The fed strips, their ids and the node of each one's first minus feed, in frame order.
type LoweredStrips = (Vec<StripInfo>, Vec<StripId>, Vec<NodeId>);

struct LoweredBoard {
    part: usize,
    logic: LoadId,
    amplifier: Option<LoadId>,
    nodes: (NodeId, NodeId),
}

impl<'a> From<(&'a Prop, &'a Circuit)> for Subject<'a> {
    fn from((prop, circuit): (&'a Prop, &'a Circuit)) -> Self {
        Self { prop, circuit }
    }
}
