//! The interpreter: states, layers and time put together.

mod course;
mod life;
mod picture;

#[cfg(test)]
mod tests;

use course::Course;
use life::Life;
use picture::Picture;

use crate::cue::{Cue, TimedCue};
use crate::log;
use crate::output::Output;
use crate::preset::{Edge, Preset, PresetError, MAX_LAYERS};
use crate::source::{FrameLength, FrameSource, LayerSet, Layout};
use crate::state::State;
use crate::time::{never_back, Clock, Millis};

/// Plays a preset.
///
/// Times must not run backwards; a call up to a minute late counts as made at the latest time
/// seen. Call something at least once in 12 days.
#[derive(Debug, Clone)]
pub struct Engine<'p> {
    preset: &'p Preset,
    cap: u8,
    /// The latest time seen, if any.
    now: Option<Millis>,
    course: Course,
    /// Time since the prop left the dark.
    awake: Clock,
    lives: [Life; MAX_LAYERS],
    last_cue: Option<TimedCue>,
}

impl<'p> Engine<'p> {
    /// An engine that plays `preset`; it starts dark, with the cap at 255.
    ///
    /// # Errors
    ///
    /// The first fault of a preset that is not sound.
    pub fn new(preset: &'p Preset) -> Result<Self, PresetError> {
        preset.validate()?;
        Ok(Self {
            preset,
            cap: u8::MAX,
            now: None,
            course: Course::dark(),
            awake: Clock::started(Millis(0)),
            lives: [Life::default(); MAX_LAYERS],
            last_cue: None,
        })
    }

    /// The preset it plays.
    #[must_use]
    pub const fn preset(&self) -> &'p Preset {
        self.preset
    }

    /// Sets the cap, 0..=255: drive levels are scaled by `cap / 255` before they are rounded to
    /// 8 bits. 255 changes nothing.
    pub fn set_cap(&mut self, cap: u8) {
        self.cap = cap;
    }

    /// The cap, 0..=255.
    #[must_use]
    pub const fn cap(&self) -> u8 {
        self.cap
    }

    /// Takes a cue that came at `now`.
    ///
    /// The cue that starts the rise or the fall does only that; any other is met by the layers
    /// unless the prop is dark.
    pub fn cue(&mut self, now: Millis, cue: Cue) {
        self.advance(now);
        let now = self.now.unwrap_or(now);
        self.last_cue = Some(TimedCue { at: now, cue });
        log::info!("cue {} at {} ms", cue, now.0);
        let state = self.course.state();
        let kind = cue.kind();
        match state {
            State::Dark | State::Falling if kind == self.preset.rise_on => {
                if state == State::Dark {
                    self.awake = Clock::started(now);
                }
                self.course.rise(self.preset, now);
                self.enter(State::Rising, now);
                self.advance(now);
            }
            State::Lit | State::Rising if kind == self.preset.fall_on => {
                self.course.fall(self.preset, now);
                self.enter(State::Falling, now);
                self.advance(now);
            }
            State::Dark => {}
            State::Rising | State::Lit | State::Falling => {
                self.meet(Edge::Cue(kind), Some(cue), now);
            }
        }
    }

    /// Lets the time come to `now`: the state changes when it is due, layers that are over end.
    pub fn advance(&mut self, now: Millis) -> State {
        let now = self.now.map_or(now, |last| never_back(last, now));
        self.now = Some(now);
        while let Some((state, since)) = self.course.due(now) {
            self.enter(state, since);
        }
        self.awake.settle(now);
        for (layer, life) in self.preset.layers.iter().zip(&mut self.lives) {
            life.advance(layer, now);
        }
        self.course.state()
    }

    /// What the layers do when a state begins.
    fn enter(&mut self, state: State, now: Millis) {
        log::info!("state {} at {} ms", state, now.0);
        if state == State::Dark {
            self.lives.iter_mut().for_each(Life::stop);
        } else {
            self.meet(Edge::Enter(state), None, now);
        }
    }

    fn meet(&mut self, edge: Edge, cue: Option<Cue>, now: Millis) {
        for (layer, life) in self.preset.layers.iter().zip(&mut self.lives) {
            life.meet(layer, edge, cue, now);
        }
    }

    /// Writes the frame for the time `now`: for each pixel its drive levels 0..=255 in the order
    /// R, G, B (, W).
    ///
    /// # Errors
    ///
    /// `out` has not the length of a frame; it is then left as it was.
    pub fn render(&mut self, now: Millis, out: &mut [u8]) -> Result<State, FrameLength> {
        self.is_frame(out.len())?;
        Ok(self.show(now, |shown| match shown {
            Some((picture, output)) => picture.draw(output, out),
            None => out.fill(0),
        }))
    }

    /// Draws the frame for the time `now` for any cap: in the order of [`Engine::render`], for each drive level the
    /// value that [`drive_level`](crate::drive_level) scales to a cap, and the threshold it rounds by. For who wants
    /// one frame at many caps; the cap that is set has no part in it.
    ///
    /// # Errors
    ///
    /// One of the two has not the length of a frame; they are then left as they were.
    pub fn render_values(
        &mut self,
        now: Millis,
        values: &mut [u16],
        thresholds: &mut [u8],
    ) -> Result<State, FrameLength> {
        self.is_frame(values.len())?;
        self.is_frame(thresholds.len())?;
        Ok(self.show(now, |shown| match shown {
            Some((picture, output)) => picture.draw_values(output, values, thresholds),
            None => {
                values.fill(0);
                thresholds.fill(0);
            }
        }))
    }

    /// Has what shows at the time `now` drawn; nothing does in the dark.
    #[inline(always)]
    fn show(
        &mut self,
        now: Millis,
        draw: impl FnOnce(Option<(&mut Picture<'_>, &Output)>),
    ) -> State {
        let state = self.advance(now);
        let now = self.now.unwrap_or(now);
        if state == State::Dark {
            draw(None);
        } else {
            let output = Output::new(self.preset, self.cap, self.awake.elapsed(now));
            let mut picture = Picture::blank(self.preset);
            picture.set(&self.course, &self.lives, now);
            draw(Some((&mut picture, &output)));
        }
        state
    }

    fn is_frame(&self, found: usize) -> Result<(), FrameLength> {
        let expected = self.preset.frame_len();
        if found == expected {
            Ok(())
        } else {
            Err(FrameLength { expected, found })
        }
    }

    /// The state at the latest time seen.
    #[must_use]
    pub const fn state(&self) -> State {
        self.course.state()
    }

    /// How far the prop is lit at the latest time seen: 0 dark, 65535 lit, in between on the way.
    #[must_use]
    pub fn progress(&self) -> u16 {
        let now = self.now.unwrap_or_default();
        self.course.progress(self.preset, now)
    }

    /// The layers that were started and are not over, at the latest time seen.
    #[must_use]
    pub fn active_layers(&self) -> LayerSet {
        let mut active = LayerSet::default();
        for (index, life) in (0u8..).zip(&self.lives) {
            if life.run().is_some() {
                active.insert(index);
            }
        }
        active
    }

    /// The last cue taken.
    #[must_use]
    pub const fn last_cue(&self) -> Option<TimedCue> {
        self.last_cue
    }
}

impl FrameSource for Engine<'_> {
    type Error = FrameLength;

    fn layout(&self) -> Layout {
        Layout {
            pixels: self.preset.pixels,
            channels: self.preset.channels,
        }
    }

    fn cue(&mut self, at: Millis, cue: Cue) {
        Engine::cue(self, at, cue);
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, FrameLength> {
        self.render(at, out)
    }

    fn set_cap(&mut self, cap: u8) -> bool {
        Engine::set_cap(self, cap);
        true
    }

    fn active_layers(&self) -> LayerSet {
        Engine::active_layers(self)
    }

    fn last_cue(&self) -> Option<TimedCue> {
        Engine::last_cue(self)
    }
}
