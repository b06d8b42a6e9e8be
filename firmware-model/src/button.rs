//! A push button on an input pin: debounce, and short, long and double presses as cues.

use embedded_hal::digital::InputPin;

use crate::cue::Cue;
use crate::time::{never_back, Millis};

/// The level of the pin while the button is pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Active {
    /// The button pulls the pin to ground, against a pull-up.
    #[default]
    Low,
    /// The button pulls the pin up, against a pull-down.
    High,
}

/// What tells presses apart, all in ms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PressTiming {
    /// How long the pin must keep a level for it to count.
    pub debounce_ms: u32,
    /// From which time on a press is long.
    pub long_ms: u32,
    /// The longest pause between the two presses of a double press; 0: there are no double presses,
    /// and a short press is told at once rather than after this time.
    pub double_ms: u32,
}

impl Default for PressTiming {
    /// 20 ms, 600 ms, 300 ms: common practice. Contacts of push buttons bounce for up to about
    /// 6 ms as a rule (J. Ganssle, "A Guide to Debouncing", from memory), some for longer.
    fn default() -> Self {
        Self {
            debounce_ms: 20,
            long_ms: 600,
            double_ms: 300,
        }
    }
}

/// A button and what has been seen of it.
///
/// [`Button::poll`] is called again and again, at least twice within the debounce time: what is
/// shorter than the time between two calls is not seen. It gives at most one cue a call: a long
/// press as soon as the button has been held for so long, a double press when the second press
/// begins, a short press once it is clear that no second one follows.
///
/// A button that is held from the first call on is not a press: it counts from its first release.
#[derive(Debug, Clone)]
pub struct Button<P> {
    pin: P,
    active: Active,
    timing: PressTiming,
    /// The latest time seen, if any.
    now: Option<Millis>,
    contact: Contact,
    press: Press,
}

/// The contact behind its bounces.
#[derive(Debug, Clone, Copy)]
struct Contact {
    /// Whether it counts as pressed.
    pressed: bool,
    /// Since when the pin has been on the other level, if it is.
    other_since: Option<Millis>,
}

/// How far a press has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Press {
    /// Nothing seen yet, or held since before anybody looked.
    Unseen,
    /// Released, with nothing to wait for.
    Idle,
    /// Held since then.
    Held(Millis),
    /// Let go then, after a short press; a second one may follow.
    Between(Millis),
    /// Held, and told already.
    Told,
}

impl<P: InputPin> Button<P> {
    /// A button on `pin`.
    pub const fn new(pin: P, active: Active, timing: PressTiming) -> Self {
        Self {
            pin,
            active,
            timing,
            now: None,
            contact: Contact {
                pressed: true,
                other_since: None,
            },
            press: Press::Unseen,
        }
    }

    /// Reads the pin at `now` and gives the cue that is due, if any.
    ///
    /// # Errors
    ///
    /// What the pin reports. Nothing has changed then; the next call goes on.
    pub fn poll(&mut self, now: Millis) -> Result<Option<Cue>, P::Error> {
        let down = match self.active {
            Active::Low => self.pin.is_low()?,
            Active::High => self.pin.is_high()?,
        };
        let now = self.now.map_or(now, |last| never_back(last, now));
        self.now = Some(now);
        let changed = self.contact.see(down, now, self.timing.debounce_ms);
        let steady = self.contact.other_since.is_none();
        let (press, cue) = self.press.step(changed, steady, now, &self.timing);
        self.press = press;
        Ok(cue)
    }

    /// Whether the button counts as pressed.
    #[must_use]
    pub fn is_pressed(&self) -> bool {
        self.contact.pressed && self.press != Press::Unseen
    }

    /// Gives the pin back.
    pub fn release(self) -> P {
        self.pin
    }
}

impl Contact {
    /// When the pin took on the level that has now become the contact's, if it has. The first time is a release, since
    /// the contact counts as pressed before anybody looks; then presses and releases take turns.
    fn see(&mut self, down: bool, now: Millis, debounce_ms: u32) -> Option<Millis> {
        if down == self.pressed {
            self.other_since = None;
            return None;
        }
        let at = *self.other_since.get_or_insert(now);
        if now.since(at) < debounce_ms {
            return None;
        }
        self.pressed = down;
        self.other_since = None;
        Some(at)
    }
}

impl Press {
    /// The state after the contact has changed, if it has, and after the time that has passed. While it
    /// is not steady it may be letting go, and a press does not become long.
    fn step(
        self,
        changed: Option<Millis>,
        steady: bool,
        now: Millis,
        timing: &PressTiming,
    ) -> (Press, Option<Cue>) {
        // What a change is follows from the state: a free contact is pressed, a pressed one let go.
        match (self, changed) {
            (Press::Unseen | Press::Told, Some(_)) => (Press::Idle, None),
            (Press::Idle, Some(at)) => Press::Held(at).step(None, true, now, timing),
            (Press::Held(since), Some(at)) => {
                if at.since(since) >= timing.long_ms {
                    // It was long, only nobody looked while it was held.
                    (Press::Idle, Some(Cue::LongPress))
                } else if timing.double_ms == 0 {
                    (Press::Idle, Some(Cue::ShortPress))
                } else {
                    Press::Between(at).step(None, true, now, timing)
                }
            }
            (Press::Held(since), None) if steady && now.since(since) >= timing.long_ms => {
                (Press::Told, Some(Cue::LongPress))
            }
            (Press::Between(since), Some(at)) => {
                if at.since(since) <= timing.double_ms {
                    (Press::Told, Some(Cue::DoublePress))
                } else {
                    (Press::Held(at), Some(Cue::ShortPress))
                }
            }
            // A press that has begun in time may still be bouncing.
            (Press::Between(since), None)
                if now.since(since) > timing.double_ms.saturating_add(timing.debounce_ms) =>
            {
                (Press::Idle, Some(Cue::ShortPress))
            }
            (same, _) => (same, None),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;
    use core::convert::Infallible;
    use embedded_hal::digital::ErrorType;
    use std::vec::Vec;

    /// A pin whose level is set from outside.
    #[derive(Default)]
    struct Wire(bool);

    impl ErrorType for Wire {
        type Error = Infallible;
    }

    impl InputPin for Wire {
        fn is_high(&mut self) -> Result<bool, Infallible> {
            Ok(self.0)
        }
        fn is_low(&mut self) -> Result<bool, Infallible> {
            Ok(!self.0)
        }
    }

    /// Cues and their times for a button polled every `step` ms from `start` on; `presses` are the
    /// times from and to which it is pressed, relative to the start.
    fn play_at(
        start: u32,
        step: u32,
        timing: PressTiming,
        presses: &[(u32, u32)],
    ) -> Vec<(u32, Cue)> {
        let mut button = Button::new(Wire::default(), Active::High, timing);
        let mut cues = Vec::new();
        for t in (0..5000).step_by(step as usize) {
            button.pin.0 = presses.iter().any(|(from, to)| (*from..*to).contains(&t));
            if let Some(cue) = button.poll(Millis(start).plus(t)).unwrap() {
                cues.push((t, cue));
            }
        }
        cues
    }

    fn play(presses: &[(u32, u32)]) -> Vec<(u32, Cue)> {
        play_at(0, 1, PressTiming::default(), presses)
    }

    #[test]
    fn each_press_gives_its_cue_at_its_time() {
        // Let go at 600; clear after the pause of 300 and the debounce of 20.
        assert_eq!(play(&[(500, 600)]), [(921, Cue::ShortPress)]);
        assert_eq!(play(&[(500, 1600)]), [(1100, Cue::LongPress)]);
        // The second press begins at 700 and counts at 720.
        assert_eq!(play(&[(500, 600), (700, 800)]), [(720, Cue::DoublePress)]);
        assert_eq!(
            play(&[(500, 600), (1000, 1100)]),
            [(921, Cue::ShortPress), (1421, Cue::ShortPress)]
        );
    }

    #[test]
    fn the_bounds_between_presses_are_where_they_are_said_to_be() {
        let kinds = |presses: &[(u32, u32)]| -> Vec<Cue> {
            play(presses).into_iter().map(|(_, cue)| cue).collect()
        };
        assert_eq!(kinds(&[(500, 519)]), [], "shorter than the debounce time");
        assert_eq!(kinds(&[(500, 521)]), [Cue::ShortPress]);
        assert_eq!(kinds(&[(500, 1099)]), [Cue::ShortPress]);
        assert_eq!(kinds(&[(500, 1100)]), [Cue::LongPress]);
        assert_eq!(kinds(&[(500, 600), (900, 950)]), [Cue::DoublePress]);
        assert_eq!(
            kinds(&[(500, 600), (901, 950)]),
            [Cue::ShortPress, Cue::ShortPress]
        );
        // The second press of a double press may be held; it is not long as well.
        assert_eq!(kinds(&[(500, 600), (700, 3000)]), [Cue::DoublePress]);
        // A third press after a double press is a press of its own.
        assert_eq!(
            kinds(&[(500, 600), (700, 800), (900, 950)]),
            [Cue::DoublePress, Cue::ShortPress]
        );
    }

    #[test]
    fn bounces_do_not_count() {
        let bouncing = [
            (500, 502),
            (503, 507),
            (509, 640),
            (642, 643),
            (645, 647),
            (2000, 2019),
        ];
        assert_eq!(play(&bouncing), [(968, Cue::ShortPress)]);
    }

    #[test]
    fn a_dropout_while_held_does_not_end_a_press() {
        assert_eq!(play(&[(500, 700), (712, 1500)]), [(1100, Cue::LongPress)]);
    }

    #[test]
    fn without_double_presses_a_short_one_is_told_at_once() {
        let timing = PressTiming {
            double_ms: 0,
            ..PressTiming::default()
        };
        assert_eq!(
            play_at(0, 1, timing, &[(500, 600), (700, 800)]),
            [(620, Cue::ShortPress), (820, Cue::ShortPress)]
        );
    }

    #[test]
    fn a_button_held_from_the_start_counts_from_its_release() {
        assert_eq!(play(&[(0, 2000), (2500, 2600)]), [(2921, Cue::ShortPress)]);
        let mut held = Button::new(Wire(true), Active::High, PressTiming::default());
        for t in 0..100 {
            assert_eq!(held.poll(Millis(t)).unwrap(), None);
            assert!(!held.is_pressed());
        }
    }

    #[test]
    fn the_time_may_wrap_and_polls_may_be_slow() {
        let presses = [(500, 620), (700, 850), (2000, 3000)];
        let at_zero = play(&presses);
        for start in [u32::MAX - 510, u32::MAX - 710, u32::MAX - 2100] {
            assert_eq!(play_at(start, 1, PressTiming::default(), &presses), at_zero);
        }
        let slow = play_at(0, 16, PressTiming::default(), &presses);
        let kinds: Vec<Cue> = slow.into_iter().map(|(_, cue)| cue).collect();
        assert_eq!(kinds, [Cue::DoublePress, Cue::LongPress]);
    }

    #[test]
    fn a_long_press_nobody_looked_at_is_long_still() {
        let mut button = Button::new(Wire::default(), Active::High, PressTiming::default());
        let mut at = |t: u32, level: bool| {
            button.pin.0 = level;
            button.poll(Millis(t)).unwrap()
        };
        assert_eq!(at(0, false), None);
        assert_eq!(at(20, false), None);
        assert_eq!(at(100, true), None);
        assert_eq!(at(130, true), None);
        assert_eq!(at(900, false), None);
        assert_eq!(at(930, false), Some(Cue::LongPress));
        assert_eq!(at(960, false), None);
    }

    #[test]
    fn an_active_low_button_is_pressed_when_low() {
        let mut button = Button::new(Wire(true), Active::Low, PressTiming::default());
        let mut cues = Vec::new();
        for t in 0..1000 {
            button.pin.0 = !(100..200).contains(&t);
            cues.extend(button.poll(Millis(t)).unwrap());
            assert_eq!(button.is_pressed(), (120..220).contains(&t), "{t}");
        }
        assert_eq!(cues, [Cue::ShortPress]);
    }
}
