//! Cues: the timed inputs a prop reacts to.

use serde::{Deserialize, Serialize};

use crate::fixed::{Angle, Share};
use crate::time::Millis;

/// A timed input. Values are shares of the full range that the detector in front of the engine is
/// set to, so that a preset does not depend on the sensor fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cue {
    /// The button was pressed and let go.
    ShortPress,
    /// The button has been held.
    LongPress,
    /// The button was pressed twice in quick succession.
    DoublePress,
    /// The prop was struck.
    Knock {
        /// Share of the strongest knock the detector tells apart.
        strength: Share,
    },
    /// The prop was swung.
    Swing {
        /// Share of the fastest swing the detector tells apart.
        speed: Share,
    },
    /// The prop was turned about its long axis.
    Twist {
        /// Angle turned, signed.
        angle: Angle,
    },
    /// The cell is nearly empty.
    LowCell,
    /// A level from outside: a dimmer, a sound level, a sensor.
    Level {
        /// Share of its full range.
        value: Share,
    },
}

/// The kind of a [`Cue`], without its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CueKind {
    /// [`Cue::ShortPress`].
    ShortPress,
    /// [`Cue::LongPress`].
    LongPress,
    /// [`Cue::DoublePress`].
    DoublePress,
    /// [`Cue::Knock`].
    Knock,
    /// [`Cue::Swing`].
    Swing,
    /// [`Cue::Twist`].
    Twist,
    /// [`Cue::LowCell`].
    LowCell,
    /// [`Cue::Level`].
    Level,
}

impl CueKind {
    /// Every kind, in the order of the binary form.
    pub const ALL: [CueKind; 8] = [
        CueKind::ShortPress,
        CueKind::LongPress,
        CueKind::DoublePress,
        CueKind::Knock,
        CueKind::Swing,
        CueKind::Twist,
        CueKind::LowCell,
        CueKind::Level,
    ];

    /// The name used in files and messages, in kebab case.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            CueKind::ShortPress => "short-press",
            CueKind::LongPress => "long-press",
            CueKind::DoublePress => "double-press",
            CueKind::Knock => "knock",
            CueKind::Swing => "swing",
            CueKind::Twist => "twist",
            CueKind::LowCell => "low-cell",
            CueKind::Level => "level",
        }
    }

    /// The kind of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<CueKind> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// A cue of this kind from the 16 bits of its value, as [`Cue::bits`] gives them: a share of
    /// 65535, or the angle of a twist in two's complement. Cues without a value ignore them.
    #[must_use]
    pub const fn with(self, bits: u16) -> Cue {
        match self {
            CueKind::ShortPress => Cue::ShortPress,
            CueKind::LongPress => Cue::LongPress,
            CueKind::DoublePress => Cue::DoublePress,
            CueKind::Knock => Cue::Knock {
                strength: Share(bits),
            },
            CueKind::Swing => Cue::Swing { speed: Share(bits) },
            CueKind::Twist => Cue::Twist {
                angle: Angle(bits as i16),
            },
            CueKind::LowCell => Cue::LowCell,
            CueKind::Level => Cue::Level { value: Share(bits) },
        }
    }
}

impl core::fmt::Display for CueKind {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.pad(self.name())
    }
}

impl Cue {
    /// The kind of this cue.
    #[must_use]
    pub const fn kind(self) -> CueKind {
        match self {
            Cue::ShortPress => CueKind::ShortPress,
            Cue::LongPress => CueKind::LongPress,
            Cue::DoublePress => CueKind::DoublePress,
            Cue::Knock { .. } => CueKind::Knock,
            Cue::Swing { .. } => CueKind::Swing,
            Cue::Twist { .. } => CueKind::Twist,
            Cue::LowCell => CueKind::LowCell,
            Cue::Level { .. } => CueKind::Level,
        }
    }

    /// The 16 bits of its value, 0 for a cue without one; [`CueKind::with`] is the way back.
    #[must_use]
    pub const fn bits(self) -> u16 {
        match self {
            Cue::Knock { strength } => strength.0,
            Cue::Swing { speed } => speed.0,
            Cue::Twist { angle } => angle.0 as u16,
            Cue::Level { value } => value.0,
            Cue::ShortPress | Cue::LongPress | Cue::DoublePress | Cue::LowCell => 0,
        }
    }

    /// How strong the cue is: its value, for a twist the angle turned either way as a share of
    /// half a turn, and full for cues without a value.
    #[must_use]
    pub const fn strength(self) -> Share {
        match self {
            Cue::Knock { strength } => strength,
            Cue::Swing { speed } => speed,
            Cue::Twist { angle } => angle.magnitude(),
            Cue::Level { value } => value,
            Cue::ShortPress | Cue::LongPress | Cue::DoublePress | Cue::LowCell => Share::FULL,
        }
    }

    /// Where along a zone the cue points: its value, and for a twist the angle from minus half a
    /// turn (start of the zone) to plus half a turn (its end). Cues without a value point at the
    /// middle.
    #[must_use]
    pub const fn place(self) -> Share {
        match self {
            Cue::Twist { angle } => angle.place(),
            Cue::Knock { .. } | Cue::Swing { .. } | Cue::Level { .. } => self.strength(),
            Cue::ShortPress | Cue::LongPress | Cue::DoublePress | Cue::LowCell => Share::HALF,
        }
    }
}

/// A cue and when it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TimedCue {
    /// When.
    pub at: Millis,
    /// What.
    pub cue: Cue,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strength_and_place_of_a_twist_follow_the_angle() {
        let twist = |degrees| Cue::Twist {
            angle: Angle::from_degrees(degrees),
        };
        assert_eq!(twist(0).strength(), Share(0));
        assert_eq!(twist(-90).strength(), twist(90).strength());
        assert_eq!(twist(-180).strength(), Share::FULL);
        assert_eq!(twist(-180).place(), Share(0));
        assert_eq!(twist(0).place(), Share(32768));
        assert_eq!(twist(180).place(), Share(65535));
    }

    #[test]
    fn the_bits_of_a_cue_lead_back_to_it() {
        for kind in CueKind::ALL {
            for bits in [0, 1, 0x7FFF, 0x8000, u16::MAX] {
                let cue = kind.with(bits);
                assert_eq!(cue.kind(), kind);
                assert_eq!(cue.kind().with(cue.bits()), cue);
            }
            assert_eq!(CueKind::named(kind.name()), Some(kind));
        }
        assert_eq!(CueKind::Swing.with(7).bits(), 7);
        assert_eq!(CueKind::LowCell.with(7).bits(), 0);
        assert_eq!(CueKind::named("Knock"), None);
    }

    #[test]
    fn names_are_distinct() {
        for (i, a) in CueKind::ALL.iter().enumerate() {
            for b in CueKind::ALL.iter().skip(i + 1) {
                assert_ne!(a.name(), b.name());
            }
        }
    }
}
