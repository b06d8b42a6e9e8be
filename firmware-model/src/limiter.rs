//! The limiter: cap, then budget, then sag guard.
//!
//! # Cap
//!
//! The upper bound on brightness, 0..=255. An [`Engine`](crate::Engine) applies it itself, before it
//! rounds to 8 bits; for any other source of frames, [`cap_levels`] does it afterwards.
//!
//! # Budget
//!
//! The upper bound on a frame's current, by an estimate that a small board can afford: the stated
//! current of each channel at full drive, in proportion to the drive level, plus the dark current of
//! every pixel. That is what the strip draws at ample supply; at one cell's voltage it draws less.
//! A frame above the budget has every level scaled by the same share and rounded down, so that **its
//! estimate is never above the budget**; what it lies below it is at most the current of one drive
//! step of every channel, plus the rounding of the share itself (1/65536 of the frame). If the dark
//! current alone is above the budget, all levels are 0.
//!
//! The share falls at once when it must, and rises by a bounded step a millisecond
//! ([`Limits::rise_ms`]): a limiter that let go as fast as it takes hold would pump with every flash.
//!
//! # Sag guard
//!
//! Lowers the budget while the measured voltage of the cell is near the level at which the board
//! browns out: full at [`SagGuard::full_mv`] and above, down in a straight line to
//! [`SagGuard::least`] at [`SagGuard::brown_out_mv`] and below. It goes down at a bounded pace
//! ([`SagGuard::fall_ms`]) and up at a slower one ([`SagGuard::rise_ms`]), and it goes up only as far
//! as the line allows at a voltage lower by [`SagGuard::hysteresis_mv`]: the voltage recovers when
//! the light is lowered, and without that band the two would chase each other. The band must be
//! wider than what the voltage moves by when the budget moves by one frame's step: resistance of the
//! path × budget × frame period / `fall_ms`. With 0.15 Ω, 2 A, 16 ms and 250 ms that is 19 mV.
//!
//! Because its pace is bounded, the sag guard does not replace a budget that the cell can bear; it
//! makes the end of the charge gentle.

use crate::fixed::Share;
use crate::time::{never_back, Millis};

/// What a strip draws, by the figures of its pixel type.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StripLoad {
    /// Number of pixels. Strips follow one another in a frame.
    pub pixels: u16,
    /// Current of each channel of a pixel at full drive, in µA: red, green, blue, white.
    pub channel_ua: [u32; 4],
    /// Current of a pixel with every channel at zero, in µA.
    pub dark_ua: u32,
}

/// Guards the board's supply near the end of the charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SagGuard {
    /// Voltage at which the board may brown out, mV, at the place where it is measured: the cell's
    /// voltage, or the supply at the board's terminals.
    pub brown_out_mv: u16,
    /// Cell voltage from which on the budget is whole, mV.
    pub full_mv: u16,
    /// By how much the voltage must recover before the budget rises again, mV.
    pub hysteresis_mv: u16,
    /// The share of the budget that is left at the brown-out level.
    pub least: Share,
    /// Fastest way from the whole budget to none, ms.
    pub fall_ms: u16,
    /// Fastest way from none to the whole budget, ms.
    pub rise_ms: u16,
}

impl SagGuard {
    /// A guard for a board that browns out at that cell voltage. The other figures are common
    /// practice: whole 250 mV above it, 60 mV of hysteresis, an eighth of the budget left, down in
    /// 250 ms, up in 4 s.
    #[must_use]
    pub const fn above(brown_out_mv: u16) -> Self {
        Self {
            brown_out_mv,
            full_mv: brown_out_mv.saturating_add(250),
            hysteresis_mv: 60,
            least: Share(8192),
            fall_ms: 250,
            rise_ms: 4000,
        }
    }

    /// The share of the budget at a steady cell voltage.
    #[must_use]
    pub fn share_at(&self, cell_mv: u16) -> Share {
        let above = u32::from(cell_mv.saturating_sub(self.brown_out_mv));
        let band = u32::from(self.full_mv.saturating_sub(self.brown_out_mv));
        if above >= band {
            // At the brown-out level itself a band of no width is dark, not bright.
            return if above == 0 { self.least } else { Share::FULL };
        }
        let rest = u32::from(!self.least.0);
        let rise = (above * rest).checked_div(band).unwrap_or(0);
        Share(self.least.0.saturating_add(rise as u16))
    }
}

/// What a limiter keeps to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    /// The upper bound on a frame's current, µA; `None`: no budget.
    pub budget_ua: Option<u32>,
    /// Fastest way of the scale from nothing to full, ms; 0: at once.
    pub rise_ms: u16,
    /// The sag guard, if the cell's voltage is measured. Without a budget it works on what the
    /// strips draw at full drive.
    pub guard: Option<SagGuard>,
}

impl Limits {
    /// A budget, a rise of the scale from nothing to full in 1 s (common practice) and no sag
    /// guard.
    #[must_use]
    pub const fn budget(budget_ua: u32) -> Self {
        Self {
            budget_ua: Some(budget_ua),
            rise_ms: 1000,
            guard: None,
        }
    }

    /// No budget and no sag guard: frames stay as they are.
    #[must_use]
    pub const fn none() -> Self {
        Self {
            budget_ua: None,
            rise_ms: 1000,
            guard: None,
        }
    }
}

/// What a limiter did to a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limited {
    /// Estimate of the frame as it came, µA.
    pub estimate_ua: u32,
    /// The budget that held, µA: the stated one, lowered by the sag guard.
    pub budget_ua: Option<u32>,
    /// The share by which every level was scaled, full if the frame was left alone.
    pub scale: Share,
}

impl Limited {
    /// Whether the frame was dimmed.
    #[must_use]
    pub const fn dimmed(&self) -> bool {
        self.scale.0 < Share::FULL.0
    }
}

/// Keeps frames within a budget.
#[derive(Debug, Clone)]
pub struct Limiter<'s> {
    strips: &'s [StripLoad],
    channels: usize,
    limits: Limits,
    /// Current of all pixels with every channel at zero, µA.
    dark_ua: u64,
    /// Current of all pixels at full drive, µA.
    full_ua: u64,
    /// The latest time seen, if any.
    now: Option<Millis>,
    scale: u16,
    guard: u16,
    cell_mv: Option<u16>,
    /// Whether frames are dimmed, and whether the guard has lowered the budget: told when it changes.
    told: (bool, bool),
}

/// A share of one, in [`scaled`]'s measure; a frame is left alone at this and above.
const WHOLE: u32 = 1 << 16;

impl<'s> Limiter<'s> {
    /// A limiter for frames of `channels` bytes a pixel that go to these strips, in their order.
    /// Bytes beyond the last strip count as none.
    #[must_use]
    pub fn new(strips: &'s [StripLoad], channels: usize, limits: Limits) -> Self {
        let each = |of: fn(&StripLoad) -> u64| strips.iter().map(of).fold(0, u64::saturating_add);
        let dark_ua = each(|s| u64::from(s.pixels) * u64::from(s.dark_ua));
        let full_ua =
            each(|s| u64::from(s.pixels) * s.channel_ua.map(u64::from).iter().sum::<u64>());
        Self {
            strips,
            channels: channels.max(1),
            limits,
            dark_ua,
            full_ua: full_ua.saturating_add(dark_ua),
            now: None,
            scale: u16::MAX,
            guard: u16::MAX,
            cell_mv: None,
            told: (false, false),
        }
    }

    /// Tells the limiter a measured cell voltage, in mV; it holds until the next one.
    pub fn cell_voltage(&mut self, cell_mv: u16) {
        self.cell_mv = Some(cell_mv);
    }

    /// The estimate of a frame, µA, rounded up.
    #[must_use]
    pub fn estimate_ua(&self, levels: &[u8]) -> u32 {
        let ua = self.lit(levels).div_ceil(255).saturating_add(self.dark_ua);
        u32::try_from(ua).unwrap_or(u32::MAX)
    }

    /// Current of the levels of a frame without dark current, in µA times 255.
    fn lit(&self, levels: &[u8]) -> u64 {
        let mut rest = levels;
        let mut sum = 0u64;
        for strip in self.strips {
            let len = usize::from(strip.pixels) * self.channels;
            let (own, behind) = rest.split_at_checked(len).unwrap_or((rest, &[]));
            rest = behind;
            for (channel, each_ua) in strip.channel_ua.iter().enumerate().take(self.channels) {
                let steps: u32 = own
                    .get(channel..)
                    .unwrap_or(&[])
                    .iter()
                    .step_by(self.channels)
                    .map(|level| u32::from(*level))
                    .sum();
                sum = sum.saturating_add(u64::from(steps).saturating_mul(u64::from(*each_ua)));
            }
        }
        sum
    }

    /// Scales the frame for the time `now` as the budget demands and says what was done.
    pub fn apply(&mut self, now: Millis, levels: &mut [u8]) -> Limited {
        let now = self.now.map_or(now, |last| never_back(last, now));
        let passed_ms = self.now.map_or(0, |last| now.since(last));
        self.now = Some(now);
        let budget_ua = self.guarded(passed_ms);
        let lit = self.lit(levels);
        let needed = budget_ua.map_or(WHOLE, |ua| share_within(ua, self.dark_ua, lit));
        let risen = u32::from(self.scale).saturating_add(step(passed_ms, self.limits.rise_ms));
        // Full is a scale of one, not of 65535/65536.
        let scale = needed.min(if risen >= 65535 { WHOLE } else { risen });
        self.scale = scale.min(65535) as u16;
        dim(levels, scale);
        let estimate = lit.div_ceil(255).saturating_add(self.dark_ua);
        let done = Limited {
            estimate_ua: u32::try_from(estimate).unwrap_or(u32::MAX),
            budget_ua,
            scale: Share(self.scale),
        };
        self.tell(done);
        done
    }

    /// Logs when the limiter takes hold or lets go.
    fn tell(&mut self, done: Limited) {
        let told = (done.dimmed(), self.guard < u16::MAX);
        if told.0 != self.told.0 {
            if told.0 {
                crate::log::info!(
                    "limiter: {} µA, scale {}/65535",
                    done.estimate_ua,
                    done.scale.0
                );
            } else {
                crate::log::info!("limiter: off");
            }
        }
        if told.1 != self.told.1 {
            if told.1 {
                crate::log::warn!(
                    "sag guard: budget lowered at {} mV",
                    self.cell_mv.unwrap_or(0)
                );
            } else {
                crate::log::info!("sag guard: off");
            }
        }
        self.told = told;
    }

    /// The budget as the sag guard leaves it, `passed_ms` after the last frame.
    fn guarded(&mut self, passed_ms: u32) -> Option<u32> {
        let (Some(guard), Some(cell_mv)) = (&self.limits.guard, self.cell_mv) else {
            return self.limits.budget_ua;
        };
        let down_to = guard.share_at(cell_mv).0;
        let up_to = guard
            .share_at(cell_mv.saturating_sub(guard.hysteresis_mv))
            .0;
        if down_to < self.guard {
            let fall = step(passed_ms, guard.fall_ms).min(65535) as u16;
            self.guard = down_to.max(self.guard.saturating_sub(fall));
        } else if up_to > self.guard {
            let rise = step(passed_ms, guard.rise_ms).min(65535) as u16;
            self.guard = up_to.min(self.guard.saturating_add(rise));
        }
        if self.guard == u16::MAX {
            return self.limits.budget_ua;
        }
        let full_ua = u32::try_from(self.full_ua).unwrap_or(u32::MAX);
        let whole = self.limits.budget_ua.unwrap_or(full_ua);
        Some(((u64::from(whole) * u64::from(self.guard)) >> 16) as u32)
    }
}

/// What moves by 65535 in `whole_ms` moves by this in `passed_ms`; at once if `whole_ms` is 0.
fn step(passed_ms: u32, whole_ms: u16) -> u32 {
    let part = passed_ms.min(65535).saturating_mul(65535);
    part.checked_div(u32::from(whole_ms)).unwrap_or(65535)
}

/// The largest share (of [`WHOLE`]) by which levels that draw `lit` µA·255 may be scaled.
fn share_within(budget_ua: u32, dark_ua: u64, lit: u64) -> u32 {
    let left = u64::from(budget_ua).saturating_sub(dark_ua) * 255;
    if lit <= left {
        return WHOLE;
    }
    // `left` is below 2⁴⁰ and `lit` not 0, so the quotient is below WHOLE.
    (left << 16)
        .checked_div(lit)
        .map_or(WHOLE, |share| share as u32)
}

/// Scales every level by a share (of [`WHOLE`]), rounded down.
fn dim(levels: &mut [u8], share: u32) {
    if share >= WHOLE {
        return;
    }
    for level in levels {
        *level = ((u32::from(*level) * share) >> 16) as u8;
    }
}

/// Applies a cap to levels that are rounded to 8 bits already: each is scaled by `cap / 255` and
/// rounded to the nearest.
pub fn cap_levels(levels: &mut [u8], cap: u8) {
    if cap == u8::MAX {
        return;
    }
    for level in levels {
        // n / 255 to the nearest, without a division: exact up to 65 535.
        let n = u32::from(*level) * u32::from(cap) + 128;
        *level = ((n + (n >> 8)) >> 8) as u8;
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::vec::Vec;

    /// Two strips: ten pixels of 11, 12, 13 mA and 0.5 mA dark, five of 20 mA each and 1 mA.
    const STRIPS: [StripLoad; 2] = [
        StripLoad {
            pixels: 10,
            channel_ua: [11_000, 12_000, 13_000, 0],
            dark_ua: 500,
        },
        StripLoad {
            pixels: 5,
            channel_ua: [20_000, 20_000, 20_000, 0],
            dark_ua: 1000,
        },
    ];

    #[test]
    fn the_estimate_is_the_sum_of_the_stated_currents() {
        let limiter = Limiter::new(&STRIPS, 3, Limits::none());
        assert_eq!(limiter.estimate_ua(&[0; 45]), 10_000);
        assert_eq!(limiter.estimate_ua(&[255; 45]), 360_000 + 300_000 + 10_000);
        let mut one = [0; 45];
        one[4] = 51; // green of the second pixel at a fifth
        assert_eq!(limiter.estimate_ua(&one), 2400 + 10_000);
        one[30] = 255; // red of the first pixel of the second strip
        assert_eq!(limiter.estimate_ua(&one), 22_400 + 10_000);
        one[31] = 1; // 78.4 µA, rounded up
        assert_eq!(limiter.estimate_ua(&one), 22_479 + 10_000);
        // Frames of other lengths: what is missing or beyond counts as none.
        assert_eq!(limiter.estimate_ua(&[255; 3]), 36_000 + 10_000);
        assert_eq!(limiter.estimate_ua(&[255; 60]), 670_000);
    }

    #[test]
    fn a_frame_within_the_budget_is_left_alone_and_one_above_meets_it() {
        let mut limiter = Limiter::new(&STRIPS, 3, Limits::budget(670_000));
        let mut frame = [255; 45];
        let done = limiter.apply(Millis(0), &mut frame);
        assert!(!done.dimmed() && frame == [255; 45]);
        assert_eq!(done.estimate_ua, 670_000);

        let mut limiter = Limiter::new(&STRIPS, 3, Limits::budget(340_000));
        let done = limiter.apply(Millis(0), &mut frame);
        assert!(done.dimmed());
        // Half of what is lit; 127 of 255, rounded down.
        assert_eq!((done.scale, frame), (Share(32768), [127; 45]));
        assert!(limiter.estimate_ua(&frame) <= 340_000);
    }

    #[test]
    fn a_budget_below_the_dark_current_leaves_no_light() {
        for budget in [0, 9_999, 10_000] {
            let mut limiter = Limiter::new(&STRIPS, 3, Limits::budget(budget));
            let mut frame = [255; 45];
            let done = limiter.apply(Millis(0), &mut frame);
            assert_eq!((done.scale, frame), (Share(0), [0; 45]));
        }
    }

    #[test]
    fn the_scale_falls_at_once_and_rises_at_its_pace() {
        let mut limiter = Limiter::new(&STRIPS, 3, Limits::budget(340_000));
        let mut scales = Vec::new();
        for (t, level) in [(0, 100), (16, 255), (32, 100), (332, 100), (2000, 100)] {
            let mut frame = [level; 45];
            scales.push(limiter.apply(Millis(t), &mut frame).scale.0);
            assert!(limiter.estimate_ua(&frame) <= 340_000);
            if t == 2000 {
                assert_eq!(frame, [100; 45]);
            }
        }
        // 16 ms and 300 ms of 1000 ms.
        assert_eq!(scales, [65535, 32768, 32768 + 1048, 33816 + 19660, 65535]);
    }

    #[test]
    fn the_guard_line_goes_from_least_to_full() {
        let guard = SagGuard::above(3000);
        assert_eq!(guard.share_at(0), guard.least);
        assert_eq!(guard.share_at(3000), guard.least);
        assert_eq!(guard.share_at(3125).0, 8192 + 57343 / 2);
        assert_eq!(guard.share_at(3250), Share::FULL);
        assert_eq!(guard.share_at(u16::MAX), Share::FULL);
        let mut narrow = guard;
        narrow.full_mv = 3000;
        assert_eq!(narrow.share_at(3000), guard.least);
        assert_eq!(narrow.share_at(3001), Share::FULL);
    }

    #[test]
    fn the_guard_lowers_and_gives_back_the_budget() {
        let guard = SagGuard::above(3000);
        let limits = Limits {
            guard: Some(guard),
            ..Limits::budget(400_000)
        };
        let mut limiter = Limiter::new(&STRIPS, 3, limits);
        let budget =
            |limiter: &mut Limiter<'_>, t: u32| limiter.apply(Millis(t), &mut [255; 45]).budget_ua;
        assert_eq!(budget(&mut limiter, 0), Some(400_000), "nothing measured");
        limiter.cell_voltage(3700);
        assert_eq!(budget(&mut limiter, 10), Some(400_000));
        limiter.cell_voltage(3000);
        // 25 ms of 250 ms down.
        assert_eq!(budget(&mut limiter, 35), Some(359_997));
        assert_eq!(budget(&mut limiter, 1000), Some(50_000));
        // Within the hysteresis it stays.
        limiter.cell_voltage(3059);
        assert_eq!(budget(&mut limiter, 2000), Some(50_000));
        limiter.cell_voltage(3300);
        assert_eq!(budget(&mut limiter, 3000), Some(149_993));
        assert_eq!(budget(&mut limiter, 20_000), Some(385_992), "hysteresis");
        limiter.cell_voltage(3310);
        assert_eq!(budget(&mut limiter, 30_000), Some(400_000));
    }

    #[test]
    fn the_guard_works_on_full_drive_where_there_is_no_budget() {
        let limits = Limits {
            guard: Some(SagGuard::above(3000)),
            ..Limits::none()
        };
        let mut limiter = Limiter::new(&STRIPS, 3, limits);
        limiter.cell_voltage(2500);
        assert_eq!(limiter.apply(Millis(0), &mut [255; 45]).budget_ua, None);
        let done = limiter.apply(Millis(1000), &mut [255; 45]);
        assert_eq!(done.budget_ua, Some(670_000 / 8));
    }

    #[test]
    fn a_cap_scales_levels_to_the_nearest() {
        for cap in 0..=255u8 {
            for level in 0..=255u8 {
                let mut levels = [level];
                cap_levels(&mut levels, cap);
                let exact = u32::from(level) * u32::from(cap);
                assert_eq!(
                    u32::from(levels[0]),
                    (exact * 2 + 255) / 510,
                    "{level} {cap}"
                );
            }
        }
    }
}
