//! Frames played side by side on a bench equal frames played one by one: the demo props, the other builds
//! and random props, in every condition, with frames that starve, jump and collapse.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::diag::Source;
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::{Figures, Moment};
use lampwright::profile::Shown;
use lampwright::study::watch::all_conditions;
use proptest::prelude::*;
use std::path::Path;

/// One microvolt and one microampere.
const MICRO: f64 = 1e-6;

fn prop_of(name: &str, text: &str) -> Prop {
    read_build(&Source::new(name, text)).unwrap_or_else(|e| panic!("{e:?}"))
}

fn prop_in(path: &str) -> Prop {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    prop_of(
        path.to_str().unwrap(),
        &std::fs::read_to_string(&path).unwrap(),
    )
}

fn moment(frame: usize, period_s: f64) -> Moment {
    Moment {
        frame: frame as u64,
        time_s: frame as f64 * period_s,
        state: None,
        layers: Default::default(),
        cue: None,
        new_cues: 0,
    }
}

/// Largest difference of any figure; what only one of two has counts as infinite.
fn difference(a: &Figures, b: &Figures) -> f64 {
    let mut worst: f64 = 0.0;
    let mut see = |x: f64, y: f64| {
        let off = if x.is_nan() && y.is_nan() {
            0.0
        } else {
            (x - y).abs()
        };
        worst = if off.is_nan() {
            f64::INFINITY
        } else {
            worst.max(off)
        };
    };
    for (x, y) in [
        (a.cell_a, b.cell_a),
        (a.cell_peak_a, b.cell_peak_a),
        (a.cell_rms_a, b.cell_rms_a),
        (a.cell_aligned_a, b.cell_aligned_a),
        (a.cell_heat_w, b.cell_heat_w),
        (a.cell_v, b.cell_v),
        (a.cell_peak_v, b.cell_peak_v),
        (a.soc, b.soc),
        (a.cell_temperature_k, b.cell_temperature_k),
        (a.board_v, b.board_v),
        (a.board_peak_v, b.board_peak_v),
        (a.rail_v, b.rail_v),
        (a.light.luminance, b.light.luminance),
    ] {
        see(x, y);
    }
    for (x, y) in [
        (&a.branch_a, &b.branch_a),
        (&a.branch_peak_a, &b.branch_peak_a),
        (&a.branch_rms_a, &b.branch_rms_a),
    ] {
        x.iter().zip(y).for_each(|(x, y)| see(*x, *y));
    }
    for (x, y) in a.strips.iter().zip(&b.strips) {
        assert_eq!(x.lit, y.lit);
        see(x.average_a, y.average_a);
        see(x.delivered_a, y.delivered_a);
        see(x.peak_a, y.peak_a);
        see(x.aligned_a, y.aligned_a);
        see(x.supply_min_v, y.supply_min_v);
        see(x.rail_peak_a, y.rail_peak_a);
    }
    for (x, y) in a.data.iter().zip(&b.data) {
        assert_eq!(x.is_some(), y.is_some());
        if let (Some(x), Some(y)) = (x, y) {
            see(x.high_margin_v, y.high_margin_v);
            see(x.low_margin_v, y.low_margin_v);
        }
    }
    worst
}

/// What a comparison met.
#[derive(Debug, Default)]
struct Met {
    frames: usize,
    collapsed: usize,
    starved: usize,
    worst: f64,
}

/// Plays frames both ways on two benches of one prop under one condition.
fn compare(prop: &Prop, condition: Condition, frames: &[(Vec<u8>, f64, f64)], met: &mut Met) {
    let mut side_by_side = Bench::new(prop, condition).unwrap();
    let mut one_by_one = Bench::new(prop, condition).unwrap();
    let shown = frames
        .iter()
        .enumerate()
        .map(|(i, (levels, sound, period_s))| Shown {
            levels,
            moment: moment(i, *period_s),
            period_s: *period_s,
            sound: *sound,
        });
    let mut next = 0;
    side_by_side.play(shown, |shown, found| {
        assert_eq!(shown.moment.frame, next);
        next += 1;
        let expected = one_by_one.step(shown.levels, shown.moment, shown.period_s, shown.sound);
        assert_eq!(found.moment, expected.moment);
        assert_eq!(found.collapsed, expected.collapsed, "frame {next}");
        met.frames += 1;
        met.collapsed += usize::from(found.collapsed.is_some());
        let starved =
            |s: &lampwright::profile::figures::StripFigures| s.delivered_a < 0.999 * s.average_a;
        met.starved += usize::from(found.strips.iter().any(starved));
        let off = difference(found, expected);
        assert!(
            off < MICRO,
            "frame {next} is off by {off}: {found:?}\n{expected:?}"
        );
        met.worst = met.worst.max(off);
    });
    assert_eq!(next as usize, frames.len());
    let (a, b) = (
        side_by_side.cell_state().unwrap(),
        one_by_one.cell_state().unwrap(),
    );
    assert!((a.soc - b.soc).abs() < 1e-9 && (a.rc_v[0] - b.rc_v[0]).abs() < MICRO);
}

/// Frames of a fixed linear congruential sequence: dim, bright, and now and then dark, with a sound level.
fn random_frames(prop: &Prop, count: usize, seed: u64, period_s: f64) -> Vec<(Vec<u8>, f64, f64)> {
    let mut x = seed;
    let mut next = || {
        x = x
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (x >> 56) as u8
    };
    let length = prop.pixels() as usize * prop.frame_channels();
    (0..count)
        .map(|_| {
            let most = next();
            let shape = next() % 4;
            let levels = (0..length)
                .map(|_| match shape {
                    0 => 0,
                    1 => most,
                    _ => (u16::from(next()) * u16::from(most) / 255) as u8,
                })
                .collect();
            (levels, f64::from(next() % 3) / 2.0, period_s)
        })
        .collect()
}

#[test]
fn demo_props_and_builds_in_every_condition() {
    let mut met = Met::default();
    for (k, path) in [
        "traces/lantern-staff/build.toml",
        "traces/stage-torch/build.toml",
        "host-tests/builds/accents.toml",
        "host-tests/builds/one-strip.toml",
        "host-tests/builds/plus-switched.toml",
        "host-tests/builds/three-feeds.toml",
        "host-tests/builds/two-cells.toml",
    ]
    .into_iter()
    .enumerate()
    {
        let prop = prop_in(path);
        for condition in all_conditions(&prop) {
            // 61 frames: the last batch is not a full one.
            let frames = random_frames(&prop, 61, 11 + k as u64, 1.0 / 60.0);
            compare(&prop, condition, &frames, &mut met);
        }
    }
    assert!(met.frames > 2000 && met.starved > 100, "{met:?}");
}

/// A cell, a switch, one strip on long wires, and where wanted an amplifier and a second strip.
fn template(c: &Case) -> String {
    let mut text = format!(
        "[prop]\nname = \"random\"\n[conditions]\nsoc-floor = \"20 %\"\n\
         [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.master]\nkind = \"switch\"\nresistance = \"{} mΩ\"\nrating = \"5 A\"\n\
         [parts.s]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = {}\nrail-plus = \"{} mΩ\"\nrail-minus = \"{} mΩ\"\n\
         [[wires]]\nfrom = \"cell.plus\"\nto = \"master.a\"\ngauge = \"26 AWG\"\nlength = \"50 mm\"\n\
         [[wires]]\nfrom = \"master.b\"\nto = \"s.plus\"\ngauge = \"26 AWG\"\nlength = \"{} mm\"\n\
         [[wires]]\nfrom = \"s.minus\"\nto = \"cell.minus\"\ngauge = \"26 AWG\"\nlength = \"{} mm\"\n",
        c.switch_mohm, c.pixels, c.rail_mohm, c.rail_mohm * 1.3, c.wire_mm, c.wire_mm
    );
    if c.both_ends {
        text += "[[wires]]\nfrom = \"master.b\"\nto = \"s.plus@end\"\ngauge = \"30 AWG\"\nlength = \"700 mm\"\n\
                 [[wires]]\nfrom = \"s.minus@end\"\nto = \"cell.minus\"\ngauge = \"30 AWG\"\nlength = \"700 mm\"\n";
    }
    if let Some(board) = c.board {
        text += &format!(
            "[parts.board]\nkind = \"board\"\nfrom = \"{board}\"\n\
             [[wires]]\nfrom = \"master.b\"\nto = \"board.supply\"\ngauge = \"28 AWG\"\nlength = \"90 mm\"\n\
             [[wires]]\nfrom = \"board.ground\"\nto = \"cell.minus\"\ngauge = \"28 AWG\"\nlength = \"90 mm\"\n\
             [[wires]]\nfrom = \"board.data1\"\nto = \"s.data-in\"\ngauge = \"28 AWG\"\nlength = \"90 mm\"\n"
        );
    }
    if c.second {
        text += "[parts.t]\nkind = \"strip\"\npixel = \"sk6812rgbw\"\npixels = 9\nrail-plus = \"9 mΩ\"\nrail-minus = \"9 mΩ\"\n\
                 [[wires]]\nfrom = \"s.plus@end\"\nto = \"t.plus\"\ngauge = \"30 AWG\"\nlength = \"70 mm\"\n\
                 [[wires]]\nfrom = \"s.minus@end\"\nto = \"t.minus\"\ngauge = \"30 AWG\"\nlength = \"70 mm\"\n";
    }
    text
}

#[derive(Debug, Clone)]
struct Case {
    pixels: u32,
    rail_mohm: f64,
    wire_mm: f64,
    switch_mohm: f64,
    both_ends: bool,
    second: bool,
    board: Option<&'static str>,
    seed: u64,
    period_s: f64,
}

fn case() -> impl Strategy<Value = Case> {
    let board = prop_oneof![
        Just(None),
        Just(Some("board-sound-ldo")),
        Just(Some("board-sound-buckboost")),
        Just(Some("board-direct")),
    ];
    (
        (2u32..150, 0.5..12.0, 20.0..1500.0, 1.0..400.0),
        any::<bool>(),
        any::<bool>(),
        board,
        any::<u64>(),
        // Up to the length of the runs of a digest.
        prop_oneof![Just(1.0 / 60.0), Just(1.0 / 25.0), 0.05..4.0],
    )
        .prop_map(
            |(
                (pixels, rail_mohm, wire_mm, switch_mohm),
                both_ends,
                second,
                board,
                seed,
                period_s,
            )| Case {
                pixels,
                rail_mohm,
                wire_mm,
                switch_mohm,
                both_ends,
                second,
                board,
                seed,
                period_s,
            },
        )
}

#[test]
fn random_props_in_every_condition() {
    let met = std::cell::RefCell::new(Met::default());
    let config = ProptestConfig {
        cases: 240,
        ..ProptestConfig::default()
    };
    proptest!(config, |(c in case())| {
        let prop = prop_of("random.toml", &template(&c));
        let frames = random_frames(&prop, 37, c.seed, c.period_s);
        for condition in all_conditions(&prop) {
            compare(&prop, condition, &frames, &mut met.borrow_mut());
        }
    });
    let met = met.into_inner();
    assert!(
        met.starved > 500 && met.collapsed > 20 && met.frames > 5000,
        "{met:?}"
    );
}
