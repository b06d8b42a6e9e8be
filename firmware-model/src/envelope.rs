//! The level of an envelope at a time.

use crate::fixed::{fraction, lerp, phase, scale, Ramp};
use crate::preset::Envelope;

/// Level of an envelope, `elapsed` ms after its start and before its release; `None` once it is
/// over by itself.
pub(crate) fn level(envelope: &Envelope, elapsed: u32) -> Option<u16> {
    match *envelope {
        Envelope::Constant => Some(u16::MAX),
        Envelope::Adsr {
            attack_ms,
            decay_ms,
            sustain,
            ..
        } => Some(match elapsed.checked_sub(attack_ms) {
            None => fraction(elapsed, attack_ms),
            Some(after) => lerp(u16::MAX, sustain.0, fraction(after, decay_ms)),
        }),
        Envelope::OneShot {
            attack_ms,
            hold_ms,
            release_ms,
        } => {
            let Some(after) = elapsed.checked_sub(attack_ms) else {
                return Some(fraction(elapsed, attack_ms));
            };
            let falling = after.saturating_sub(hold_ms);
            (after < hold_ms || falling < release_ms).then(|| {
                if after < hold_ms {
                    u16::MAX
                } else {
                    !fraction(falling, release_ms)
                }
            })
        }
        Envelope::Periodic {
            period_ms,
            rise,
            hold,
            fall,
        } => Some(round(phase(elapsed, period_ms), (rise.0, hold.0, fall.0))),
    }
}

/// Level of a periodic envelope at a phase of its round.
fn round(phase: u16, (rise, hold, fall): (u16, u16, u16)) -> u16 {
    // Shares are of 65535, phases of 65536: the last step of the round counts to the one before.
    let at = phase.min(65534);
    if at < rise {
        return Ramp::new(rise).at(at);
    }
    let at = at - rise;
    if at < hold {
        return u16::MAX;
    }
    let at = at - hold;
    if at < fall {
        return !Ramp::new(fall).at(at);
    }
    0
}

/// How long the release takes, ms.
pub(crate) fn release_ms(envelope: &Envelope) -> u32 {
    match *envelope {
        Envelope::Constant => 0,
        Envelope::Adsr { release_ms, .. } | Envelope::OneShot { release_ms, .. } => release_ms,
        Envelope::Periodic {
            period_ms, fall, ..
        } => part_of(period_ms, fall.0),
    }
}

/// Level `elapsed` ms after a release that began at level `from`; `None` once it is over.
pub(crate) fn released(envelope: &Envelope, from: u16, elapsed: u32) -> Option<u16> {
    let whole = release_ms(envelope);
    (elapsed < whole).then(|| scale(from, !fraction(elapsed, whole)))
}

/// Time after the start at which the envelope, on its way up, has reached a level, ms. An envelope
/// that starts over begins there, so that its level goes on without a jump.
pub(crate) fn reaches(envelope: &Envelope, level: u16) -> u32 {
    match *envelope {
        Envelope::Constant => 0,
        Envelope::Adsr { attack_ms, .. } | Envelope::OneShot { attack_ms, .. } => {
            part_of(attack_ms, level)
        }
        Envelope::Periodic {
            period_ms, rise, ..
        } => part_of(period_ms, scale(level, rise.0)),
    }
}

/// A share of a duration, rounded to the nearest ms.
pub(crate) fn part_of(duration_ms: u32, share: u16) -> u32 {
    let product = u64::from(duration_ms) * u64::from(share);
    ((product + 32767) / 65535) as u32
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fixed::Share;

    const ADSR: Envelope = Envelope::Adsr {
        attack_ms: 100,
        decay_ms: 200,
        sustain: Share(20_000),
        release_ms: 400,
    };
    const SHOT: Envelope = Envelope::OneShot {
        attack_ms: 50,
        hold_ms: 100,
        release_ms: 200,
    };
    const ROUND: Envelope = Envelope::Periodic {
        period_ms: 1000,
        rise: Share(16384),
        hold: Share(16384),
        fall: Share(16384),
    };

    fn near(a: u16, b: u16) -> bool {
        a.abs_diff(b) <= 4
    }

    #[test]
    fn adsr_goes_up_down_and_stays() {
        assert_eq!(level(&ADSR, 0), Some(0));
        assert!(near(level(&ADSR, 50).unwrap(), 32768));
        assert_eq!(level(&ADSR, 100), Some(65535));
        assert!(near(level(&ADSR, 200).unwrap(), 42768));
        assert_eq!(level(&ADSR, 300), Some(20_000));
        assert_eq!(level(&ADSR, u32::MAX), Some(20_000));
    }

    #[test]
    fn one_shot_is_over_after_its_release() {
        assert_eq!(level(&SHOT, 0), Some(0));
        assert_eq!(level(&SHOT, 50), Some(65535));
        assert_eq!(level(&SHOT, 149), Some(65535));
        assert!(near(level(&SHOT, 250).unwrap(), 32767));
        assert!(near(level(&SHOT, 200).unwrap(), 49151));
        assert!(level(&SHOT, 349).is_some());
        assert_eq!(level(&SHOT, 350), None);
        assert_eq!(level(&SHOT, 1 << 31), None);
    }

    #[test]
    fn periodic_goes_round() {
        assert!(near(level(&ROUND, 125).unwrap(), 32768));
        assert_eq!(level(&ROUND, 300), Some(65535));
        assert!(near(level(&ROUND, 625).unwrap(), 32767));
        // Not its middle, which is the same up and down: a fifth of the way down is four fifths of the level.
        assert!(level(&ROUND, 550).unwrap().abs_diff(52_428) <= 60);
        assert!(level(&ROUND, 50).unwrap().abs_diff(13_107) <= 60);
        assert_eq!(level(&ROUND, 900), Some(0));
        assert_eq!(level(&ROUND, 2300), level(&ROUND, 300));
        let always = Envelope::Periodic {
            period_ms: 3_600_000,
            rise: Share(0),
            hold: Share::FULL,
            fall: Share(0),
        };
        for ms in (0..3_600_000).step_by(7) {
            assert_eq!(level(&always, ms), Some(65535));
        }
    }

    #[test]
    fn release_goes_from_the_level_reached_to_nothing() {
        assert_eq!(released(&ADSR, 20_000, 0), Some(20_000));
        assert!(near(released(&ADSR, 20_000, 200).unwrap(), 10_000));
        assert!(near(released(&ADSR, 20_000, 100).unwrap(), 15_000));
        assert_eq!(released(&ADSR, 20_000, 400), None);
        assert_eq!(released(&Envelope::Constant, 65535, 0), None);
        assert_eq!(release_ms(&ROUND), 250);
    }

    #[test]
    fn starting_over_meets_the_level_reached() {
        for envelope in [ADSR, SHOT, ROUND] {
            for reached in (0..65535).step_by(997) {
                let at = reaches(&envelope, reached);
                let got = level(&envelope, at).unwrap();
                // One millisecond of the attack of 50 ms is 1311 steps.
                assert!(got.abs_diff(reached) <= 660, "{envelope:?} {reached} {got}");
            }
        }
    }

    #[test]
    fn durations_of_zero_are_steps() {
        let step = Envelope::OneShot {
            attack_ms: 0,
            hold_ms: 10,
            release_ms: 0,
        };
        assert_eq!(level(&step, 0), Some(65535));
        assert_eq!(level(&step, 9), Some(65535));
        assert_eq!(level(&step, 10), None);
        let nothing = Envelope::OneShot {
            attack_ms: 0,
            hold_ms: 0,
            release_ms: 0,
        };
        assert_eq!(level(&nothing, 0), None);
    }
}
