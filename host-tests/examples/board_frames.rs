//! Scenarios for the emulated boards, and what the host makes of them.
//!
//! `board_frames FOLDER FRAMES RANDOM SEED` writes `in.bin` (the scenarios: every preset of the demo props with its
//! first cue trace, then as many random presets with random cues), `want.raw` (the frames, as the harness plays them),
//! `want.log` (the lines of the log that follow from them) and `names.txt` (name, frames, bytes a frame).
//! The format of `in.bin` is described in `host-tests/firmware/board/src/scenario.rs`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::cues::{CueTrace, TraceCue};
use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::build::pack::{BoardData, PackedPreset, PackedProp, PackedStrip};
use lampwright::profile::board_data::board_data;
use lampwright::profile::{Chunk, FrameStream, Played};
use lampwright::strategies;
use lampwright_host_tests::board::Scenario;
use lampwright_model::limiter::{Limiter, Limits, SagGuard, StripLoad};
use lampwright_model::pack::Link;
use lampwright_model::{Cue, Engine, FrameSource, LayerSet, Layout, Millis, State};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::cell::Cell;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// What the host makes of all scenarios.
#[derive(Default)]
struct Wanted {
    input: Vec<u8>,
    raw: Vec<u8>,
    log: String,
    names: String,
}

/// An engine that keeps the state of its last frame where it can be seen.
struct Seen<'p, 'c>(Engine<'p>, &'c Cell<State>);

impl FrameSource for Seen<'_, '_> {
    type Error = lampwright_model::FrameLength;

    fn layout(&self) -> Layout {
        self.0.layout()
    }
    fn cue(&mut self, at: Millis, cue: Cue) {
        self.0.cue(at, cue);
    }
    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, Self::Error> {
        let state = self.0.render(at, out)?;
        self.1.set(state);
        Ok(state)
    }
    fn set_cap(&mut self, cap: u8) -> bool {
        FrameSource::set_cap(&mut self.0, cap)
    }
    fn active_layers(&self) -> LayerSet {
        self.0.active_layers()
    }
}

/// A scenario on the host.
struct OnHost(Scenario);

impl OnHost {
    /// The frames as the harness plays them, put through the limiter.
    fn play(&self, wanted: &mut Wanted) {
        let preset = self.0.preset();
        let strips: Vec<StripLoad> = self
            .0
            .packed
            .board
            .strips
            .iter()
            .map(|s| s.data().load())
            .collect();
        let brown_out = self.0.packed.board.brown_out_mv.unwrap_or(3000);
        let limits = Limits {
            budget_ua: self.0.packed.budget_ua,
            guard: self.0.cell_mv.map(|_| SagGuard::above(brown_out)),
            ..Limits::none()
        };
        let mut limiter = Limiter::new(&strips, preset.channels.count(), limits);
        let mut cell_mv = self.0.cell_mv;
        let mut log = Log::new(&self.0);
        let mut each = |ms: u32, state: State, mut levels: Vec<u8>| {
            if let Some(mv) = &mut cell_mv {
                limiter.cell_voltage(*mv);
                *mv = mv.saturating_sub(1).max(2800);
            }
            let done = limiter.apply(self.0.origin.plus(ms), &mut levels);
            log.frame(state, done.dimmed());
            wanted.raw.extend(levels);
            wanted.raw.push(state as u8);
            wanted.raw.extend(done.scale.0.to_le_bytes());
        };
        if self.0.slow.is_none() {
            self.play_in_harness(&mut each);
        } else {
            self.play_late(&mut each);
        }
        wanted.input.extend(self.0.bytes());
        wanted.log.push_str(&log.text);
        let len = preset.frame_len() + 3;
        writeln!(wanted.names, "{}\t{}\t{len}", self.0.name, self.0.frames).unwrap();
    }

    /// Through the very stream that the checks look at.
    fn play_in_harness(&self, each: &mut impl FnMut(u32, State, Vec<u8>)) {
        let preset = self.0.preset();
        let rate = f64::from(preset.frame_rate_hz);
        let trace = CueTrace {
            name: String::new(),
            cues: self.0.cues.clone(),
            end_ms: (f64::from(self.0.frames + 2) * 1e3 / rate) as u64 + 1,
        };
        let state = Cell::new(State::Dark);
        let source = Seen(Engine::new(preset).unwrap(), &state);
        let mut played = Played::new(source, &trace, rate)
            .starting_at(self.0.origin)
            .with_cap(self.0.packed.cap);
        let mut chunk = Chunk::default();
        for _ in 0..self.0.frames {
            assert_eq!(played.fill(&mut chunk, 1).unwrap(), 1);
            let (meta, levels) = chunk.frames().next().unwrap();
            each(
                (meta.time_s * 1e3).round() as u32,
                state.get(),
                levels.to_vec(),
            );
        }
    }

    /// With frames left out after slow ones, by the rule of the scheduler: late work shows the newest frame whose
    /// time has come.
    fn play_late(&self, each: &mut impl FnMut(u32, State, Vec<u8>)) {
        let preset = self.0.preset();
        let rate = u64::from(preset.frame_rate_hz);
        let time_of = |frame: u64| (frame as f64 * 1e3 / rate as f64).round() as u64;
        let mut engine = Engine::new(preset).unwrap();
        engine.set_cap(self.0.packed.cap);
        let (every, late_ms) = self.0.slow.unwrap();
        let mut cues = self.0.cues.iter().peekable();
        let (mut now, mut frame) = (0u64, 0u64);
        for number in 0..self.0.frames {
            now = now.max(time_of(frame));
            while time_of(frame + 1) <= now {
                frame += 1;
            }
            let due = time_of(frame);
            while let Some(cue) = cues.next_if(|c| c.at_ms <= due) {
                engine.cue(self.0.origin.plus(cue.at_ms as u32), cue.cue);
            }
            let mut levels = vec![0; preset.frame_len()];
            let state = engine
                .render(self.0.origin.plus(due as u32), &mut levels)
                .unwrap();
            each(due as u32, state, levels);
            frame += 1;
            if number % every == every - 1 {
                now += u64::from(late_ms);
            }
        }
    }
}

/// What must stand in the board's log: the beginning of the scenario, every change of state that shows in a frame, and
/// where the limiter takes hold and lets go. Further states may stand between two frames.
struct Log {
    text: String,
    state: State,
    dimmed: bool,
}

impl Log {
    fn new(scenario: &Scenario) -> Self {
        let preset = scenario.preset();
        Self {
            text: format!("play {}: {} pixels\n", preset.name, preset.pixels),
            state: State::Dark,
            dimmed: false,
        }
    }

    fn frame(&mut self, state: State, dimmed: bool) {
        if state != self.state {
            writeln!(self.text, "state {state:?}").unwrap();
        }
        if dimmed != self.dimmed {
            self.text.push_str(if dimmed {
                "limiter: on\n"
            } else {
                "limiter: off\n"
            });
        }
        (self.state, self.dimmed) = (state, dimmed);
    }
}

/// Every preset of the demo props.
fn demos(frames: u32) -> Vec<Scenario> {
    let traces = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces");
    let mut all = Vec::new();
    for folder in ["lantern-staff", "stage-torch"] {
        let folder = traces.join(folder);
        let choice = Choice::default();
        let prop = read_prop(&folder, &choice).unwrap();
        let board = board_data(&prop).unwrap();
        for named in read_presets(&folder, &choice, &prop).unwrap() {
            // One preset a pack: the emulated M0 has 16 KiB of memory for everything.
            let number = all.len() as u32;
            all.push(Scenario {
                name: format!("{}/{}", prop.name, named.name),
                packed: PackedProp {
                    prop: prop.name.clone(),
                    cap: [255, 200, 128][number as usize % 3],
                    budget_ua: [Some(900_000), Some(400_000), None][number as usize % 3],
                    channels: named.file.preset.channels,
                    board: board.clone(),
                    presets: vec![PackedPreset {
                        name: named.name.clone(),
                        preset: named.file.preset.clone(),
                        cues: Vec::new(),
                    }],
                },
                index: 0,
                frames,
                origin: Millis(number.wrapping_mul(0x4000_0000).wrapping_sub(5000)),
                cell_mv: (number % 2 == 1).then_some(3400),
                slow: (number == 2).then_some((90, 47)),
                cues: named
                    .cues
                    .first()
                    .map(|t| t.cues.clone())
                    .unwrap_or_default(),
            });
        }
    }
    all
}

/// A random preset with random cues all along.
fn random(runner: &mut TestRunner, number: u32, frames: u32) -> Scenario {
    fn draw<S: Strategy>(runner: &mut TestRunner, strategy: S) -> S::Value {
        strategy.new_tree(runner).unwrap().current()
    }
    let preset = draw(runner, strategies::preset(&strategies::Ranges::brief()));
    let end_ms = u64::from(frames) * 1000 / u64::from(preset.frame_rate_hz);
    let mut cues = vec![TraceCue {
        at_ms: 0,
        cue: strategies::bare_cue(preset.rise_on),
    }];
    let mut at_ms = 0;
    while at_ms < end_ms {
        at_ms += u64::from(draw(runner, 0..2500u32));
        let cue = match draw(runner, 0..6u8) {
            0 => strategies::bare_cue(preset.rise_on),
            1 => strategies::bare_cue(preset.fall_on),
            _ => draw(runner, strategies::cue()),
        };
        cues.push(TraceCue { at_ms, cue });
    }
    let full: u32 = draw(runner, 1..2000u32) * 1000;
    let strip = PackedStrip {
        name: "made up".into(),
        pixels: preset.pixels,
        order: if preset.channels.count() == 4 {
            "GRBW"
        } else {
            "GRB"
        }
        .into(),
        channel_ua: draw(runner, proptest::array::uniform4(1..20_000u32)),
        dark_ua: draw(runner, 0..1000u32),
        link: Link::Unknown,
    };
    let strip = PackedStrip {
        channel_ua: match preset.channels.count() {
            4 => strip.channel_ua,
            _ => [
                strip.channel_ua[0],
                strip.channel_ua[1],
                strip.channel_ua[2],
                0,
            ],
        },
        ..strip
    };
    Scenario {
        name: format!("random {number}"),
        packed: PackedProp {
            prop: "made up".into(),
            cap: draw(runner, prop_oneof![Just(255u8), any::<u8>()]),
            budget_ua: draw(runner, any::<bool>()).then_some(full),
            channels: preset.channels,
            board: BoardData {
                brown_out_mv: Some(3000),
                strips: vec![strip],
            },
            presets: vec![PackedPreset {
                name: "made-up".into(),
                preset,
                cues: Vec::new(),
            }],
        },
        index: 0,
        frames,
        origin: draw(runner, strategies::start()),
        cell_mv: draw(
            runner,
            prop_oneof![Just(None), (2900..3500u16).prop_map(Some)],
        ),
        slow: draw(
            runner,
            prop_oneof![3 => Just(None), 1 => (5..200u32, 1..500u32).prop_map(Some)],
        ),
        cues,
    }
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().expect("a folder"));
    let mut number = |what: &str| -> u32 {
        let text = arguments
            .next()
            .unwrap_or_else(|| panic!("{what} is missing"));
        text.parse()
            .unwrap_or_else(|_| panic!("{what} is a number, not {text}"))
    };
    let (frames, count, seed) = (number("FRAMES"), number("RANDOM"), number("SEED"));
    let mut bytes = [0; 32];
    bytes[..4].copy_from_slice(&seed.to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let mut wanted = Wanted::default();
    for scenario in demos(frames) {
        OnHost(scenario).play(&mut wanted);
    }
    for n in 0..count {
        OnHost(random(&mut runner, n, frames)).play(&mut wanted);
    }
    std::fs::create_dir_all(&folder).unwrap();
    for (name, bytes) in [
        ("in.bin", &wanted.input[..]),
        ("want.raw", &wanted.raw),
        ("want.log", wanted.log.as_bytes()),
        ("names.txt", wanted.names.as_bytes()),
    ] {
        std::fs::write(folder.join(name), bytes).unwrap();
    }
    println!(
        "{} scenarios, {} bytes of frames",
        wanted.names.lines().count(),
        wanted.raw.len()
    );
}
