//! Frames a second of the engine on 144 pixels, one core.
//!
//! `cargo bench -p lampwright-host-tests --bench render`; the item throughput is frames a second.
#![allow(clippy::unwrap_used)]

use divan::counter::ItemsCount;
use divan::Bencher;
use lampwright_model::preset::{
    Blend, Direction, Layer, Mask, Origin, Paint, Placement, Shape, Side, Stop,
};
use lampwright_model::{Channels, Color, Cue, CueKind, Engine, Length, Millis, Preset, Share};

const PIXELS: u16 = 144;

fn main() {
    divan::main();
}

fn stops(colors: &[Color]) -> heapless::Vec<Stop, 8> {
    let last = (colors.len() - 1).max(1) as u32;
    (0u32..)
        .zip(colors)
        .map(|(index, color)| Stop {
            at: Share((65535 * index / last) as u16),
            color: *color,
        })
        .collect()
}

fn amber() -> Color {
    Color::rgb(60_000, 30_000, 2_000)
}

fn solid() -> Paint {
    Paint::Solid { color: amber() }
}

fn gradient(count: usize) -> Paint {
    let colors = [
        Color::BLACK,
        amber(),
        Color::rgb(9_000, 0, 60_000),
        Color::WHITE,
    ];
    let colors: Vec<Color> = colors.into_iter().cycle().take(count).collect();
    Paint::Gradient {
        stops: stops(&colors),
        scroll_ms: 3000,
        direction: Direction::TowardsEnd,
    }
}

fn wave() -> Paint {
    Paint::Wave {
        low: Color::rgb(2_000, 1_000, 0),
        high: amber(),
        wavelength: Length::from_pixels(24),
        period_ms: 900,
        direction: Direction::TowardsEnd,
        shape: Shape::Sine,
    }
}

fn noise(octaves: u8) -> Paint {
    Paint::Noise {
        stops: stops(&[Color::BLACK, amber()]),
        grain: Length::from_pixels(8),
        period_ms: 400,
        octaves,
    }
}

fn sparks() -> Paint {
    Paint::Sparks {
        color: Color::WHITE,
        chance_every_ms: 1200,
        chance: Share::from_percent(20),
        decay: Share::from_percent(40),
    }
}

fn embers() -> Paint {
    Paint::Embers {
        stops: stops(&[Color::BLACK, Color::rgb(30_000, 2_000, 0), amber()]),
        patch: Length::from_pixels(6),
        kick_every_ms: 700,
        cooling: Share::from_percent(90),
        base: Share::from_percent(10),
        drift: 40,
    }
}

fn spot() -> Layer {
    Layer {
        mask: Mask::Spot {
            centre: Share::HALF,
            radius: Length::from_pixels(12),
            soft: Length::from_pixels(6),
            placement: Placement::Scattered,
        },
        blend: Blend::Add,
        ..Layer::plain(solid())
    }
}

fn front() -> Layer {
    Layer {
        mask: Mask::Front {
            from: Origin::Centre,
            duration_ms: 400,
            soft: Length::from_pixels(8),
            returning: false,
        },
        blend: Blend::Lighten,
        ..Layer::plain(solid())
    }
}

fn taper() -> Layer {
    Layer {
        mask: Mask::Taper {
            towards: Side::End,
            length: Share::HALF,
            power: 2,
        },
        opacity: Share::from_percent(80),
        ..Layer::plain(gradient(4))
    }
}

fn preset(layers: Vec<Layer>) -> Preset {
    let mut preset = Preset::new("bench", PIXELS, Channels::Rgb);
    preset.rise_on = CueKind::ShortPress;
    preset.layers = layers.into_iter().collect();
    preset.validate().unwrap();
    preset
}

fn three() -> Preset {
    preset(vec![Layer::plain(embers()), Layer::plain(sparks()), spot()])
}

fn run(bencher: Bencher<'_, '_>, preset: &Preset, cap: u8) {
    let mut engine = Engine::new(preset).unwrap();
    engine.set_cap(cap);
    engine.cue(Millis(0), Cue::ShortPress);
    let mut out = vec![0; preset.frame_len()];
    let mut now = Millis(1000);
    bencher.counter(ItemsCount::new(1000u32)).bench_local(|| {
        for _ in 0..1000 {
            now = now.plus(17);
            engine.render(now, &mut out).unwrap();
            divan::black_box(&mut out);
        }
    });
}

const ONE_LAYER: &[&str] = &[
    "solid",
    "gradient-2",
    "gradient-8",
    "wave",
    "noise-1",
    "noise-3",
    "sparks",
    "embers",
    "spot",
    "front",
    "taper-gradient-4",
];

#[divan::bench(args = ONE_LAYER)]
fn one_layer(bencher: Bencher<'_, '_>, name: &str) {
    let layer = match name {
        "gradient-2" => Layer::plain(gradient(2)),
        "gradient-8" => Layer::plain(gradient(8)),
        "wave" => Layer::plain(wave()),
        "noise-1" => Layer::plain(noise(1)),
        "noise-3" => Layer::plain(noise(3)),
        "sparks" => Layer::plain(sparks()),
        "embers" => Layer::plain(embers()),
        "spot" => spot(),
        "front" => front(),
        "taper-gradient-4" => taper(),
        _ => Layer::plain(solid()),
    };
    run(bencher, &preset(vec![layer]), 255);
}

#[divan::bench]
fn three_layers(bencher: Bencher<'_, '_>) {
    run(bencher, &three(), 255);
}

#[divan::bench]
fn three_layers_capped_and_dithered(bencher: Bencher<'_, '_>) {
    let mut preset = three();
    preset.dither = true;
    run(bencher, &preset, 100);
}

#[divan::bench]
fn three_layers_rgbw(bencher: Bencher<'_, '_>) {
    let mut preset = three();
    preset.channels = Channels::Rgbw;
    run(bencher, &preset, 255);
}

#[divan::bench]
fn three_plain_layers(bencher: Bencher<'_, '_>) {
    let preset = preset(vec![
        Layer::plain(gradient(3)),
        taper(),
        Layer::plain(wave()),
    ]);
    run(bencher, &preset, 255);
}
