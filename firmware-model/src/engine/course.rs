//! The course of a prop through its states.

use crate::envelope::part_of;
use crate::fixed::{fraction, smoothstep};
use crate::preset::{Easing, Preset, Transition};
use crate::state::State;
use crate::time::Millis;

/// Where a prop is between dark and lit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    state: State,
    /// Whether the picture of this way is that of the fall; it stays so when the way turns round.
    as_fall: bool,
    /// When the state began.
    since: Millis,
    /// How lit the prop was then.
    from: u16,
    /// How long the state lasts, ms; of no meaning while dark or lit.
    lasts_ms: u32,
}

impl Course {
    pub(super) const fn dark() -> Course {
        Course {
            state: State::Dark,
            as_fall: false,
            since: Millis(0),
            from: 0,
            lasts_ms: 0,
        }
    }

    pub(super) const fn state(&self) -> State {
        self.state
    }

    /// Starts the rise.
    pub(super) fn rise(&mut self, preset: &Preset, now: Millis) {
        let from = self.progress(preset, now);
        if self.state == State::Dark {
            self.as_fall = false;
        }
        self.state = State::Rising;
        self.turn(now, from, part_of(preset.rise.duration_ms, !from));
    }

    /// Starts the fall.
    pub(super) fn fall(&mut self, preset: &Preset, now: Millis) {
        let from = self.progress(preset, now);
        if self.state == State::Lit {
            self.as_fall = true;
        }
        self.state = State::Falling;
        self.turn(now, from, part_of(preset.fall.duration_ms, from));
    }

    fn turn(&mut self, now: Millis, from: u16, lasts_ms: u32) {
        self.since = now;
        self.from = from;
        self.lasts_ms = lasts_ms;
    }

    /// The state that is due by `now`, and when it began; takes it on.
    pub(super) fn due(&mut self, now: Millis) -> Option<(State, Millis)> {
        let next = match self.state {
            State::Dark | State::Lit => return None,
            State::Rising => State::Lit,
            State::Falling => State::Dark,
        };
        if now.since(self.since) < self.lasts_ms {
            return None;
        }
        self.since = self.since.plus(self.lasts_ms);
        self.state = next;
        Some((next, self.since))
    }

    /// How far the prop is lit: 0 dark, 65535 lit.
    pub(super) fn progress(&self, preset: &Preset, now: Millis) -> u16 {
        let gone = now.since(self.since);
        match self.state {
            State::Dark => 0,
            State::Lit => u16::MAX,
            State::Rising => self
                .from
                .saturating_add(fraction(gone, preset.rise.duration_ms)),
            State::Falling => self
                .from
                .saturating_sub(fraction(gone, preset.fall.duration_ms)),
        }
    }

    /// The transition whose picture shows now, and how far it has come; `None` while lit.
    pub(super) fn picture<'p>(
        &self,
        preset: &'p Preset,
        now: Millis,
    ) -> Option<(&'p Transition, u16)> {
        if self.state == State::Lit {
            return None;
        }
        let transition = if self.as_fall {
            &preset.fall
        } else {
            &preset.rise
        };
        let progress = self.progress(preset, now);
        let way = match transition.easing {
            Easing::Linear => progress,
            Easing::Smooth => smoothstep(progress),
        };
        Some((transition, way))
    }
}
