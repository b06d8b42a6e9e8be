//! The interpreter: states, layers and time put together.

use crate::cue::{Cue, TimedCue};
use crate::preset::{Preset, PresetError};
use crate::source::{FrameLength, FrameSource, LayerSet, Layout};
use crate::state::State;
use crate::time::Millis;

/// Plays a preset.
///
/// Times must not run backwards; a call up to a minute late counts as made at the latest time
/// seen. Call something at least once in 12 days.
#[derive(Debug, Clone)]
pub struct Engine<'p> {
    preset: &'p Preset,
    cap: u8,
    state: State,
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
            state: State::Dark,
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
    pub fn cue(&mut self, now: Millis, cue: Cue) {
        self.advance(now);
        self.last_cue = Some(TimedCue { at: now, cue });
    }

    /// Lets the time come to `now`: the state changes when it is due.
    pub fn advance(&mut self, _now: Millis) -> State {
        self.state
    }

    /// Writes the frame for the time `now`: for each pixel its drive levels 0..=255 in the order
    /// R, G, B (, W).
    ///
    /// # Errors
    ///
    /// `out` has not the length of a frame; it is then left as it was.
    pub fn render(&mut self, now: Millis, out: &mut [u8]) -> Result<State, FrameLength> {
        let expected = self.preset.frame_len();
        if out.len() != expected {
            return Err(FrameLength {
                expected,
                found: out.len(),
            });
        }
        self.advance(now);
        out.fill(0);
        Ok(self.state)
    }

    /// The state at the latest time seen.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// How far the prop is lit at the latest time seen: 0 dark, 65535 lit, in between on the way.
    #[must_use]
    pub const fn progress(&self) -> u16 {
        0
    }

    /// The layers that were started and are not over, at the latest time seen.
    #[must_use]
    pub fn active_layers(&self) -> LayerSet {
        LayerSet::default()
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
