//! Makes the measured traces of the demo staff: what two meters would have logged while it played its calibration
//! preset, with figures that differ from its build file's. Invented, like the staff.
//!
//! `cargo run --release -p lampwright-host-tests --example bench_logs` writes `traces/lantern-staff/measured/`. Only the
//! frames come from the engine; the circuit is that of `lampwright_host_tests::bench_log`, wired by hand below.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::profile::{Chunk, FrameStream, Played};
use lampwright_host_tests::bench_log::{Bench, Law, Load, Meter, Node, Rng, Sample, Source};
use lampwright_model::{Engine, State};
use std::fmt::Write as _;
use std::path::Path;

/// Ohms a metre at 25 °C: the wire maker's chart at 20 °C (as in the catalogue), copper grows by 0.393 % a kelvin.
fn wire(ohm_per_m: f64, metres: f64) -> f64 {
    ohm_per_m * 1.019_65 * metres
}

/// What the amplifier takes in silence and at full level, watts.
const AMPLIFIER_IDLE_W: f64 = 0.0024 * 3.7;
const AMPLIFIER_W: f64 = AMPLIFIER_IDLE_W + 1.8 / 0.92;

/// The staff as wired, with the figures that this bench hides.
fn staff() -> Bench {
    // Contacts have worn to 1.7 times what their sheets say, the cell to 1.3 times.
    let worn = 1.7;
    let mut nodes = vec![Node {
        parent: 0,
        ohm: 0.0,
        load: None,
    }];
    let mut add = |parent: usize, ohm: f64, load: Option<Load>| {
        nodes.push(Node { parent, ohm, load });
        nodes.len() - 1
    };
    // Holder, fuse, protection, master switch, and 0.33 m of 18 AWG.
    let shaft = worn * (0.005 + 0.010 + 0.010) + 0.018 + 0.025 + wire(0.0213, 0.330);
    let grip = add(0, shaft, None);
    // Logic and card behind a converter of 88 %, and what it takes itself; the amplifier at rest and at full level.
    let logic_w = 3.3 * 0.070 / 0.88 + 3.3 * 0.000_05;
    let board = add(
        grip,
        wire(0.0764, 0.180),
        Some(Load::Sound(logic_w, logic_w)),
    );
    add(board, 0.0, Some(Load::Sound(AMPLIFIER_IDLE_W, AMPLIFIER_W)));
    add(grip, wire(0.2129, 0.280), Some(Load::Pixel(108, 1)));
    let head = add(grip, worn * 2.0 * 0.005 + wire(0.0213, 1.280 + 0.140), None);
    let tap = add(head, wire(0.0213, 0.070), Some(Load::Pixel(0, 0)));
    let mut last = tap;
    for k in 1..96 {
        last = add(last, 2.0 * 0.001_29, Some(Load::Pixel(k, 0)));
    }
    last = add(head, wire(0.0764, 1.440), Some(Load::Pixel(96, 0)));
    for k in 97..108 {
        last = add(last, 2.0 * 0.003_10, Some(Load::Pixel(k, 0)));
    }
    Bench {
        nodes,
        laws: vec![
            Law {
                full_a: [0.011_42, 0.011_87, 0.011_55],
                off_v: [1.5, 2.5, 2.5],
                full_v: [2.32, 3.28, 3.28],
                dark_a: 0.000_51,
            },
            // The status pixel, as its sheet says: one of a hundred, so that nothing is told of it.
            Law {
                full_a: [0.005; 3],
                off_v: [1.5, 2.5, 2.5],
                full_v: [2.13, 3.11, 3.11],
                dark_a: 0.000_3,
            },
        ],
        source: Source {
            // The catalogue's points around 60 %, 14 mV higher.
            ocv: vec![
                (0.50, 3.7649),
                (0.55, 3.8123),
                (0.60, 3.8546),
                (0.65, 3.9036),
                (0.70, 3.9619),
            ],
            ohm: 1.3 * 0.0241,
            pair: (0.0105, 1165.0),
            charge_c: 5.153 * 3600.0,
            soc: 0.60,
        },
        tap,
    }
}

fn main() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/lantern-staff");
    let choice = Choice {
        presets: vec![folder
            .join("calibration/calibration.toml")
            .display()
            .to_string()],
        cues: Some(folder.join("calibration/calibration.csv")),
        ..Choice::default()
    };
    let prop = read_prop(&folder, &choice).unwrap();
    let presets = read_presets(&folder, &choice, &prop).unwrap();
    let engine = Engine::new(&presets[0].file.preset).unwrap();
    let mut played = Played::new(engine, &presets[0].cues[0], 20.0).with_cap(prop.cap);
    let mut frames: Vec<(Vec<u8>, f64)> = Vec::new();
    let mut chunk = Chunk::new();
    while played.fill(&mut chunk, 500).unwrap() > 0 {
        for (meta, levels) in chunk.frames() {
            // The build file: 60 % for 600 ms after a press, a quarter while lit.
            let after_cue = meta.cue.is_some_and(|c| meta.time_s - c.time_s < 0.6);
            let sound = match meta.state {
                _ if after_cue => 0.6,
                Some(State::Dark) => 0.0,
                _ => 0.25,
            };
            frames.push((levels.to_vec(), sound));
        }
    }
    let truth = staff().play(&frames, played.period_s());
    let supply = Meter {
        interval_s: 0.02,
        lag_s: 2.337,
        length_s: 72.0,
        noise_a: 0.004,
        noise_v: 0.002,
        zero_a: 0.0,
        digit_a: 0.0001,
        digit_v: 0.001,
    };
    let hand_held = Meter {
        interval_s: 0.1,
        lag_s: 1.162,
        noise_v: 0.001,
        ..supply
    };
    let mut rng = Rng(20_240_518);
    let out = folder.join("measured");
    std::fs::create_dir_all(&out).unwrap();
    let current = supply.log(&truth, played.period_s(), &mut rng);
    std::fs::write(out.join("calibration.csv"), cell_log(&current)).unwrap();
    let strip = hand_held.log(&truth, played.period_s(), &mut rng);
    std::fs::write(out.join("calibration-strip.csv"), strip_log(&strip)).unwrap();
}

/// As a logging supply might write it: a preamble, semicolons, decimal commas.
fn cell_log(samples: &[Sample]) -> String {
    let mut out = String::from(
        "# Invented for the demonstration: made by a generator of its own, not measured.\n# Current of the cell and voltage at its terminals, calibration preset\nZeit [s];Strom [mA];Spannung [V]\n",
    );
    for (k, (t, a, v, _)) in samples.iter().enumerate() {
        let current = match k {
            // The range was changed for a moment.
            1800..=1804 => "OL".to_owned(),
            _ => format!("{:.1}", a * 1e3),
        };
        let line = format!("{t:.2};{current};{v:.3}");
        let _ = writeln!(out, "{}", line.replace('.', ","));
    }
    out
}

/// As a hand-held meter might write it: time of day, a unit in every cell.
fn strip_log(samples: &[Sample]) -> String {
    let mut out = String::from(
        "# Invented for the demonstration: made by a generator of its own, not measured.\n# voltage at column.plus:column.minus\nTimestamp,Voltage\n",
    );
    for (t, _, _, v) in samples {
        let _ = writeln!(
            out,
            "2024-05-18T19:{:02}:{:06.3},{v:.3} V",
            30 + (t / 60.0) as u32,
            t % 60.0
        );
    }
    out
}
