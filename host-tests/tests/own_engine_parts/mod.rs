//! An engine that somebody else might have written, and faults to put into it.

use lampwright::build::pack::{BoardData, PackedStrip};
use lampwright::strategies::Timing;
use lampwright_model::pack::Link;
use lampwright_model::preset::Paint;
use lampwright_model::{
    Channels, Cue, Engine, FrameLength, FrameSource, Layout, Millis, Preset, State,
};
use std::sync::atomic::{AtomicU32, Ordering};

const PIXELS: u16 = 12;
const LAYOUT: Layout = Layout {
    pixels: PIXELS,
    channels: Channels::Rgb,
};
/// What all pixels may draw together, in steps of one level of one channel: 400 mA less 12 mA dark,
/// at 20 mA a channel.
const MOST_STEPS: u32 = 388_000 / 20 * 255 / 1000;
const FADE_MS: u32 = 400;

/// How [`Hearth`] goes on and off.
pub(crate) const TIMING: Timing = Timing {
    rise_on: Cue::LongPress,
    rise_ms: FADE_MS,
    fall_on: Cue::DoublePress,
    fall_ms: FADE_MS,
    period_ms: 17,
};

/// The strip of [`Hearth`]: twelve invented pixels of 20 mA a channel and 1 mA dark.
pub(crate) fn board() -> BoardData {
    BoardData {
        brown_out_mv: None,
        strips: vec![PackedStrip {
            name: "hearth".into(),
            pixels: PIXELS,
            order: "GRB".into(),
            channel_ua: [20_000, 20_000, 20_000, 0],
            dark_ua: 1000,
            link: Link::Unknown,
        }],
    }
}

/// A fault to put into [`Hearth`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fault {
    None,
    PanicsOnKnock,
    LeavesAByte,
    GlowsInTheDark,
    ReadsTheClock,
    Remembers,
    CapWraps,
    ForgetsDark,
    Strobes,
    RisesSlowly,
}

/// A warm glow that fades in on a long press and out on a double press, with a flicker along the strip
/// and a limiter of its own.
pub(crate) struct Hearth {
    fault: Fault,
    cap: u8,
    /// Whether it goes on or is on, since when, and the strength it set out from (of 255).
    on: bool,
    since: Millis,
    from: u32,
}

impl Hearth {
    pub(crate) fn new(fault: Fault) -> Self {
        Self {
            fault,
            cap: 255,
            on: false,
            since: Millis(0),
            from: 0,
        }
    }

    fn fade_ms(&self) -> u32 {
        match self.fault {
            Fault::RisesSlowly => FADE_MS + 40,
            _ => FADE_MS,
        }
    }

    /// Strength, 0..=255, and state.
    fn strength(&self, now: Millis) -> (u32, State) {
        let gone = now.since(self.since);
        let way = 255 * gone.min(self.fade_ms()) / self.fade_ms();
        if self.on {
            let strength = (self.from + way).min(255);
            let state = if strength == 255 {
                State::Lit
            } else {
                State::Rising
            };
            (strength, state)
        } else {
            let strength = self.from.saturating_sub(way);
            let state = if strength == 0 {
                State::Dark
            } else {
                State::Falling
            };
            (strength, state)
        }
    }
}

/// Counts the hearths ever made: what a faulty one remembers.
static MADE: AtomicU32 = AtomicU32::new(0);

impl FrameSource for Hearth {
    type Error = FrameLength;

    fn layout(&self) -> Layout {
        LAYOUT
    }

    fn cue(&mut self, at: Millis, cue: Cue) {
        let on = match cue {
            Cue::LongPress => true,
            Cue::DoublePress => false,
            Cue::Knock { .. } if self.fault == Fault::PanicsOnKnock => {
                panic!("knocked too hard")
            }
            _ => return,
        };
        if on != self.on {
            self.from = self.strength(at).0;
            self.on = on;
            self.since = at;
        }
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, FrameLength> {
        if out.len() != LAYOUT.frame_len() {
            return Err(FrameLength {
                expected: LAYOUT.frame_len(),
                found: out.len(),
            });
        }
        let last = out[out.len() - 1];
        let (strength, state) = self.strength(at);
        let clock = match self.fault {
            Fault::ReadsTheClock => at.0 / 1000,
            Fault::Remembers => MADE.fetch_add(1, Ordering::Relaxed),
            _ => at.since(self.since) / 1000,
        };
        let strobe = self.fault == Fault::Strobes && at.since(self.since) / 50 % 2 == 1;
        for (pixel, levels) in (0u32..).zip(out.chunks_exact_mut(3)) {
            // A flicker of a few percent, another one each second.
            let flicker = 240 + (pixel * 7 + clock * 5) % 16;
            let warm = if strobe { 0 } else { strength * flicker / 255 };
            let [r, g, b] = [warm, warm / 2, warm / 4];
            levels.copy_from_slice(&[r, g, b].map(|level| level as u8));
        }
        limit(out, self.fault == Fault::ForgetsDark);
        // The cap comes last: a limiter after it would dim a brighter frame more, and that by rounding.
        for level in &mut *out {
            let capped = u32::from(*level) * u32::from(self.cap) / 255;
            *level = match self.fault {
                Fault::CapWraps => (capped * 3) as u8,
                _ => capped as u8,
            };
        }
        match self.fault {
            // As if the last byte were never written.
            Fault::LeavesAByte => out[LAYOUT.frame_len() - 1] = last,
            Fault::GlowsInTheDark if state == State::Dark => out[0] = 1,
            _ => {}
        }
        Ok(state)
    }

    fn set_cap(&mut self, cap: u8) -> bool {
        self.cap = cap;
        true
    }
}

/// Dims a frame to what its strip may draw. A careless one leaves the dark current out.
fn limit(out: &mut [u8], careless: bool) {
    let most = if careless {
        400_000 / 20 * 255 / 1000
    } else {
        MOST_STEPS
    };
    let steps: u32 = out.iter().map(|level| u32::from(*level)).sum();
    if steps > most {
        for level in out {
            *level = (u32::from(*level) * most / steps) as u8;
        }
    }
}

/// The engine of this project with a clock put in where sparks are.
pub(crate) struct Misled<'p> {
    inner: Engine<'p>,
    sparks: bool,
    lit: bool,
}

impl<'p> Misled<'p> {
    pub(crate) fn new(preset: &'p Preset) -> Self {
        let sparks = |paint: &Paint| matches!(paint, Paint::Sparks { .. });
        Self {
            inner: Engine::new(preset).unwrap(),
            sparks: preset.layers.iter().any(|l| sparks(&l.paint)),
            lit: false,
        }
    }
}

impl FrameSource for Misled<'_> {
    type Error = FrameLength;

    fn layout(&self) -> Layout {
        self.inner.layout()
    }

    fn cue(&mut self, at: Millis, cue: Cue) {
        self.inner.cue(at, cue);
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, FrameLength> {
        let state = self.inner.frame(at, out)?;
        self.lit |= state != State::Dark;
        if self.sparks && self.lit {
            out[0] = out[0].wrapping_add((at.0 >> 24) as u8);
        }
        Ok(state)
    }
}
