//! The life of a layer: started, released, over.

use crate::cue::{Cue, CueKind};
use crate::envelope;
use crate::fixed::{fraction, scale, Share};
use crate::preset::{Edge, Layer};
use crate::time::{Clock, Millis};

/// A layer through all its runs.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Life {
    /// How often its paint was started anew, modulo 2³².
    count: u32,
    run: Option<Run>,
}

/// A layer that was started and is not over.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    /// Time of paint and mask.
    pub(super) paint: Clock,
    /// Time of the envelope.
    envelope: Clock,
    /// When the release began, and at what level.
    release: Option<(Clock, u16)>,
    /// Scale of the layer.
    strength: Share,
    /// Where the cue that started it points.
    pub(super) place: Share,
}

impl Run {
    /// Level of the envelope, without the strength; `None` once it is over.
    fn envelope_level(&self, layer: &Layer, now: Millis) -> Option<u16> {
        match self.release {
            Some((clock, from)) => envelope::released(&layer.envelope, from, clock.elapsed(now)),
            None => envelope::level(&layer.envelope, self.envelope.elapsed(now)),
        }
    }

    /// Level of the layer: envelope times strength.
    fn level(&self, layer: &Layer, now: Millis) -> Option<u16> {
        self.envelope_level(layer, now)
            .map(|level| scale(level, self.strength.0))
    }

    fn settle(&mut self, now: Millis) {
        self.paint.settle(now);
        self.envelope.settle(now);
        if let Some((clock, _)) = &mut self.release {
            clock.settle(now);
        }
    }
}

impl Life {
    /// What happens to the layer at an edge; `cue` is the cue if the edge is one.
    pub(super) fn meet(&mut self, layer: &Layer, edge: Edge, cue: Option<Cue>, now: Millis) {
        self.advance(layer, now);
        let starts = layer.start == edge;
        let ends = layer.end == Some(edge);
        let held = self.run.is_some_and(|run| run.release.is_none());
        if ends && held {
            self.release(layer, now);
        } else if starts {
            self.start(layer, edge, cue, now);
        }
    }

    fn release(&mut self, layer: &Layer, now: Millis) {
        if let Some(run) = &mut self.run {
            let level = run.envelope_level(layer, now).unwrap_or(0);
            run.release = Some((Clock::started(now), level));
        }
        self.advance(layer, now);
    }

    fn start(&mut self, layer: &Layer, edge: Edge, cue: Option<Cue>, now: Millis) {
        let wanted = match cue {
            Some(cue) if layer.by_strength => cue.strength(),
            _ => Share::FULL,
        };
        let place = cue.map_or(Share::HALF, Cue::place);
        let live = edge == Edge::Cue(CueKind::Level);
        if let (true, Some(run)) = (live, &mut self.run) {
            if run.release.is_none() {
                run.strength = wanted;
                run.place = place;
                return;
            }
        }
        let shown = self.run.and_then(|run| run.level(layer, now)).unwrap_or(0);
        let keep = match edge {
            Edge::Enter(_) => self.run,
            Edge::Cue(_) if live => self.run,
            Edge::Cue(_) => None,
        };
        // A weaker cue than what still shows goes on from there instead of dimming it at once.
        let strength = Share(wanted.0.max(shown));
        let reached = if shown == 0 {
            0
        } else {
            fraction(u32::from(shown), u32::from(strength.0))
        };
        let into = envelope::reaches(&layer.envelope, reached);
        let paint = match keep {
            Some(run) => run.paint,
            None => {
                self.count = self.count.wrapping_add(1);
                Clock::started(now)
            }
        };
        self.run = Some(Run {
            paint,
            envelope: Clock::started(now.minus(into)),
            release: None,
            strength,
            place,
        });
    }

    /// Lets the time come to `now`: a layer whose envelope is over ends.
    pub(super) fn advance(&mut self, layer: &Layer, now: Millis) {
        if let Some(run) = &mut self.run {
            run.settle(now);
            if run.envelope_level(layer, now).is_none() {
                self.run = None;
            }
        }
    }

    /// Ends the layer at once.
    pub(super) fn stop(&mut self) {
        self.run = None;
    }

    pub(super) const fn run(&self) -> Option<&Run> {
        self.run.as_ref()
    }

    /// How often its paint was started anew.
    pub(super) const fn count(&self) -> u32 {
        self.count
    }

    /// Coverage of the layer before its mask: envelope, strength and opacity.
    pub(super) fn gain(&self, layer: &Layer, now: Millis) -> u16 {
        let level = self.run.and_then(|run| run.level(layer, now));
        scale(level.unwrap_or(0), layer.opacity.0)
    }
}
