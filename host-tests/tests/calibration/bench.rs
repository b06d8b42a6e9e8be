//! The bench whose figures are hidden, what it logs, and a fit to that.

use lampwright::build::diag::Source as Text;
use lampwright::build::file::read_build;
use lampwright::build::measured::Measured;
use lampwright::build::netlist::Pin;
use lampwright::build::prop::Prop;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::Moment;
use lampwright::study::calibrate::{
    calibrate, Calibration, Circumstances, Frames, Log, Tap, Wanted, What,
};
use lampwright_host_tests::bench_log::{Bench, Law, Load, Meter, Node, Rng, Source};

/// Time and what the meter read then.
pub(crate) type Sample = (f64, f64, f64, f64);

pub(crate) const PIXELS: usize = 12;
pub(crate) const PERIOD_S: f64 = 0.1;

/// An invented wand on the bench, every figure given.
pub(crate) const BUILD: &str = r#"
[prop]
name = "Bench wand"
[parts.cell]
kind = "cell"
capacity = "3 Ah"
cut-off = "2.5 V"
r0 = "50 mΩ"
ocv = { soc = ["0 %", "100 %"], voltage = ["3.6 V", "4.4 V"], interpolation = "linear" }
[parts.spring]
kind = "contact"
resistance = "60 mΩ"
[pixels.bench-pixel]
red = { current = "12 mA", off = "1.5 V", full = "2.4 V" }
green = { current = "11 mA", off = "2.5 V", full = "3.5 V" }
blue = { current = "10 mA", off = "2.5 V", full = "3.5 V" }
dark-current = "0.6 mA"
[parts.strip]
kind = "strip"
pixel = "bench-pixel"
pixels = 12
rail-plus = "3 mΩ"
rail-minus = "3 mΩ"
[[wires]]
name = "P0"
from = "cell.plus"
to = "spring.a"
resistance = "0 mΩ"
[[wires]]
name = "P1"
from = "spring.b"
to = "strip.plus"
resistance = "20 mΩ"
[[wires]]
name = "N1"
from = "strip.minus"
to = "cell.minus"
resistance = "20 mΩ"
"#;

pub(crate) fn prop() -> Prop {
    read_build(&Text::new("bench.toml", BUILD)).unwrap()
}

/// What the bench hides.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hidden {
    pub(crate) full_a: [f64; 3],
    pub(crate) dark_a: f64,
    pub(crate) source_ohm: f64,
    pub(crate) contact_ohm: f64,
    pub(crate) raised_v: f64,
    pub(crate) lag_s: f64,
    pub(crate) tap_lag_s: f64,
    pub(crate) zero_a: f64,
}

impl Hidden {
    pub(crate) fn drawn(rng: &mut Rng) -> Self {
        Self {
            full_a: [0.012, 0.011, 0.010].map(|a| a * rng.even(0.85, 1.15)),
            dark_a: 0.0006 * rng.even(0.5, 2.0),
            source_ohm: 0.05 * rng.even(0.7, 1.6),
            contact_ohm: 0.06 * rng.even(0.5, 2.5),
            raised_v: rng.even(-0.05, 0.05),
            lag_s: rng.even(-0.5, 3.0),
            tap_lag_s: rng.even(0.0, 2.0),
            zero_a: 0.0,
        }
    }

    pub(crate) fn bench(&self) -> Bench {
        let mut nodes = vec![
            Node {
                parent: 0,
                ohm: 0.0,
                load: None,
            },
            Node {
                parent: 0,
                ohm: self.contact_ohm + 0.04,
                load: Some(Load::Pixel(0, 0)),
            },
        ];
        for k in 1..PIXELS {
            nodes.push(Node {
                parent: k,
                ohm: 0.006,
                load: Some(Load::Pixel(k, 0)),
            });
        }
        Bench {
            nodes,
            laws: vec![Law {
                full_a: self.full_a,
                off_v: [1.5, 2.5, 2.5],
                full_v: [2.4, 3.5, 3.5],
                dark_a: self.dark_a,
            }],
            source: Source {
                ocv: vec![(0.0, 3.6 + self.raised_v), (1.0, 4.4 + self.raised_v)],
                ohm: self.source_ohm,
                pair: (0.0, 0.0),
                charge_c: 3.0 * 3600.0,
                soc: 0.6,
            },
            tap: 1,
        }
    }

    pub(crate) fn of(&self, what: &What) -> f64 {
        match what {
            What::Channel { channel, .. } => self.full_a[*channel],
            What::Dark { .. } => self.dark_a,
            What::Source => self.source_ohm,
            What::Contacts => self.contact_ohm,
            What::OpenCircuit => self.raised_v,
            What::MeterZero(_) => self.zero_a,
            What::Lag(0) => self.lag_s,
            What::Lag(_) => self.tap_lag_s,
        }
    }
}

/// Which colours are lit in a step: bits red, green, blue.
pub(crate) fn steps(colours: &[usize]) -> Vec<Vec<u8>> {
    let mut frames = vec![vec![0; PIXELS * 3]; 5];
    for length in [PIXELS, PIXELS / 2] {
        for level in [255_u8, 128, 64] {
            for colour in colours {
                let mut frame = vec![0; PIXELS * 3];
                for (k, slot) in frame.iter_mut().take(length * 3).enumerate() {
                    *slot = if colour >> (k % 3) & 1 == 1 { level } else { 0 };
                }
                frames.extend(std::iter::repeat_n(frame, 5));
            }
        }
    }
    frames.extend(vec![vec![0; PIXELS * 3]; 8]);
    frames
}

pub(crate) fn frames(levels: &[Vec<u8>]) -> Frames {
    let moment = |k: usize| Moment {
        frame: k as u64,
        time_s: k as f64 * PERIOD_S,
        state: None,
        layers: Default::default(),
        cue: None,
        new_cues: 0,
    };
    Frames {
        name: "steps".to_owned(),
        levels: levels.concat(),
        frame_len: PIXELS * 3,
        pixels: PIXELS,
        moments: (0..levels.len()).map(moment).collect(),
        period_s: PERIOD_S,
    }
}

pub(crate) fn meter(lag_s: f64, length_s: f64, zero_a: f64) -> Meter {
    Meter {
        interval_s: 0.02,
        lag_s,
        length_s: length_s + 3.0,
        noise_a: 0.004,
        noise_v: 0.003,
        zero_a,
        digit_a: 0.0001,
        digit_v: 0.001,
    }
}

/// What a log holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Holds {
    Current,
    CurrentAndCell,
    Strip,
    CurrentAndStrip,
}

pub(crate) fn strip_tap() -> Tap {
    let prop = prop();
    let strip = prop.parts.iter().position(|p| p.name == "strip").unwrap();
    ((strip, Pin::RailPlus(0)), (strip, Pin::RailMinus(0)))
}

pub(crate) fn logs(
    hidden: &Hidden,
    levels: &[Vec<u8>],
    holds: &[Holds],
    rng: &mut Rng,
) -> Vec<Log> {
    let silent: Vec<(Vec<u8>, f64)> = levels.iter().map(|l| (l.clone(), 0.0)).collect();
    let truth = hidden.bench().play(&silent, PERIOD_S);
    let length_s = truth.len() as f64 * PERIOD_S;
    let each = holds.iter().enumerate().map(|(k, holds)| {
        let lag_s = hidden.of(&What::Lag(k));
        let samples = meter(lag_s, length_s, hidden.zero_a).log(&truth, PERIOD_S, rng);
        let take = |f: &dyn Fn(&Sample) -> f64| samples.iter().map(f).collect::<Vec<f64>>();
        let current = *holds != Holds::Strip;
        let at_strip = matches!(holds, Holds::Strip | Holds::CurrentAndStrip);
        Log {
            measured: Measured {
                name: format!("log {k}"),
                time_s: take(&|s| s.0),
                current_a: if current { take(&|s| s.1) } else { Vec::new() },
                voltage_v: match holds {
                    Holds::Current => Vec::new(),
                    Holds::CurrentAndCell => take(&|s| s.2),
                    _ => take(&|s| s.3),
                },
                interval_s: 0.02,
                notes: Vec::new(),
                ..Measured::default()
            },
            play: 0,
            tap: at_strip.then(strip_tap),
        }
    });
    each.collect()
}

pub(crate) fn fit(
    hidden: &Hidden,
    levels: &[Vec<u8>],
    holds: &[Holds],
    wanted: Option<Wanted>,
    seed: u64,
) -> Calibration {
    let logs = logs(hidden, levels, holds, &mut Rng(seed));
    let circumstances = Circumstances {
        condition: Condition::nominal(),
        speaker: false,
        wanted,
    };
    calibrate(&prop(), &[frames(levels)], &logs, circumstances).unwrap()
}

pub(crate) const ALL: [usize; 7] = [1, 2, 4, 3, 6, 5, 7];
