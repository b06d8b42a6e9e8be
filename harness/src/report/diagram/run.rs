//! Drawing chains: their wires and two-ended parts along a height, from where they leave to where they arrive.

use super::chains::{Chain, End, Link};
use super::label::{element_lines, element_width, lines_width, wire_lines, wire_width, LINE};
use super::place::{Layout, Level, Points, HALF, HALF_HEIGHT};
use super::scene::{Area, DrawnWire, Symbol};
use crate::build::netlist::Pin;
use crate::build::supply::Spot;

impl Layout<'_> {
    pub(super) fn straight(&mut self) {
        for (k, (left, right, y)) in self.row.straight.clone() {
            let Some(chain) = self.chain_of(k) else {
                continue;
            };
            let y = y + self.top;
            let (from, to) = (self.pin_at(chain.from.spot()), self.pin_at(chain.to.spot()));
            let way = if from.0 <= to.0 { 1.0 } else { -1.0 };
            let start = if way > 0.0 { left } else { right };
            let mut run = Run::new(vec![(start, y)]);
            let mut pos = start + way * 7.0;
            self.links(&chain, &mut run, &mut pos, y, way);
            run.points.push((if way > 0.0 { right } else { left }, y));
            self.close(run);
        }
    }

    /// Places the links of a chain along a height.
    pub(super) fn links(&mut self, chain: &Chain, run: &mut Run, pos: &mut f64, y: f64, way: f64) {
        for link in &chain.links {
            match link {
                Link::Wire(index, _) => {
                    run.wire = Some(*index);
                    let width = wire_width(self.prop, *index, self.currents, &self.names);
                    let mut lines =
                        wire_lines(self.prop, *index, self.currents, &self.names, false);
                    *pos = self
                        .room
                        .slot(*pos, width, y - 2.0 * LINE - 5.0, y + 14.0, way);
                    let left = if way > 0.0 { *pos } else { *pos - width } + 5.0;
                    let current = (lines.len() > 2).then(|| lines.pop()).flatten();
                    let above = y - 4.0 - LINE * lines.len() as f64;
                    self.words(lines, left, above, true);
                    self.words(current.into_iter().collect(), left, y + 3.0, false);
                    *pos += way * width;
                }
                Link::Element(part, pin) => {
                    let width = element_width(self.prop, *part, *pin);
                    *pos = self.room.slot(*pos, width, y - 26.0, y + 26.0, way);
                    let middle = *pos + way * width / 2.0;
                    run.points.push((middle - way * HALF, y));
                    self.finish_piece(run);
                    self.element(*part, *pin, middle, y, way);
                    run.points = vec![(middle + way * HALF, y)];
                    run.wire = None;
                    *pos += way * width;
                }
            }
        }
    }

    pub(super) fn element(&mut self, part: usize, pin: Pin, x: f64, y: f64, way: f64) {
        let area = Area {
            x0: x - HALF,
            y0: y - HALF_HEIGHT,
            x1: x + HALF,
            y1: y + HALF_HEIGHT,
        };
        self.room.area(area);
        let other = match pin {
            Pin::A(n) => Pin::B(n),
            Pin::B(n) => Pin::A(n),
            p => p,
        };
        let left = if way > 0.0 { pin } else { other };
        let mut lines = element_lines(self.prop, part, pin);
        let value = (lines.len() > 1).then(|| lines.pop()).flatten();
        for (line, top, bold) in [
            (lines, y - HALF_HEIGHT - LINE - 3.0, true),
            (value.into_iter().collect(), y + HALF_HEIGHT + 2.0, false),
        ] {
            let width = lines_width(&line);
            self.words(line, x - width / 2.0, top, bold);
        }
        self.scene.symbols.push(Symbol {
            part,
            entry: Some(left),
            area,
            pins: vec![(pin, x - way * HALF, y), (other, x + way * HALF, y)],
        });
    }

    /// Ends the line that is being drawn: as a wire, or as part of a joint.
    pub(super) fn finish_piece(&mut self, run: &mut Run) {
        let points = tidy(std::mem::take(&mut run.points));
        self.register(&points);
        match (run.wire, run.hub.take()) {
            (Some(wire), _) => self.scene.wires.push(DrawnWire { wire, points }),
            (None, Some(hub)) => self.ties.entry(hub).or_default().push(points),
            _ => {}
        }
    }

    pub(super) fn close(&mut self, mut run: Run) {
        self.finish_piece(&mut run);
    }

    pub(super) fn chain(&mut self, k: usize) {
        let Some(chain) = self.chain_of(k) else {
            return;
        };
        let y = self.height(Level::Chain(k));
        let start = match chain.from {
            End::Pin(pin) => {
                let mut points = self.reach(pin, chain.region);
                let x = points.last().map_or(0.0, |p| p.0);
                points.push((x, y));
                points
            }
            End::Hub(hub) => {
                let bar = self.height(Level::Hub(hub));
                let x = self.room.lane(self.tap_hint(hub, &chain), bar, y, 1.0);
                self.room.vertical(x, bar, y);
                self.taps.entry(hub).or_default().push(x);
                vec![(x, bar), (x, y)]
            }
            End::Loose(_) => vec![(self.room.lane(24.0, y - 4.0, y + 4.0, 1.0), y)],
        };
        let x1 = start.last().map_or(0.0, |p| p.0);
        let goal = match chain.to {
            End::Pin(pin) => self.reach(pin, chain.region).last().map_or(x1, |p| p.0),
            End::Hub(hub) => self.middle(hub).unwrap_or(x1 + 1.0),
            End::Loose(_) => x1 + 1.0,
        };
        let leftwards = goal < x1 && self.ends_at(&chain, x1 - 7.0, y, -1.0) > 12.0;
        let way = if leftwards { -1.0 } else { 1.0 };
        let mut run = Run::new(start);
        if let End::Hub(hub) = chain.from {
            run.hub = Some(hub);
        }
        let mut pos = x1 + way * 7.0;
        self.links(&chain, &mut run, &mut pos, y, way);
        self.arrive(k, &chain, run, pos, y, way);
    }

    /// Where the links of a chain would come to an end.
    pub(super) fn ends_at(&self, chain: &Chain, start: f64, y: f64, way: f64) -> f64 {
        chain.links.iter().fold(start, |at, link| {
            let (width, above, below) = match link {
                Link::Wire(i, _) => {
                    let width = wire_width(self.prop, *i, self.currents, &self.names);
                    (width, 2.0 * LINE + 5.0, 14.0)
                }
                Link::Element(part, pin) => (element_width(self.prop, *part, *pin), 26.0, 26.0),
            };
            self.room.slot(at, width, y - above, y + below, way) + way * width
        })
    }

    pub(super) fn arrive(
        &mut self,
        k: usize,
        chain: &Chain,
        mut run: Run,
        pos: f64,
        y: f64,
        way: f64,
    ) {
        match chain.to {
            End::Hub(hub) => {
                let bar = self.height(Level::Hub(hub));
                let near = self
                    .middle(hub)
                    .filter(|m| (m - pos) * way > 0.0 && (m - pos).abs() < 60.0);
                let x = self.room.lane(near.unwrap_or(pos), y, bar, way);
                run.points.extend([(x, y), (x, bar)]);
                run.hub = Some(hub);
                self.taps.entry(hub).or_default().push(x);
                self.feeds.entry(hub).or_insert(x);
            }
            End::Pin(pin) => {
                let mut back = self.reach(pin, chain.region);
                let x = back.last().map_or(pos, |p| p.0);
                if (x - pos) * way >= 0.0 {
                    run.points.push((x, y));
                } else {
                    let low = self.height(Level::Return(k));
                    let turn = self.room.lane(pos, y, low, way);
                    run.points.extend([(turn, y), (turn, low), (x, low)]);
                }
                back.reverse();
                run.points.extend(back);
            }
            End::Loose(_) => run.points.push((pos + way * 6.0, y)),
        }
        self.close(run);
    }

    /// Where a chain should leave a hub.
    pub(super) fn tap_hint(&self, hub: Spot, chain: &Chain) -> f64 {
        let own: Vec<f64> = self.taps.get(&hub).cloned().unwrap_or_default();
        let feed = self.feeds.get(&hub).copied();
        let goal = match chain.to {
            End::Hub(next) => self.middle(next),
            End::Pin(pin) => self.reach(pin, chain.region).last().map(|p| p.0),
            End::Loose(_) => None,
        };
        let right = own.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        match (goal, feed) {
            (Some(goal), Some(feed)) if goal < feed => feed - 12.0,
            (Some(goal), _) if right.is_finite() => {
                (right + 12.0).min((goal - 60.0).max(right.min(goal)))
            }
            (_, Some(feed)) => feed + 12.0,
            _ if right.is_finite() => right + 12.0,
            _ => 24.0,
        }
    }

    /// The middle of what hangs on a hub already.
    pub(super) fn middle(&self, hub: Spot) -> Option<f64> {
        let taps = self.taps.get(&hub)?;
        (!taps.is_empty()).then(|| taps.iter().sum::<f64>() / taps.len() as f64)
    }
}

/// A line being drawn.
pub(super) struct Run {
    points: Points,
    wire: Option<usize>,
    hub: Option<Spot>,
}

impl Run {
    fn new(points: Points) -> Self {
        Self {
            points,
            wire: None,
            hub: None,
        }
    }
}

/// Without points that stand on top of each other or in the middle of a straight piece.
fn tidy(points: Points) -> Points {
    let mut out: Points = Vec::new();
    for p in points {
        let same = |a: f64, b: f64| (a - b).abs() < 0.01;
        if let Some(last) = out.last() {
            if same(last.0, p.0) && same(last.1, p.1) {
                continue;
            }
        }
        if let [.., a, b] = out[..] {
            let onward = |a: f64, b: f64, c: f64| (b - a) * (c - b) > 0.0;
            let straight = (same(a.0, b.0) && same(b.0, p.0) && onward(a.1, b.1, p.1))
                || (same(a.1, b.1) && same(b.1, p.1) && onward(a.0, b.0, p.0));
            if straight {
                out.pop();
            }
        }
        out.push(p);
    }
    out
}
