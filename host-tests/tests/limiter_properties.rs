//! What the limiter promises, on random strips, frames, budgets and cells.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright_model::limiter::{Limiter, Limits, SagGuard, StripLoad};
use lampwright_model::{Millis, Share};
use proptest::collection::vec;
use proptest::prelude::*;

/// Strips and the channels of a frame, 3 or 4.
fn strips() -> impl Strategy<Value = (Vec<StripLoad>, usize)> {
    let current = prop_oneof![0..=30_000u32, 0..=1_000_000u32];
    let strip = (1..60u16, prop::array::uniform4(current), 0..2000u32);
    (vec(strip, 1..4), 3..=4usize).prop_map(|(strips, channels)| {
        let load = |(pixels, channel_ua, dark_ua)| StripLoad {
            pixels,
            channel_ua,
            dark_ua,
        };
        (strips.into_iter().map(load).collect(), channels)
    })
}

/// Frames with the time that passes before each: dim, bright and random ones.
fn frames(len: usize) -> impl Strategy<Value = Vec<(u32, Vec<u8>)>> {
    let flat = any::<u8>().prop_map(move |level| vec![level; len]);
    let frame = prop_oneof![vec(any::<u8>(), len), flat];
    vec((prop_oneof![0..40u32, Just(100_000)], frame), 1..30)
}

/// Strips, how many bytes a frame has, and frames with the milliseconds before each.
type Scene = (Vec<StripLoad>, usize, Vec<(u32, Vec<u8>)>);

fn scene() -> impl Strategy<Value = Scene> {
    strips().prop_flat_map(|(strips, channels)| {
        let pixels: usize = strips.iter().map(|s| usize::from(s.pixels)).sum();
        (Just(strips), Just(channels), frames(pixels * channels))
    })
}

/// The estimate as the design states it, in floating point and with nothing in common with the model:
/// drive level / 255 × stated current, plus dark current, in µA.
fn estimate(strips: &[StripLoad], channels: usize, levels: &[u8]) -> f64 {
    let mut bytes = levels.iter();
    let mut sum = 0.0;
    for strip in strips {
        for _ in 0..strip.pixels {
            sum += f64::from(strip.dark_ua);
            for channel in 0..channels {
                let level = f64::from(*bytes.next().unwrap());
                sum += level / 255.0 * f64::from(strip.channel_ua[channel]);
            }
        }
    }
    sum
}

/// What one drive step of every channel of every pixel draws, in µA.
fn one_step(strips: &[StripLoad], channels: usize) -> f64 {
    let each = strips.iter().map(|s| {
        let channels = s.channel_ua.iter().take(channels);
        f64::from(s.pixels) * channels.map(|ua| f64::from(*ua)).sum::<f64>()
    });
    each.sum::<f64>() / 255.0
}

fn dark(strips: &[StripLoad]) -> f64 {
    let each = strips
        .iter()
        .map(|s| f64::from(s.pixels) * f64::from(s.dark_ua));
    each.sum()
}

proptest! {
    #[test]
    fn a_frame_is_never_above_the_budget_and_never_needlessly_dim(
        (strips, channels, frames) in scene(), share in 0.0..1.2f64,
    ) {
        let full = one_step(&strips, channels) * 255.0 + dark(&strips);
        let budget = (full * share).min(4e9) as u32;
        let limits = Limits { rise_ms: 0, ..Limits::budget(budget) };
        let mut limiter = Limiter::new(&strips, channels, limits);
        let mut now = Millis(u32::MAX - 200);
        for (passed, frame) in frames {
            now = now.plus(passed);
            let before = estimate(&strips, channels, &frame);
            let mut after = frame.clone();
            let done = limiter.apply(now, &mut after);
            let drawn = estimate(&strips, channels, &after);
            prop_assert!((f64::from(done.estimate_ua) - before).abs() <= 1.0 + 1e-9 * before);
            // The dark current cannot be limited away.
            let bound = f64::from(budget).max(dark(&strips));
            prop_assert!(drawn <= bound + 1e-3, "{drawn} µA of {budget}");
            if before <= f64::from(budget) {
                prop_assert_eq!(&after, &frame);
            } else if f64::from(budget) > dark(&strips) {
                let lost = one_step(&strips, channels) + before / 65536.0;
                prop_assert!(drawn >= f64::from(budget) - lost - 1.0, "{drawn} µA of {budget}");
            }
            for (a, b) in after.iter().zip(&frame) {
                prop_assert!(a <= b);
            }
        }
    }

    #[test]
    fn the_budget_holds_with_a_bounded_rise_and_the_scale_does_not_pump(
        (strips, channels, frames) in scene(), share in 0.0..1.2f64, rise_ms in 1..5000u16,
    ) {
        let full = one_step(&strips, channels) * 255.0 + dark(&strips);
        let budget = (full * share).min(4e9) as u32;
        let limits = Limits { rise_ms, ..Limits::budget(budget) };
        let mut limiter = Limiter::new(&strips, channels, limits);
        let mut now = Millis(u32::MAX - 200);
        let mut last = 65535.0;
        for (passed, frame) in frames {
            now = now.plus(passed);
            let mut after = frame.clone();
            let scale = f64::from(limiter.apply(now, &mut after).scale.0);
            let bound = f64::from(budget).max(dark(&strips));
            prop_assert!(estimate(&strips, channels, &after) <= bound + 1e-3);
            let most = f64::from(passed) * 65535.0 / f64::from(rise_ms);
            prop_assert!(scale <= last + most + 1e-6, "{last} to {scale} in {passed} ms");
            last = scale;
        }
    }

    #[test]
    fn a_larger_budget_is_nowhere_darker(
        (strips, channels, frames) in scene(), a in any::<u32>(), b in any::<u32>(),
    ) {
        let limited = |budget| {
            let mut limiter = Limiter::new(&strips, channels, Limits::budget(budget));
            let mut now = Millis(0);
            let mut out = Vec::new();
            for (passed, frame) in &frames {
                now = now.plus(*passed);
                let mut levels = frame.clone();
                limiter.apply(now, &mut levels);
                out.push(levels);
            }
            out
        };
        let (low, high) = (limited(a.min(b)), limited(a.max(b)));
        for (low, high) in low.iter().flatten().zip(high.iter().flatten()) {
            prop_assert!(low <= high);
        }
    }

    #[test]
    fn brighter_frames_are_estimated_no_lower(
        (strips, channels, frames) in scene(), more in any::<u8>(),
    ) {
        let limiter = Limiter::new(&strips, channels, Limits::none());
        for (_, frame) in frames {
            let brighter: Vec<u8> = frame.iter().map(|level| level.saturating_add(more)).collect();
            prop_assert!(limiter.estimate_ua(&frame) <= limiter.estimate_ua(&brighter));
        }
    }

    /// A cell behind a resistance, measured once a frame: the guard settles and stays, whatever the
    /// resistance, as long as the band of hysteresis is as wide as its documentation asks.
    #[test]
    fn the_sag_guard_settles_on_a_cell_that_recovers_when_the_light_is_lowered(
        open_mv in 2900..3700u16,
        resistance_ohm in 0.02..0.25f64,
        period_ms in 5..40u32,
        noise_mv in 0..8u16,
    ) {
        // 100 pixels of 3 × 10 mA: 3 A at full drive.
        let strips = [StripLoad { pixels: 100, channel_ua: [10_000; 3].into_iter().chain([0])
            .collect::<Vec<_>>().try_into().unwrap(), dark_ua: 0 }];
        let guard = SagGuard::above(3000);
        let limits = Limits { guard: Some(guard), ..Limits::budget(2_000_000) };
        let step_mv = resistance_ohm * 2000.0 * f64::from(period_ms) / f64::from(guard.fall_ms);
        prop_assume!(step_mv + 2.0 * f64::from(noise_mv) < f64::from(guard.hysteresis_mv));
        let mut limiter = Limiter::new(&strips, 3, limits);
        let mut now = Millis(0);
        let mut budgets = Vec::new();
        for n in 0..4000u32 {
            let mut frame = [255; 300];
            let done = limiter.apply(now, &mut frame);
            let drawn = estimate(&strips, 3, &frame) / 1e6;
            let flutter = if n % 2 == 0 { f64::from(noise_mv) } else { 0.0 };
            let cell = f64::from(open_mv) - drawn * resistance_ohm * 1e3 - flutter;
            limiter.cell_voltage(cell.max(0.0) as u16);
            budgets.push(done.budget_ua.unwrap());
            now = now.plus(period_ms);
        }
        // 4000 frames are 20 s and more: five times the slowest way.
        let settled = &budgets[3000..];
        let turns = settled.windows(3).filter(|w| (w[0] < w[1]) != (w[1] < w[2]) && w[0] != w[2]);
        prop_assert!(turns.count() <= 2, "it chases itself: {:?}", &settled[..20]);
        let (least, most) = (settled.iter().min().unwrap(), settled.iter().max().unwrap());
        prop_assert!(most - least <= 2_000_000 / 50, "{least}..{most} µA");
        // Nothing moves by more than its pace allows.
        for pair in budgets.windows(2) {
            let down = f64::from(pair[0]) - f64::from(pair[1]);
            let pace = 2e6 * f64::from(period_ms);
            prop_assert!(down <= pace / f64::from(guard.fall_ms) + 100.0);
            prop_assert!(-down <= pace / f64::from(guard.rise_ms) + 100.0);
        }
    }

    #[test]
    fn the_guard_line_is_monotone(brown_out in 0..4000u16, band in 0..500u16, least in any::<u16>(), mv in 0..5000u16) {
        let guard = SagGuard {
            full_mv: brown_out + band,
            least: Share(least),
            ..SagGuard::above(brown_out)
        };
        prop_assert!(guard.share_at(mv) <= guard.share_at(mv + 1));
        prop_assert!(guard.share_at(mv) >= guard.least);
    }
}

/// A flashing frame under a budget: the scale stays down between the flashes.
#[test]
fn flashes_do_not_make_the_rest_pump() {
    let strips = [StripLoad {
        pixels: 50,
        channel_ua: [12_000, 12_000, 12_000, 0],
        dark_ua: 600,
    }];
    let mut limiter = Limiter::new(&strips, 3, Limits::budget(600_000));
    let mut dim_levels = Vec::new();
    for n in 0..240u32 {
        let flash = n % 6 == 0;
        let mut frame = [if flash { 255 } else { 60 }; 150];
        limiter.apply(Millis(n * 1000 / 60), &mut frame);
        if !flash && n > 60 {
            dim_levels.push(frame[0]);
        }
    }
    let (least, most) = (
        dim_levels.iter().min().unwrap(),
        dim_levels.iter().max().unwrap(),
    );
    // Without a bound on the rise they would be at their full 60 at once after each flash.
    assert!(*most < 30 && most - least <= 5, "{least}..{most}");
}
