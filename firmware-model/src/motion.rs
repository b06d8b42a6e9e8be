//! Knocks, swings and twists from the samples of a motion sensor.
//!
//! Works on what a six-axis sensor gives: acceleration and rotation rate, sampled every 5 ms
//! (200 Hz; 2.5 to 10 ms will do). The three detectors look at different things, so that one
//! movement is not taken for another:
//!
//! * A **knock** is a change of acceleration from one sample to the next: a strike is over in a few
//!   milliseconds, while even a fast swing builds up its centripetal acceleration over a tenth of a
//!   second. The strongest change within [`KnockLimits::window_ms`] is its strength; then it is
//!   deaf for [`KnockLimits::deaf_ms`], while the prop rings.
//! * A **swing** is rotation across the long axis that lasts. It is told once, when the rate has
//!   fallen to 7/8 of its highest or has lasted for [`SwingLimits::longest_ms`].
//! * A **twist** is the angle turned about the long axis, summed up from rest to rest, and told when
//!   the turning has come to rest. At some moment it must have been fast, and faster than the
//!   rotation across the long axis.
//!
//! The thresholds of [`MotionLimits::default`] are common practice for a hand-held prop of about a
//! metre; they were tuned on the invented traces in `traces/motion`, not on a real prop.

use heapless::Vec;

use crate::cue::Cue;
use crate::fixed::{Angle, Share};
use crate::time::{never_back, Millis};

/// One sample of a motion sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Motion {
    /// Acceleration in the axes x, y, z of the sensor, in thousandths of the standard gravity. At
    /// rest it is 1000 upwards.
    pub accel_mg: [i16; 3],
    /// Rotation rate about these axes, in 1/16 ° a second.
    pub rate_16th_dps: [i16; 3],
}

/// The axis of the sensor that lies along the prop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LongAxis {
    /// Its x axis.
    #[default]
    X,
    /// Its y axis.
    Y,
    /// Its z axis.
    Z,
}

/// What counts as a knock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct KnockLimits {
    /// The smallest change of acceleration between two samples that begins one, in mg.
    pub least_mg: u16,
    /// The change that counts as full strength, in mg.
    pub full_mg: u16,
    /// For how long the strongest change is looked for, in ms.
    pub window_ms: u32,
    /// For how long after its begin no other begins, in ms.
    pub deaf_ms: u32,
}

/// What counts as a swing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SwingLimits {
    /// The rate across the long axis from which on it is one, in ° a second.
    pub least_dps: u16,
    /// The rate below which the next may begin, in ° a second.
    pub rest_dps: u16,
    /// The rate that counts as full speed, in ° a second.
    pub full_dps: u16,
    /// How long it must last, in ms.
    pub shortest_ms: u32,
    /// After how long it is told although it goes on, in ms.
    pub longest_ms: u32,
}

/// What counts as a twist.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TwistLimits {
    /// The rate about the long axis that it must reach, in ° a second.
    pub least_dps: u16,
    /// The rate from which on the angle is summed up, and below which it comes to rest, in ° a
    /// second.
    pub rest_dps: u16,
    /// How long it must rest to be over, in ms.
    pub rest_ms: u32,
    /// The smallest angle that is told, in degrees.
    pub least_deg: u8,
}

/// What counts as a movement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct MotionLimits {
    /// Which axis lies along the prop.
    pub long_axis: LongAxis,
    /// Knocks.
    pub knock: KnockLimits,
    /// Swings.
    pub swing: SwingLimits,
    /// Twists.
    pub twist: TwistLimits,
}

impl Default for MotionLimits {
    fn default() -> Self {
        Self {
            long_axis: LongAxis::X,
            knock: KnockLimits {
                least_mg: 1500,
                full_mg: 8000,
                window_ms: 20,
                deaf_ms: 150,
            },
            swing: SwingLimits {
                least_dps: 180,
                rest_dps: 100,
                full_dps: 900,
                shortest_ms: 40,
                longest_ms: 400,
            },
            twist: TwistLimits {
                least_dps: 60,
                rest_dps: 25,
                rest_ms: 60,
                least_deg: 25,
            },
        }
    }
}

/// Most cues that one sample can give: one of each kind.
pub const MAX_CUES: usize = 3;

/// A gap between samples from which on they are not compared, in ms.
const GAP_MS: u32 = 20;

/// Finds knocks, swings and twists in a stream of samples.
#[derive(Debug, Clone)]
pub struct MotionDetector {
    limits: MotionLimits,
    last: Option<(Millis, Motion)>,
    knock: Knock,
    swing: Swing,
    twist: Twist,
}

#[derive(Debug, Clone, Copy)]
enum Knock {
    Quiet,
    /// Begun then, the strongest change so far in mg.
    Struck(Millis, u32),
    /// Told; begun then.
    Deaf(Millis),
}

#[derive(Debug, Clone, Copy)]
enum Swing {
    Rest,
    /// Begun then, the highest rate so far.
    Moving(Millis, u32),
    Told,
}

#[derive(Debug, Clone, Copy)]
enum Twist {
    Rest,
    Turning {
        /// So far, in 1/16000 °.
        turned: i32,
        /// Whether it has been fast enough to count.
        fast: bool,
        /// Since when it rests, if it does.
        resting: Option<Millis>,
    },
}

impl MotionDetector {
    /// A detector that has seen nothing yet.
    #[must_use]
    pub const fn new(limits: MotionLimits) -> Self {
        Self {
            limits,
            last: None,
            knock: Knock::Quiet,
            swing: Swing::Rest,
            twist: Twist::Rest,
        }
    }

    /// Takes a sample made at `now`; gives the cues it completes.
    ///
    /// After a gap of more than 20 ms the next sample is compared with nothing: it begins anew.
    pub fn sample(&mut self, now: Millis, motion: Motion) -> Vec<Cue, MAX_CUES> {
        let mut cues = Vec::new();
        let now = self.last.map_or(now, |(last, _)| never_back(last, now));
        let before = self.last.filter(|(last, _)| now.since(*last) <= GAP_MS);
        self.last = Some((now, motion));
        let Some((last, before)) = before else {
            self.knock = Knock::Quiet;
            self.swing = Swing::Rest;
            self.twist = Twist::Rest;
            return cues;
        };
        let (about, across) = self.limits.long_axis.rates(motion.rate_16th_dps);
        let found = [
            self.knock
                .step(&self.limits.knock, now, jolt(before, motion)),
            self.swing.step(&self.limits.swing, now, across),
            self.twist
                .step(&self.limits.twist, now, now.since(last), about, across),
        ];
        for cue in found.into_iter().flatten() {
            // There is room for one of each kind.
            let _ = cues.push(cue);
        }
        cues
    }
}

/// Change of acceleration between two samples, in mg.
fn jolt(before: Motion, after: Motion) -> u32 {
    let pairs = before.accel_mg.iter().zip(&after.accel_mg);
    length(pairs.map(|(a, b)| i32::from(*b) - i32::from(*a)))
}

/// Length of a vector; components beyond ±32767 count as that.
fn length(parts: impl Iterator<Item = i32>) -> u32 {
    let squares = parts.map(|part| part.unsigned_abs().min(32767).pow(2));
    // Three squares below 2³⁰ each.
    squares.fold(0u32, u32::saturating_add).isqrt()
}

impl LongAxis {
    /// Rate about the long axis, signed, and its amount across it, in 1/16 ° a second.
    fn rates(self, [x, y, z]: [i16; 3]) -> (i32, u32) {
        let (about, a, b) = match self {
            LongAxis::X => (x, y, z),
            LongAxis::Y => (y, z, x),
            LongAxis::Z => (z, x, y),
        };
        let across = length([i32::from(a), i32::from(b)].into_iter());
        (i32::from(about), across)
    }
}

/// `value` as a share of `full`.
fn share_of(value: u32, full: u32) -> Share {
    let share = value.saturating_mul(65535).checked_div(full);
    Share(share.map_or(u16::MAX, |share| share.min(65535) as u16))
}

impl Knock {
    fn step(&mut self, limits: &KnockLimits, now: Millis, jolt_mg: u32) -> Option<Cue> {
        match *self {
            Knock::Quiet if jolt_mg >= u32::from(limits.least_mg) => {
                *self = Knock::Struck(now, jolt_mg);
            }
            Knock::Struck(since, strongest) => {
                let strongest = strongest.max(jolt_mg);
                *self = Knock::Struck(since, strongest);
                if now.since(since) >= limits.window_ms {
                    *self = Knock::Deaf(since);
                    let strength = share_of(strongest.min(65535), u32::from(limits.full_mg));
                    return Some(Cue::Knock { strength });
                }
            }
            Knock::Deaf(since) if now.since(since) >= limits.deaf_ms => *self = Knock::Quiet,
            Knock::Quiet | Knock::Deaf(_) => {}
        }
        None
    }
}

impl Swing {
    fn step(&mut self, limits: &SwingLimits, now: Millis, rate: u32) -> Option<Cue> {
        let least = u32::from(limits.least_dps) * 16;
        match *self {
            Swing::Rest if rate >= least => *self = Swing::Moving(now, rate),
            Swing::Moving(since, highest) => {
                let highest = highest.max(rate);
                let lasted = now.since(since);
                *self = Swing::Moving(since, highest);
                let past = rate * 8 < highest * 7;
                if lasted < limits.shortest_ms {
                    if rate < least {
                        *self = Swing::Rest;
                    }
                } else if past || lasted >= limits.longest_ms {
                    *self = Swing::Told;
                    let speed = share_of(highest.min(65535), u32::from(limits.full_dps) * 16);
                    return Some(Cue::Swing { speed });
                }
            }
            Swing::Told if rate < u32::from(limits.rest_dps) * 16 => *self = Swing::Rest,
            Swing::Rest | Swing::Told => {}
        }
        None
    }
}

/// Half a turn in 1/16000 °.
const HALF_TURN: i32 = 180 * 16_000;

impl Twist {
    fn step(
        &mut self,
        limits: &TwistLimits,
        now: Millis,
        passed_ms: u32,
        about: i32,
        across: u32,
    ) -> Option<Cue> {
        let rate = about.unsigned_abs();
        // 2²¹ at most: 20 ms at 2048 ° a second.
        let turn = about * passed_ms as i32;
        let rests = rate < u32::from(limits.rest_dps) * 16;
        let fast = rate >= u32::from(limits.least_dps) * 16 && rate > across;
        match *self {
            Twist::Rest if !rests => {
                *self = Twist::Turning {
                    turned: turn,
                    fast,
                    resting: None,
                };
            }
            Twist::Rest => {}
            Twist::Turning {
                turned,
                fast: was_fast,
                resting,
            } => {
                let turned = turned.saturating_add(turn);
                let fast = fast || was_fast;
                let resting = rests.then_some(resting.unwrap_or(now));
                *self = Twist::Turning {
                    turned,
                    fast,
                    resting,
                };
                if resting.is_some_and(|since| now.since(since) >= limits.rest_ms) {
                    *self = Twist::Rest;
                    if fast && turned.unsigned_abs() >= u32::from(limits.least_deg) * 16_000 {
                        return Some(Cue::Twist {
                            angle: angle_of(turned),
                        });
                    }
                }
            }
        }
        None
    }
}

/// An angle given in 1/16000 °; beyond half a turn it counts as that.
fn angle_of(turned: i32) -> Angle {
    // 32768 · turned / HALF_TURN, shortened by 512.
    let raw = turned.clamp(-HALF_TURN, HALF_TURN) * 64 / 5625;
    Angle(raw.clamp(-32768, 32767) as i16)
}

#[cfg(test)]
mod tests;
