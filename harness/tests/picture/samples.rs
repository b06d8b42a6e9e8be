//! Invented data for pictures: realistic in shape, computed from plain formulas, measured nowhere.
#![allow(dead_code, unreachable_pub)]

use lampwright::report::picture::{
    CueMark, Draw, Limit, ProfilePlot, Series, State, StateSpan, StripColumns, StripImage, Worst,
};

/// A repeatable pseudo-random share 0..1 (a linear congruential step), so that samples are the same everywhere.
pub fn noise(index: usize) -> f64 {
    let mut x = index as u64 ^ 0x9e37_79b9_7f4a_7c15;
    for _ in 0..3 {
        x = x
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        x ^= x >> 29;
    }
    (x >> 11) as f64 / (1u64 << 53) as f64
}

/// Brightness 0..1 of the invented prop at a time: dark, 1.2 s of rising, lit, 1.2 s of falling, dark.
pub fn level(t_s: f64, duration_s: f64) -> f64 {
    let (on, off) = (0.03 * duration_s, 0.94 * duration_s);
    let ramp = (duration_s * 0.2).min(1.2);
    ((t_s - on) / ramp)
        .clamp(0.0, 1.0)
        .min(((off + ramp - t_s) / ramp).clamp(0.0, 1.0))
}

/// Drive levels of a strip in an ember-like effect with two bright knocks.
pub fn frame(strip: usize, pixels: usize, t_s: f64, duration_s: f64) -> Vec<([f64; 3], f64)> {
    let on = level(t_s, duration_s);
    let hit = [0.35, 0.7]
        .iter()
        .map(|at| {
            (-(t_s - at * duration_s).max(0.0) / (0.02 * duration_s)).exp()
                * f64::from(t_s >= at * duration_s)
        })
        .sum::<f64>()
        .min(1.0);
    (0..pixels)
        .map(|i| {
            let x = (i as f64 + 0.5) / pixels as f64;
            let wave = 0.5 + 0.5 * (x * 9.0 - t_s * 1.7 + strip as f64).sin();
            let slow = 0.55 + 0.45 * (t_s * 0.11 + strip as f64).sin();
            let flicker = 0.75 + 0.25 * noise(i + (t_s * 8.0) as usize * 131);
            let heat = on * flicker * (0.25 + 0.75 * wave * slow);
            let rgb = match strip % 3 {
                0 => [heat, heat * heat * 0.4, 0.02 * heat],
                1 => [0.1 * heat, 0.35 * heat, 0.8 * heat],
                _ => [0.0, 0.4 * on, 0.1 * on],
            };
            (rgb.map(|c| (c + on * hit * 0.8).min(1.0)), 0.0)
        })
        .collect()
}

/// A strip played at `fps` frames a second.
pub fn strip(index: usize, name: &str, pixels: usize, duration_s: f64, fps: f64) -> StripImage {
    let mut columns = StripColumns::new(name, pixels, duration_s, 900);
    for k in 0..frames(duration_s, fps) {
        let t_s = k as f64 / fps;
        columns.push(t_s, frame(index, pixels, t_s, duration_s));
    }
    columns.finish()
}

fn frames(duration_s: f64, fps: f64) -> usize {
    (duration_s * fps).round() as usize
}

/// Average, peak and aligned current (A) and cell, board, pixel voltage (V) at a time.
fn electrical(strips: &[(&str, usize)], t_s: f64, duration_s: f64) -> [f64; 6] {
    let (mut average, mut variance, mut aligned) = (0.08, 0.0, 0.08);
    for (index, (_, pixels)) in strips.iter().enumerate() {
        for (rgb, _) in frame(index, *pixels, t_s, duration_s) {
            for d in rgb {
                average += 0.012 * d;
                variance += d * (1.0 - d) * 0.012 * 0.012;
                aligned += if d > 0.004 { 0.012 } else { 0.0 };
            }
        }
    }
    let peak = average + 3.72 * variance.sqrt();
    let cell = 4.05 - 0.25 * t_s / duration_s - 0.11 * average;
    let board = cell - 0.06 * average;
    let pixel = board - 0.12 * average;
    [average, peak, aligned, cell, board, pixel]
}

/// The states of [`level`].
pub fn states(duration_s: f64) -> Vec<StateSpan> {
    let ramp = (duration_s * 0.2).min(1.2);
    let (on, off) = (0.03 * duration_s, 0.94 * duration_s);
    let at = [
        0.0,
        on,
        on + ramp,
        off,
        (off + ramp).min(duration_s),
        duration_s,
    ];
    [
        State::Dark,
        State::Rising,
        State::Lit,
        State::Falling,
        State::Dark,
    ]
    .into_iter()
    .zip(at.windows(2))
    .map(|(state, span)| StateSpan {
        from_s: span[0],
        to_s: span[1],
        state,
    })
    .collect()
}

/// A profile of the given strips; every value in `missing` (as shares of the duration) is NaN.
pub fn profile(
    strips: &[(&str, usize)],
    duration_s: f64,
    fps: f64,
    missing: std::ops::Range<f64>,
) -> ProfilePlot {
    let series = |name: &str, worst| Series::new(name, duration_s, Draw::Held, worst);
    let mut all = [
        series("average", Worst::Highest),
        series("coincidence peak", Worst::Highest),
        series("aligned worst case", Worst::Highest),
        series("cell", Worst::Lowest),
        series("board", Worst::Lowest),
        series("worst pixel supply", Worst::Lowest),
    ];
    for k in 0..frames(duration_s, fps) {
        let t_s = k as f64 / fps;
        let values = electrical(strips, t_s, duration_s);
        for (series, value) in all.iter_mut().zip(values) {
            let gone = missing.contains(&(t_s / duration_s));
            series.push(t_s, if gone { f64::NAN } else { value });
        }
    }
    let [average, peak, aligned, cell, board, pixel] = all;
    let cue = |share: f64, label: &str| CueMark {
        t_s: share * duration_s,
        label: label.to_owned(),
    };
    ProfilePlot {
        title: "Parade lantern staff (invented): preset “ember walk”".to_owned(),
        subtitle: format!("cue trace “evening round”, {duration_s} s at {fps} frames/s, cap 168 of 255"),
        duration_s,
        strips: strips
            .iter()
            .enumerate()
            .map(|(i, (name, pixels))| strip(i, name, *pixels, duration_s, fps))
            .collect(),
        currents: vec![average, peak, aligned],
        current_limits: vec![Limit::new("cell, continuous", 2.0)],
        voltages: vec![cell, board, pixel],
        voltage_limits: vec![
            Limit::new("pixel full colour", 3.5),
            Limit::new("brown-out", 3.0),
            Limit::new("cell cut-off", 2.8),
        ],
        states: states(duration_s),
        cues: vec![
            cue(0.03, "press"),
            cue(0.2, "swing"),
            cue(0.215, "swing"),
            cue(0.35, "knock"),
            cue(0.52, "swing"),
            cue(0.7, "knock"),
            cue(0.94, "long press"),
        ],
        caution: "Invented data, for the look of the picture only. Flashing light can trigger seizures in \
                  photosensitive people; bright LEDs can hurt eyes; a shorted lithium cell can burn."
            .to_owned(),
        conditions: "SoC 100 % → 20 %, 0 °C, aged cell (R0 × 2), AWG 22 leads at 20 °C ± 2 °C".to_owned(),
        tool: "Lampwright 0.1.0".to_owned(),
    }
}

/// The strips of the invented lantern staff.
pub const STAFF: [(&str, usize); 3] = [("column", 96), ("collar", 12), ("status", 1)];
