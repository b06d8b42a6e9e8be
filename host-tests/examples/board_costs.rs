//! Scenarios for the table of costs: `board_costs FOLDER` writes `in.bin` and `names.txt` for the image `cost`.
//!
//! Every paint alone on 144 pixels, then what masks, curve, dithering and white add to it, then presets of three and of
//! eight layers, then the presets of the demo props with their cues. What is called `@ITEM@PIXELS` is for the table of costs
//! that the check `frame-time` reads: every part of a preset at its dearest, at two lengths.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::cues::TraceCue;
use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::build::pack::{BoardData, PackedPreset, PackedProp, PackedStrip};
use lampwright::profile::board_data::board_data;
use lampwright_host_tests::board::Scenario;
use lampwright_model::curve::Transfer;
use lampwright_model::pack::Link;
use lampwright_model::preset::{
    Blend, Direction, Layer, Mask, Origin, Paint, Placement, Shape, Side, Stop, Stops,
    TransitionStyle, Zone,
};
use lampwright_model::{Channels, Color, Cue, Length, Millis, Preset, Share};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const PIXELS: u16 = 144;
const FRAMES: u32 = 60;

fn stops() -> Stops {
    let stop = |(at, r, g, b)| Stop {
        at: Share::from_percent(at),
        color: Color::rgb(r, g, b),
    };
    [
        (0, 6000, 500, 0),
        (35, 30000, 5000, 0),
        (70, 56000, 22000, 3000),
        (100, 65535, 50000, 27000),
    ]
    .map(stop)
    .into_iter()
    .collect()
}

fn paints() -> Vec<(&'static str, Paint)> {
    let low = Color::rgb(3000, 0, 9000);
    let high = Color::rgb(65535, 40000, 20000);
    let px = Length::from_pixels;
    vec![
        ("solid", Paint::Solid { color: high }),
        (
            "breathing",
            Paint::Breathing {
                low,
                high,
                period_ms: 2400,
            },
        ),
        ("wave, sine", wave(low, high, Shape::Sine)),
        ("wave, square", wave(low, high, Shape::Square)),
        (
            "gradient, 4 stops",
            Paint::Gradient {
                stops: stops(),
                scroll_ms: 3000,
                direction: Direction::TowardsEnd,
            },
        ),
        (
            "noise, 1 octave",
            Paint::Noise {
                stops: stops(),
                grain: px(4),
                period_ms: 700,
                octaves: 1,
            },
        ),
        (
            "noise, 3 octaves",
            Paint::Noise {
                stops: stops(),
                grain: px(8),
                period_ms: 700,
                octaves: 3,
            },
        ),
        (
            "sparks",
            Paint::Sparks {
                color: high,
                chance_every_ms: 400,
                chance: Share::from_percent(30),
                decay: Share::from_percent(60),
            },
        ),
        (
            "embers",
            Paint::Embers {
                stops: stops(),
                patch: px(6),
                kick_every_ms: 1800,
                cooling: Share::from_percent(90),
                base: Share::from_percent(12),
                drift: 40,
            },
        ),
    ]
}

fn wave(low: Color, high: Color, shape: Shape) -> Paint {
    Paint::Wave {
        low,
        high,
        wavelength: Length::from_pixels(24),
        period_ms: 900,
        direction: Direction::TowardsEnd,
        shape,
    }
}

fn preset(layers: Vec<Layer>) -> Preset {
    let mut preset = Preset::new("cost", PIXELS, Channels::Rgb);
    preset.transfer = Transfer::Linear;
    preset.rise.duration_ms = 0;
    preset.layers = layers.into_iter().collect();
    preset
}

fn scenario(name: &str, preset: Preset) -> Scenario {
    let strip = PackedStrip {
        name: "strip".into(),
        pixels: preset.pixels,
        order: if preset.channels == Channels::Rgbw {
            "GRBW"
        } else {
            "GRB"
        }
        .into(),
        channel_ua: [
            12_000,
            12_000,
            12_000,
            if preset.channels == Channels::Rgbw {
                12_000
            } else {
                0
            },
        ],
        dark_ua: 600,
        link: Link::Unknown,
    };
    Scenario {
        name: name.into(),
        packed: PackedProp {
            prop: "costs".into(),
            cap: 200,
            budget_ua: Some(500_000),
            channels: preset.channels,
            board: BoardData {
                brown_out_mv: Some(3000),
                strips: vec![strip],
            },
            presets: vec![PackedPreset {
                name: "cost".into(),
                preset,
                cues: Vec::new(),
            }],
        },
        index: 0,
        frames: FRAMES,
        origin: Millis(0),
        cell_mv: None,
        slow: None,
        cues: vec![TraceCue {
            at_ms: 0,
            cue: Cue::ShortPress,
        }],
    }
}

/// Embers, filtered by a gradient, with sparks on top: lightness curve and dithering as a builder has them.
fn three_layers() -> Preset {
    let of = |name: &str| paints().into_iter().find(|(n, _)| *n == name).unwrap().1;
    let mut preset = preset(vec![
        Layer::plain(of("embers")),
        Layer {
            blend: Blend::Multiply,
            opacity: Share::from_percent(60),
            ..Layer::plain(of("gradient, 4 stops"))
        },
        Layer {
            blend: Blend::Add,
            ..Layer::plain(of("sparks"))
        },
    ]);
    preset.transfer = Transfer::Lightness;
    preset.dither = true;
    preset
}

fn made_up() -> Vec<Scenario> {
    let mut all: Vec<Scenario> = paints()
        .into_iter()
        .map(|(name, paint)| scenario(name, preset(vec![Layer::plain(paint)])))
        .collect();
    all.insert(0, scenario("no layer", preset(Vec::new())));
    let solid = || Layer::plain(paints()[0].1.clone());
    let front = Mask::Front {
        from: Origin::Start,
        duration_ms: 2000,
        soft: Length::from_pixels(20),
        returning: true,
    };
    all.push(scenario(
        "solid under a front",
        preset(vec![Layer {
            mask: front,
            ..solid()
        }]),
    ));
    let mut curved = preset(vec![solid()]);
    curved.transfer = Transfer::Lightness;
    all.push(scenario("solid, lightness curve", curved));
    let mut dithered = preset(vec![solid()]);
    dithered.dither = true;
    all.push(scenario("solid, dithered", dithered));
    let mut white = preset(vec![solid()]);
    white.channels = Channels::Rgbw;
    all.push(scenario("solid, white extracted", white));
    all.push(scenario("three layers", three_layers()));
    let eight = paints().into_iter().take(8).map(|(_, p)| Layer {
        blend: Blend::Lighten,
        ..Layer::plain(p)
    });
    all.push(scenario("eight layers", preset(eight.collect())));
    all
}

/// Every part of a preset at its dearest.
fn items() -> Vec<(&'static str, Preset)> {
    let px = Length::from_pixels;
    let many: Stops = (0u16..8)
        .map(|n| Stop {
            at: Share(n * 9362),
            color: Color::rgb(n * 9000, 65535 - n * 9000, (n % 2) * 60_000),
        })
        .collect();
    let noise = |grain, octaves| Paint::Noise {
        stops: many.clone(),
        grain: px(grain),
        period_ms: 700,
        octaves,
    };
    let embers = |patch| Paint::Embers {
        stops: many.clone(),
        patch: px(patch),
        kick_every_ms: 1800,
        cooling: Share::FULL,
        base: Share::NONE,
        drift: 40,
    };
    let high = Color::rgb(65535, 40000, 20000);
    let paints = [
        ("solid", Paint::Solid { color: high }),
        ("wave", wave(Color::rgb(3000, 0, 9000), high, Shape::Sine)),
        (
            "gradient",
            Paint::Gradient {
                stops: many.clone(),
                scroll_ms: 3000,
                direction: Direction::TowardsEnd,
            },
        ),
        ("noise-1", noise(64, 1)),
        ("noise-1-cell", noise(1, 1)),
        ("noise-3", noise(64, 3)),
        ("noise-3-cell", noise(1, 3)),
        (
            "sparks",
            Paint::Sparks {
                color: high,
                chance_every_ms: 400,
                chance: Share::FULL,
                decay: Share::FULL,
            },
        ),
        ("embers", embers(64)),
        ("embers-cell", embers(1)),
    ];
    let mut all: Vec<(&'static str, Preset)> = paints
        .into_iter()
        .map(|(name, paint)| (name, preset(vec![Layer::plain(paint)])))
        .collect();
    all.insert(0, ("frame", preset(Vec::new())));
    let solid = || Layer::plain(Paint::Solid { color: high });
    let soft = px(20);
    let masks = [
        (
            "mask-span",
            Mask::Span {
                from: Share::NONE,
                to: Share::FULL,
                soft,
            },
        ),
        (
            "mask-front",
            Mask::Front {
                from: Origin::Centre,
                duration_ms: 900,
                soft,
                returning: false,
            },
        ),
        (
            "mask-taper",
            Mask::Taper {
                towards: Side::End,
                length: Share::FULL,
                power: 3,
            },
        ),
        (
            "mask-spot",
            Mask::Spot {
                centre: Share::HALF,
                radius: px(200),
                soft: px(200),
                placement: Placement::Fixed,
            },
        ),
    ];
    for (name, mask) in masks {
        all.push((name, preset(vec![Layer { mask, ..solid() }])));
    }
    for (name, blend) in [
        ("blend-over", Blend::Over),
        ("blend-add", Blend::Add),
        ("blend-lighten", Blend::Lighten),
        ("blend-multiply", Blend::Multiply),
    ] {
        let opacity = Share::from_percent(60);
        let top = Layer {
            blend,
            opacity,
            ..solid()
        };
        all.push((name, preset(vec![top])));
    }
    let lit = || preset(vec![solid()]);
    let changed = |change: fn(&mut Preset)| {
        let mut preset = lit();
        change(&mut preset);
        preset
    };
    all.push(("lightness", changed(|p| p.transfer = Transfer::Lightness)));
    all.push(("dither", changed(|p| p.dither = true)));
    all.push(("white", changed(|p| p.channels = Channels::Rgbw)));
    all.push(("fade", changed(|p| p.rise.duration_ms = 2000)));
    all.push((
        "sweep",
        changed(|p| {
            p.rise.duration_ms = 2000;
            p.rise.style = TransitionStyle::Sweep {
                from: Origin::Centre,
                soft: Length::from_pixels(20),
            };
        }),
    ));
    all
}

/// The items at two lengths.
fn items_by_length() -> Vec<Scenario> {
    let of = |(name, mut preset): (&'static str, Preset)| {
        [48, PIXELS].map(|pixels| {
            preset.pixels = pixels;
            preset.zones = std::iter::once(Zone::whole("all", pixels)).collect();
            scenario(&format!("@{name}@{pixels}"), preset.clone())
        })
    };
    // The same pixels on four strips, for what each strip costs the limiter.
    let solid = items().into_iter().find(|(name, _)| *name == "solid");
    let mut strips: Vec<Scenario> = solid.into_iter().flat_map(of).collect();
    for (scenario, pixels) in strips.iter_mut().zip([48, PIXELS]) {
        scenario.name = format!("@limit-strip@{pixels}");
        let mut quarter = scenario.packed.board.strips[0].clone();
        quarter.pixels = pixels / 4;
        scenario.packed.board.strips = vec![quarter; 4];
    }
    items().into_iter().flat_map(of).chain(strips).collect()
}

fn demos() -> Vec<Scenario> {
    let traces = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces");
    let mut all = Vec::new();
    for folder in ["lantern-staff", "stage-torch"] {
        let folder = traces.join(folder);
        let prop = read_prop(&folder, &Choice::default()).unwrap();
        let board = board_data(&prop).unwrap();
        for named in read_presets(&folder, &Choice::default(), &prop).unwrap() {
            let name = format!(
                "{} ({} px)",
                named.file.preset.name, named.file.preset.pixels
            );
            let mut one = scenario(&name, named.file.preset.clone());
            one.packed.board = board.clone();
            one.frames = 1200;
            one.cues = named
                .cues
                .first()
                .map(|t| t.cues.clone())
                .unwrap_or_default();
            all.push(one);
        }
    }
    all
}

fn main() {
    let folder = PathBuf::from(std::env::args().nth(1).expect("a folder"));
    std::fs::create_dir_all(&folder).unwrap();
    let (mut bytes, mut names) = (Vec::new(), String::new());
    let all = [made_up(), demos(), items_by_length()];
    for scenario in all.into_iter().flatten() {
        bytes.extend(scenario.bytes());
        let len = scenario.preset().frame_len() + 3;
        writeln!(names, "{}\t{}\t{len}", scenario.name, scenario.frames).unwrap();
    }
    std::fs::write(folder.join("in.bin"), bytes).unwrap();
    std::fs::write(folder.join("names.txt"), names).unwrap();
}
