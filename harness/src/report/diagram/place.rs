//! Layout: buses and chains on rows above and below the boxes, each on a height of its own, every vertical on an x of its
//! own. What is placed keeps clear of what lies there, so lines cross at right angles and nothing covers anything.

use super::boxes::{row, Placed, Row, Side, HEIGHT};
use super::chains::{netlist, Chain, End, Link, Netlist, Region};
use super::label::{lines_width, wire_lines, LINE, SIZE};
use super::nets::net_names;
use super::room::Room;
use super::scene::{Area, Bar, DrawnWire, Scene, Symbol, Words};
use crate::build::netlist::Pin;
use crate::build::prop::Prop;
use crate::build::supply::{Spot, Supply};
use std::collections::BTreeMap;

/// Half the length of a symbol in a line.
pub(crate) const HALF: f64 = 17.0;
/// Half its height.
pub(super) const HALF_HEIGHT: f64 = 10.0;
/// Room of the labels of vertical wires.
const BAND: f64 = 4.0 * LINE + 22.0;

/// What lies on a height of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Level {
    Chain(usize),
    /// The way back of a chain to a pin that it has run past.
    Return(usize),
    Hub(Spot),
}

pub(super) type Points = Vec<(f64, f64)>;

pub(super) struct Layout<'a> {
    pub(super) prop: &'a Prop,
    pub(super) supply: Supply,
    pub(super) net: Netlist,
    pub(super) names: Vec<String>,
    pub(super) currents: &'a [Option<f64>],
    pub(super) row: Row,
    pub(super) y: BTreeMap<Level, f64>,
    pub(super) top: f64,
    pub(super) room: Room,
    pub(super) scene: Scene,
    /// Where each hub is met.
    pub(super) taps: BTreeMap<Spot, Vec<f64>>,
    pub(super) ties: BTreeMap<Spot, Vec<Points>>,
    pub(super) feeds: BTreeMap<Spot, f64>,
}

/// Blank room left and right of a diagram that reaches beyond its columns, px.
const EDGE: f64 = 14.0;

/// Lays a prop's netlist out. `currents` holds the current to write on each wire, where there is one.
pub fn lay_out(prop: &Prop, currents: &[Option<f64>]) -> Scene {
    let supply = Supply::trace(prop);
    let net = netlist(prop, &supply);
    let names = net_names(prop, &supply);
    let row = row(prop, &supply, &net, currents, &names);
    let mut layout = Layout {
        prop,
        supply,
        net,
        names,
        currents,
        row,
        y: BTreeMap::new(),
        top: 0.0,
        room: Room::default(),
        scene: Scene::default(),
        taps: BTreeMap::new(),
        ties: BTreeMap::new(),
        feeds: BTreeMap::new(),
    };
    layout.heights();
    layout.boxes();
    layout.fixed();
    layout.straight();
    for level in layout.order() {
        if let Level::Chain(k) = level {
            layout.chain(k);
        }
    }
    layout.bars();
    layout.finish()
}

impl Layout<'_> {
    pub(super) fn chain_of(&self, k: usize) -> Option<Chain> {
        self.net.chains.get(k).cloned()
    }

    /// A wire between a hub and a pin that lies right below or above it.
    fn drop_pin(&self, chain: &Chain) -> Option<(Spot, Spot)> {
        if chain.links.len() != 1 || !matches!(chain.links.first(), Some(Link::Wire(..))) {
            return None;
        }
        let (hub, pin) = match (chain.from, chain.to) {
            (End::Hub(h), End::Pin(p)) | (End::Pin(p), End::Hub(h)) => (h, p),
            _ => return None,
        };
        let natural = match self.side(pin)? {
            Side::Top => chain.region == Region::Top,
            Side::Bottom => chain.region == Region::Bottom,
            _ => false,
        };
        (natural && self.net.hubs.get(&hub)?.0 == chain.region).then_some((hub, pin))
    }

    pub(super) fn placed(&self, part: usize) -> Option<&Placed> {
        self.row.boxes.iter().find(|b| b.part == part)
    }

    fn side(&self, pin: Spot) -> Option<Side> {
        let placed = self.placed(pin.0)?;
        placed.pins.iter().find(|p| p.0 == pin.1).map(|p| p.1)
    }

    /// Levels from the outermost to the innermost of each region.
    fn order(&self) -> Vec<Level> {
        let mut all: Vec<(Region, usize, Level)> = Vec::new();
        for (spot, (region, depth)) in &self.net.hubs {
            all.push((*region, 2 * depth, Level::Hub(*spot)));
        }
        for (k, chain) in self.net.chains.iter().enumerate() {
            if self.row.straight.contains_key(&k) || self.drop_pin(chain).is_some() {
                continue;
            }
            let key = 2 * chain.depth + 1;
            all.push((chain.region, key, Level::Chain(k)));
            if matches!(chain.to, End::Pin(_)) {
                all.push((chain.region, key, Level::Return(k)));
            }
        }
        all.sort_by_key(|(region, key, level)| {
            let (rank, k) = match level {
                Level::Chain(k) => (0, *k),
                Level::Return(k) => (0, *k),
                Level::Hub(_) => (1, 0),
            };
            (*region, *key, rank, k, *level)
        });
        all.into_iter().map(|(_, _, level)| level).collect()
    }

    fn region_of(&self, level: Level) -> Region {
        match level {
            Level::Chain(k) | Level::Return(k) => {
                self.net.chains.get(k).map_or(Region::Signal, |c| c.region)
            }
            Level::Hub(s) => self.net.hubs.get(&s).map_or(Region::Signal, |h| h.0),
        }
    }

    /// Room that a level needs above and below its line.
    fn extent(&self, level: Level) -> (f64, f64) {
        match level {
            Level::Chain(k) => {
                let links = self.net.chains.get(k).map_or(&[][..], |c| &c.links);
                let parts = links.iter().any(|l| matches!(l, Link::Element(..)));
                let with_current = self.currents.iter().any(Option::is_some);
                let below = if parts {
                    27.0
                } else if with_current {
                    16.0
                } else {
                    8.0
                };
                (2.0 * LINE + 8.0, below)
            }
            Level::Return(_) => (4.0, 6.0),
            Level::Hub(_) => (17.0, 9.0),
        }
    }

    fn heights(&mut self) {
        let order = self.order();
        let mut y = 10.0;
        let of = |region: Region| {
            order
                .iter()
                .copied()
                .filter(|l| self.region_of(*l) == region)
                .collect::<Vec<_>>()
        };
        let (tops, signals, mut bottoms) =
            (of(Region::Top), of(Region::Signal), of(Region::Bottom));
        bottoms.reverse();
        let mut heights = BTreeMap::new();
        let mut stack = |levels: &[Level], y: &mut f64| {
            for level in levels {
                let (above, below) = self.extent(*level);
                *y += above;
                heights.insert(*level, *y);
                *y += below;
            }
        };
        stack(&tops, &mut y);
        let top = y + BAND;
        y = top + HEIGHT + 6.0;
        stack(&signals, &mut y);
        y += BAND;
        stack(&bottoms, &mut y);
        self.y = heights;
        self.top = top;
        self.scene.height = y + 12.0;
    }

    pub(super) fn height(&self, level: Level) -> f64 {
        self.y.get(&level).copied().unwrap_or(self.top)
    }

    fn boxes(&mut self) {
        for placed in self.row.boxes.clone() {
            let area = Area {
                x0: placed.x,
                y0: self.top,
                x1: placed.x + placed.width,
                y1: self.top + HEIGHT,
            };
            self.room.area(area);
            self.scene.symbols.push(Symbol {
                part: placed.part,
                entry: None,
                area,
                pins: placed
                    .pins
                    .iter()
                    .map(|p| (p.0, p.2, p.3 + self.top))
                    .collect(),
            });
        }
    }

    pub(super) fn pin_at(&self, pin: Spot) -> (f64, f64) {
        let placed = self.placed(pin.0);
        let found = placed.and_then(|p| p.pins.iter().find(|q| q.0 == pin.1));
        found.map_or((20.0, self.top), |p| (p.2, p.3 + self.top))
    }

    /// The way from a pin to where a vertical line can lead into a region.
    pub(super) fn reach(&self, pin: Spot, region: Region) -> Points {
        let (x, y) = self.pin_at(pin);
        let lane = self.row.lanes.get(&pin).copied().unwrap_or(x);
        match (self.side(pin), region) {
            (Some(Side::Top), Region::Top) | (Some(Side::Bottom), Region::Bottom) => vec![(x, y)],
            (Some(side @ (Side::Top | Side::Bottom)), _) => {
                let way = if side == Side::Top { -1.0 } else { 1.0 };
                // Each pin that is led round takes a height of its own, the outermost the one nearest the box.
                let beyond = self.placed(pin.0).map_or(0, |p| {
                    let pins = p.pins.iter();
                    pins.filter(|q| q.1 == side && q.2 > x).count()
                });
                let out = y + way * (4.0 + 3.5 * beyond as f64);
                vec![(x, y), (x, out), (lane, out)]
            }
            _ => vec![(x, y), (lane, y)],
        }
    }

    pub(super) fn register(&mut self, points: &[(f64, f64)]) {
        for pair in points.windows(2) {
            if let [a, b] = pair {
                if (a.0 - b.0).abs() < 0.01 && (a.1 - b.1).abs() > 0.01 {
                    self.room.vertical(a.0, a.1, b.1);
                }
            }
        }
    }

    /// Lines whose place follows from the boxes alone.
    fn fixed(&mut self) {
        for (k, chain) in self.net.chains.clone().into_iter().enumerate() {
            if self.row.straight.contains_key(&k) {
                continue;
            }
            if let Some((hub, pin)) = self.drop_pin(&chain) {
                self.drop_wire(&chain, hub, pin);
                continue;
            }
            for (end, level) in [(chain.from, Level::Chain(k)), (chain.to, Level::Return(k))] {
                if let End::Pin(pin) = end {
                    let mut points = self.reach(pin, chain.region);
                    let x = points.last().map_or(0.0, |p| p.0);
                    points.push((x, self.height(level)));
                    self.register(&points);
                }
            }
        }
        for (spot, (region, _)) in self.net.hubs.clone() {
            // A pin of a box that several wires meet: tied to its bar.
            if self.side(spot).is_some() {
                let mut points = self.reach(spot, region);
                let x = points.last().map_or(0.0, |p| p.0);
                points.push((x, self.height(Level::Hub(spot))));
                self.register(&points);
                self.taps.entry(spot).or_default().push(x);
                self.feeds.entry(spot).or_insert(x);
                self.ties.entry(spot).or_default().push(points);
            }
        }
    }

    fn drop_wire(&mut self, chain: &Chain, hub: Spot, pin: Spot) {
        let (x, y) = self.pin_at(pin);
        let bar = self.height(Level::Hub(hub));
        self.room.vertical(x, bar, y);
        self.taps.entry(hub).or_default().push(x);
        if let Some(Link::Wire(wire, _)) = chain.links.first() {
            self.scene.wires.push(DrawnWire {
                wire: *wire,
                points: vec![(x, bar), (x, y)],
            });
            let lines = wire_lines(self.prop, *wire, self.currents, &self.names, true);
            let high = lines.len() as f64 * LINE;
            let y0 = if chain.region == Region::Top {
                y - 10.0 - high
            } else {
                y + 10.0 + self.band_shift()
            };
            self.words(lines, x + 4.0, y0, true);
        }
    }

    /// How far below the boxes the labels of the returns begin.
    fn band_shift(&self) -> f64 {
        let signals = self
            .y
            .iter()
            .filter(|(l, _)| self.region_of(**l) == Region::Signal);
        let lowest = signals
            .map(|(l, y)| y + self.extent(*l).1)
            .fold(0.0, f64::max);
        (lowest - self.top - HEIGHT).max(0.0)
    }

    pub(super) fn words(&mut self, lines: Vec<String>, x: f64, y: f64, bold: bool) {
        if lines.is_empty() {
            return;
        }
        let area = Area {
            x0: x,
            y0: y,
            x1: x + lines_width(&lines),
            y1: y + LINE * lines.len() as f64,
        };
        self.room.area(area);
        self.scene.words.push(Words {
            lines,
            area,
            bold,
            size: SIZE,
        });
    }

    fn bars(&mut self) {
        for (hub, _) in self.net.hubs.clone() {
            let y = self.height(Level::Hub(hub));
            let mut xs = self.taps.get(&hub).cloned().unwrap_or_default();
            xs.sort_by(f64::total_cmp);
            let (Some(first), Some(last)) = (xs.first().copied(), xs.last().copied()) else {
                continue;
            };
            let mut pieces = self.ties.remove(&hub).unwrap_or_default();
            pieces.insert(0, vec![(first, y), (last, y)]);
            self.scene.bars.push(Bar {
                part: hub.0,
                pin: hub.1,
                pieces,
                dots: xs.iter().map(|x| (*x, y)).collect(),
            });
            if hub.1 == Pin::Joint {
                let name = self.prop.parts.get(hub.0).map_or("", |p| p.name.as_str());
                self.bar_name(name.to_owned(), first, last, y);
            }
        }
        let _ = &self.supply;
    }

    fn bar_name(&mut self, name: String, first: f64, last: f64, y: f64) {
        let lines = vec![name];
        let width = lines_width(&lines);
        let mut places: Vec<(f64, f64)> = Vec::new();
        for top in [y - LINE - 2.0, y + 2.0] {
            let mut x = first + 4.0;
            while x + width < last {
                places.push((x, top));
                x += 5.0;
            }
        }
        let mut x = last + 5.0;
        for _ in 0..200 {
            places.push((x, y - LINE / 2.0));
            places.push((2.0 * first - x - width + (last - first), y - LINE / 2.0));
            x += 5.0;
        }
        let free = places.into_iter().find(|(x, top)| {
            *x > 2.0
                && self.room.is_free(&Area {
                    x0: *x,
                    y0: *top,
                    x1: x + width,
                    y1: top + LINE,
                })
        });
        let (x, top) = free.unwrap_or((last + 5.0, y - LINE / 2.0));
        self.words(lines, x, top, true);
    }

    fn finish(mut self) -> Scene {
        let left = self.scene.left();
        if left < 0.0 {
            // A line that had to give way to the left: the sheet begins where it does.
            self.scene.shift_right(EDGE - left);
        }
        self.scene.width = self.scene.right().max(self.row.width) + EDGE;
        self.scene
    }
}
