//! What is taken on the sheet already, so that nothing is laid over anything else.

use super::scene::Area;

/// Least distance of two lines side by side.
const CLEAR: f64 = 8.0;

/// Vertical lines and things with an area.
#[derive(Debug, Default)]
pub(crate) struct Room {
    verticals: Vec<(f64, f64, f64)>,
    areas: Vec<Area>,
}

impl Room {
    pub(crate) fn vertical(&mut self, x: f64, y0: f64, y1: f64) {
        self.verticals.push((x, y0.min(y1), y0.max(y1)));
    }

    pub(crate) fn area(&mut self, area: Area) {
        self.areas.push(area);
    }

    /// Whether an area is free of lines and other areas.
    pub(crate) fn is_free(&self, area: &Area) -> bool {
        self.blocker(area).is_none() && !self.areas.iter().any(|a| a.overlaps(area))
    }

    /// A vertical line through an area.
    fn blocker(&self, area: &Area) -> Option<f64> {
        let hit = self.verticals.iter().find(|(x, y0, y1)| {
            *x > area.x0 - 3.0 && *x < area.x1 + 3.0 && *y0 < area.y1 && *y1 > area.y0
        });
        hit.map(|(x, ..)| *x)
    }

    /// The first place from `x` on, in direction `way` (1 or −1), where an item of `width` between two heights
    /// meets no vertical line: its near edge.
    pub(crate) fn slot(&self, x: f64, width: f64, y0: f64, y1: f64, way: f64) -> f64 {
        let mut at = x;
        for _ in 0..2000 {
            let (x0, x1) = if way > 0.0 {
                (at, at + width)
            } else {
                (at - width, at)
            };
            match self.blocker(&Area { x0, y0, x1, y1 }) {
                Some(blocked) => at = blocked + way * 5.0,
                None => return at,
            }
        }
        at
    }

    /// The first x from `x` on, in direction `way`, where a vertical line can run between two heights.
    pub(crate) fn lane(&self, x: f64, y0: f64, y1: f64, way: f64) -> f64 {
        let (low, high) = (y0.min(y1), y0.max(y1));
        let mut at = x;
        for _ in 0..5000 {
            let near = self
                .verticals
                .iter()
                .any(|(vx, v0, v1)| (vx - at).abs() < CLEAR && *v0 < high + 1.0 && *v1 > low - 1.0);
            let inside = self
                .areas
                .iter()
                .any(|a| at > a.x0 - 3.0 && at < a.x1 + 3.0 && a.y0 < high && a.y1 > low);
            if !near && !inside {
                return at;
            }
            at += way * 4.0;
        }
        at
    }
}
