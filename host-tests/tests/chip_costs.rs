//! The table of costs that the check `frame-time` reads holds every part of a preset, and is held against whole frames
//! counted on emulated cores.
//!
//! Both files are written by `host-tests/firmware/measure`: the table from presets made up to show one part at its dearest,
//! the worst frames from the demo presets with their cues.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::build::parts::CoreKind;
use lampwright::study::chip_work::{work, Work};
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Blend, Direction, Layer, Mask, Origin, Paint, Placement, Shape, Side, Stops,
};
use lampwright_model::{Channels, Color, Length, Preset, Share};
use std::path::Path;

const WORST: &str = include_str!("../firmware/worst_frames.csv");
const CORES: [(&str, CoreKind); 3] = [
    ("m0", CoreKind::CortexM0),
    ("m3", CoreKind::CortexM3),
    ("m4", CoreKind::CortexM4),
];

/// The presets of both demo props, each with the number of strips it is played on.
fn demo_presets() -> Vec<(Preset, usize)> {
    let mut all = Vec::new();
    for prop in ["lantern-staff", "stage-torch"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../traces")
            .join(prop);
        let choice = Choice::default();
        let prop = read_prop(&folder, &choice).unwrap();
        let presets = read_presets(&folder, &choice, &prop).unwrap();
        let strips = prop.strips().count();
        all.extend(presets.into_iter().map(|named| (named.file.preset, strips)));
    }
    all
}

#[test]
fn no_demo_preset_takes_more_on_a_core_than_is_told_and_none_a_third_as_much() {
    let mut seen = 0;
    for (preset, strips) in demo_presets() {
        for (key, core) in CORES {
            let start = format!("{key},{},", preset.name);
            let line = WORST.lines().find_map(|l| l.strip_prefix(&start));
            let counted: Vec<f64> = line
                .unwrap_or_else(|| panic!("{start} is not measured"))
                .split(',')
                .map(|cell| cell.parse().unwrap())
                .collect();
            let told = work(core, &preset, strips).unwrap();
            let told = [told.render, told.limit, told.encode];
            assert_eq!(counted.len(), told.len());
            for (part, (told, counted)) in told.into_iter().zip(counted).enumerate() {
                assert!(
                    told >= counted * 0.99,
                    "{start} part {part}: {told} {counted}"
                );
                assert!(
                    told <= counted * 3.0,
                    "{start} part {part}: {told} {counted}"
                );
            }
            seen += 1;
        }
    }
    assert_eq!(seen, 18);
}

fn render(preset: &Preset) -> f64 {
    let works: Vec<Work> = CORES
        .iter()
        .map(|(_, c)| work(*c, preset, 1).unwrap())
        .collect();
    // A faster core takes fewer cycles, and a Cortex-M0+ is told what a Cortex-M0 takes.
    assert!(works[0].render > works[2].render);
    assert_eq!(work(CoreKind::CortexM0Plus, preset, 1), Some(works[0]));
    // Each strip has sums of its own in the limiter.
    assert!(work(CoreKind::CortexM0, preset, 2).unwrap().limit > works[0].limit);
    works[0].render
}

#[test]
fn every_part_of_a_preset_is_in_the_table_and_costs_something() {
    let color = Color::rgb(65535, 9, 9);
    let stops = Stops::new;
    let length = Length::from_pixels(3);
    let noise = |octaves, grain| Paint::Noise {
        stops: stops(),
        grain,
        period_ms: 1,
        octaves,
    };
    let mut bare = Preset::new("bare", 100, Channels::Rgb);
    bare.rise.duration_ms = 0;
    bare.fall.duration_ms = 0;
    bare.transfer = Transfer::Linear;
    let mut lit = bare.clone();
    lit.layers
        .push(Layer::plain(Paint::Solid { color }))
        .unwrap();
    let solid = render(&lit);
    assert!(solid > render(&bare));
    let paints = [
        Paint::Wave {
            low: color,
            high: color,
            wavelength: length,
            period_ms: 1,
            direction: Direction::TowardsEnd,
            shape: Shape::Sine,
        },
        Paint::Gradient {
            stops: stops(),
            scroll_ms: 0,
            direction: Direction::TowardsEnd,
        },
        noise(1, length),
        noise(2, length),
        noise(3, length),
        Paint::Sparks {
            color,
            chance_every_ms: 1,
            chance: Share::HALF,
            decay: Share::HALF,
        },
        Paint::Embers {
            stops: stops(),
            patch: length,
            kick_every_ms: 1,
            cooling: Share::HALF,
            base: Share::HALF,
            drift: 0,
        },
    ];
    for paint in paints {
        let mut preset = bare.clone();
        preset.layers.push(Layer::plain(paint.clone())).unwrap();
        assert!(render(&preset) > solid, "{paint:?}");
    }
    let finer = |grain| {
        let mut preset = bare.clone();
        preset.layers.push(Layer::plain(noise(1, grain))).unwrap();
        render(&preset)
    };
    assert!(finer(Length::from_pixels(1)) > finer(Length::from_pixels(10)));
    let more: [fn(&mut Preset); 13] = [
        |p| {
            p.layers[0].mask = Mask::Span {
                from: Share::NONE,
                to: Share::FULL,
                soft: Length(0),
            }
        },
        |p| {
            p.layers[0].mask = Mask::Front {
                from: Origin::Start,
                duration_ms: 1,
                soft: Length(0),
                returning: false,
            };
        },
        |p| {
            p.layers[0].mask = Mask::Taper {
                towards: Side::End,
                length: Share::HALF,
                power: 2,
            }
        },
        |p| {
            p.layers[0].mask = Mask::Spot {
                centre: Share::HALF,
                radius: Length(9),
                soft: Length(9),
                placement: Placement::Fixed,
            };
        },
        |p| p.layers[0].opacity = Share::HALF,
        |p| p.layers[0].blend = Blend::Add,
        |p| p.layers[0].blend = Blend::Lighten,
        |p| p.layers[0].blend = Blend::Multiply,
        |p| p.transfer = Transfer::Lightness,
        |p| p.dither = true,
        |p| p.channels = Channels::Rgbw,
        |p| p.fall.duration_ms = 100,
        |p| {
            p.rise.duration_ms = 100;
            p.rise.style = lampwright_model::preset::TransitionStyle::Sweep {
                from: Origin::Start,
                soft: Length(0),
            };
        },
    ];
    for (number, change) in more.into_iter().enumerate() {
        let mut preset = lit.clone();
        change(&mut preset);
        assert!(render(&preset) > solid, "change {number}");
    }
}
