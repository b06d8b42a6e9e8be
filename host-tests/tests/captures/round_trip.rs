//! Frames, written as a pattern and decoded again, are the same; beyond the limits what differs is reported.

use super::wires::{lines_of, prop};
use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::build::prop::Prop;
use lampwright::profile::capture::vcd::VcdReader;
use lampwright::profile::capture::{
    decode, render, signal_names, DecodeOptions, Decoded, RenderOptions, Signals,
};
use lampwright::profile::{Chunk, FrameStream, Played, Recorded, RecordedFormat, RecordedOptions};
use lampwright::study::bit_timing::bit_timing;
use lampwright::study::verdict::Verdict;
use lampwright_model::{Channels, Engine, Layout};
use proptest::prelude::*;
use std::io::Cursor;
use std::path::Path;

/// Frames that are known in advance, 50 a second.
fn stream(prop: &Prop, frames: &[Vec<u8>]) -> Recorded {
    let channels = match prop.frame_channels() {
        4 => Channels::Rgbw,
        _ => Channels::Rgb,
    };
    let layout = Layout {
        pixels: prop.pixels() as u16,
        channels,
    };
    let options = RecordedOptions {
        format: Some(RecordedFormat::Raw),
        rate_hz: Some(50.0),
        ..RecordedOptions::new(layout)
    };
    Recorded::from_reader("frames", Box::new(Cursor::new(frames.concat())), &options).unwrap()
}

fn pattern(prop: &Prop, frames: &[Vec<u8>], jitter: f64, seed: u32) -> Vec<u8> {
    let options = RenderOptions {
        from_s: 0.0,
        length_s: 1e9,
        jitter,
        seed,
    };
    let mut out = Vec::new();
    let rendered = render(
        &mut stream(prop, frames),
        &lines_of(prop),
        options,
        &mut out,
    )
    .unwrap();
    assert_eq!(rendered.frames, frames.len() as u64);
    out
}

fn read(prop: &Prop, dump: Vec<u8>) -> (Decoded, Vec<Vec<u8>>) {
    let lines = lines_of(prop);
    let signals: Vec<Signals> = lines
        .iter()
        .map(|l| {
            let (data, clock) = signal_names(l);
            Signals { data, clock }
        })
        .collect();
    let vcd = VcdReader::new("pattern.vcd", Box::new(Cursor::new(dump))).unwrap();
    let length = prop.pixels() as usize * prop.frame_channels();
    let mut frames = Vec::new();
    let none = DecodeOptions::default();
    let found = decode(vcd, &lines, &signals, length, none, |_, l| {
        frames.push(l.to_vec())
    });
    (found.unwrap(), frames)
}

/// Every `nth` frame of a preset, at most `most` of them.
fn some_frames(stream: &mut dyn FrameStream, nth: u64, most: usize) -> Vec<Vec<u8>> {
    let mut chunk = Chunk::new();
    let mut out = Vec::new();
    while stream.fill(&mut chunk, 256).unwrap() > 0 {
        let each = chunk.frames().filter(|(meta, _)| meta.index % nth == 0);
        out.extend(each.map(|(_, levels)| levels.to_vec()));
    }
    out.truncate(most);
    out
}

#[test]
fn every_demo_preset_comes_back_the_same_up_to_the_limits() {
    let mut presets = 0;
    for name in ["lantern-staff", "stage-torch"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../traces")
            .join(name);
        let prop = read_prop(&folder, &Choice::default()).unwrap();
        for preset in read_presets(&folder, &Choice::default(), &prop).unwrap() {
            presets += 1;
            let engine = Engine::new(&preset.file.preset).unwrap();
            let rate = f64::from(preset.file.preset.frame_rate_hz);
            let mut played = Played::new(engine, &preset.cues[0], rate);
            let frames = some_frames(&mut played, 149, 60);
            assert!(
                frames.iter().any(|f| f.iter().any(|l| *l > 0)),
                "{}",
                preset.name
            );
            for (jitter, seed) in [(0.0, 1), (0.5, 2), (1.0, 3), (1.0, 4)] {
                let (found, back) = read(&prop, pattern(&prop, &frames, jitter, seed));
                assert!(back == frames, "{} at jitter {jitter}", preset.name);
                assert_eq!(found.rounds.left_out, 0);
                for check in bit_timing(&found) {
                    let fine = check.margin.is_some_and(|m| m >= 0.0);
                    assert!(fine, "{} at jitter {jitter}: {check:?}", preset.name);
                }
            }
            let (found, back) = read(&prop, pattern(&prop, &frames, 1.3, 5));
            assert!(back.len() < frames.len());
            let fails = bit_timing(&found)
                .iter()
                .any(|c| c.verdict == Verdict::Fails);
            assert!(fails, "{}", preset.name);
        }
    }
    assert_eq!(presets, 6);
}

const TYPES: [&str; 7] = [
    "ws2812b",
    "ws2812-2020",
    "ws2813a",
    "sk6812rgbw",
    "sk6812-2020-12ma",
    "sk9822-ec20",
    "apa102",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_frames_of_any_type_come_back_the_same(
        kind in 0..TYPES.len(), pixels in 1..30usize, seed: u32, jitter in 0.0..=1.0f64, levels: Vec<u8>
    ) {
        let prop = prop(TYPES[kind], pixels, "");
        let length = pixels * prop.frame_channels();
        let frames: Vec<Vec<u8>> = (0..4)
            .map(|f| (0..length).map(|k| levels.get((k * 7 + f * 3) % levels.len().max(1)).copied().unwrap_or(90)).collect())
            .collect();
        let (found, back) = read(&prop, pattern(&prop, &frames, jitter, seed));
        prop_assert_eq!(back, frames);
        prop_assert_eq!(found.lines[0].refused(), 0);
    }

    /// Beyond the limits a frame may be lost, but it is never another one, and whatever is beyond is reported.
    #[test]
    fn beyond_the_limits_nothing_is_guessed(kind in 0..5usize, seed: u32, jitter in 1.05..1.5f64) {
        let prop = prop(TYPES[kind], 12, "");
        let length = 12 * prop.frame_channels();
        let frames: Vec<Vec<u8>> = (0..6u8).map(|f| (0..length).map(|k| (k as u8).wrapping_mul(37) ^ f).collect()).collect();
        let (found, back) = read(&prop, pattern(&prop, &frames, jitter, seed));
        let mut rest = frames.iter();
        for frame in &back {
            prop_assert!(rest.any(|f| f == frame), "a frame that was never sent");
        }
        prop_assert_eq!(found.lines[0].refused() as usize, frames.len() - back.len());
        prop_assert!(bit_timing(&found).iter().any(|c| c.verdict == Verdict::Fails));
    }
}

#[test]
fn the_same_seed_gives_the_same_file() {
    let prop = prop("ws2812b", 5, "");
    let frames = vec![vec![7; 15], vec![200; 15]];
    assert_eq!(
        pattern(&prop, &frames, 1.0, 9),
        pattern(&prop, &frames, 1.0, 9)
    );
    assert_ne!(
        pattern(&prop, &frames, 1.0, 9),
        pattern(&prop, &frames, 1.0, 10)
    );
}

/// What a logic analyser with samples every 1/24 µs makes of a dump in ns: each change moves to the next sample.
fn sampled(dump: &[u8]) -> Vec<u8> {
    let text = std::str::from_utf8(dump).unwrap();
    let each = text.lines().map(|line| match line.strip_prefix('#') {
        Some(time) => {
            let samples = (time.parse::<u64>().unwrap() * 24).div_ceil(1000);
            format!("#{}\n", samples * 1000 / 24)
        }
        None => format!("{line}\n"),
    });
    each.collect::<String>().into_bytes()
}

#[test]
fn a_common_analyser_is_fast_enough() {
    for kind in ["ws2812b", "sk6812rgbw", "sk6812-2020-12ma"] {
        let prop = prop(kind, 20, "");
        let length = 20 * prop.frame_channels();
        let frames: Vec<Vec<u8>> = (0..5u8)
            .map(|f| {
                (0..length)
                    .map(|k| (k as u8).wrapping_mul(29) ^ f)
                    .collect()
            })
            .collect();
        let (found, back) = read(&prop, sampled(&pattern(&prop, &frames, 0.2, 3)));
        assert!(back == frames, "{kind}: {:?}", found.lines[0].faults);
    }
}
