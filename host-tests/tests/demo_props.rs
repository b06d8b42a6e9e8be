//! The demo props: what they are there to show, and that their files stay readable without loss.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::diag::Source;
use lampwright::build::folder::{read_presets, read_prop, Choice, NamedPreset};
use lampwright::build::preset::{read_preset, write_preset, StripMap};
use lampwright::profile::{Chunk, FrameStream, Played};
use lampwright::study::preset_play::PresetPlay;
use lampwright::study::trace::Trace;
use lampwright_model::preset::{Edge, Envelope, Mask, Paint};
use lampwright_model::{CueKind, Engine};
use std::collections::BTreeSet;
use std::mem::{discriminant, Discriminant};
use std::path::{Path, PathBuf};

fn folder(prop: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../traces")
        .join(prop)
}

fn presets(prop: &str) -> (StripMap, Vec<NamedPreset>) {
    let (folder, choice) = (folder(prop), Choice::default());
    let prop = read_prop(&folder, &choice).unwrap();
    let presets = read_presets(&folder, &choice, &prop).unwrap();
    (StripMap::of(&prop), presets)
}

/// The share of full light over the first `pixels` pixels, averaged over the brightest second.
fn brightest_second(preset: &NamedPreset, pixels: usize) -> f64 {
    let engine = Engine::new(&preset.file.preset).unwrap();
    let rate = usize::from(preset.file.preset.frame_rate_hz);
    let mut played = Played::new(engine, &preset.cues[0], rate as f64);
    let mut chunk = Chunk::new();
    let mut best = 0.0_f64;
    while played.fill(&mut chunk, rate).unwrap() > 0 {
        let channels = chunk.frame_len / usize::from(played.layout().pixels);
        let used = pixels * channels;
        let sum: u64 = chunk
            .frames()
            .flat_map(|(_, levels)| &levels[..used])
            .map(|l| u64::from(*l))
            .sum();
        best = best.max(sum as f64 / (255 * used * chunk.len()) as f64);
    }
    best
}

#[test]
fn frames_drawn_alone_are_those_of_the_whole_play() {
    let mut compared = 0;
    for prop in ["lantern-staff", "stage-torch"] {
        for preset in presets(prop).1 {
            let play = PresetPlay {
                name: preset.name.clone(),
                preset: Box::new(preset.file.preset.clone()),
                cues: preset.cues[0].clone(),
            };
            let rate = f64::from(play.preset.frame_rate_hz);
            let engine = Engine::new(&play.preset).unwrap();
            let mut whole = Played::new(engine, &play.cues, rate).with_cap(77);
            let (mut chunk, mut every) = (Chunk::new(), Vec::new());
            while whole.fill(&mut chunk, 500).unwrap() > 0 {
                every.extend(chunk.frames().map(|(m, l)| (*m, l.to_vec())));
            }
            // Close together, far apart, and the last.
            let mut wanted: Vec<u64> = (0..every.len() as u64).step_by(97).collect();
            wanted.extend([3, 4, 5, every.len() as u64 - 1]);
            wanted.sort_unstable();
            wanted.dedup();
            let mut alone = play.only(wanted.clone(), 77).unwrap().unwrap();
            let mut found = 0;
            while alone.fill(&mut chunk, 7).unwrap() > 0 {
                for (meta, levels) in chunk.frames() {
                    let (same, expected) = &every[meta.index as usize];
                    assert_eq!(meta.index, wanted[found], "{}", preset.name);
                    assert_eq!(levels, expected, "{} frame {}", preset.name, meta.index);
                    assert_eq!((meta.state, meta.layers), (same.state, same.layers));
                    assert_eq!((meta.cue, meta.time_s), (same.cue, same.time_s));
                    found += 1;
                    compared += usize::from(levels.iter().any(|l| *l > 0));
                }
            }
            assert_eq!(found, wanted.len(), "{}", preset.name);
        }
    }
    assert!(compared > 300, "{compared} lit frames were compared");
}

#[test]
fn the_props_hold_the_presets_they_are_said_to_hold() {
    for (prop, count) in [("lantern-staff", 4), ("stage-torch", 2)] {
        let (_, presets) = presets(prop);
        assert_eq!(presets.len(), count, "{prop}");
        for preset in &presets {
            assert_eq!(preset.cues.len(), 1, "{}", preset.name);
            let minutes = preset.cues[0].end_ms as f64 / 60_000.0;
            assert!(
                (3.0..=6.0).contains(&minutes),
                "{}: {minutes} min",
                preset.name
            );
        }
    }
}

#[test]
fn one_preset_is_bright_and_one_is_gentle() {
    let (_, presets) = presets("lantern-staff");
    let column = |name: &str| {
        let preset = presets.iter().find(|p| p.name == name).unwrap();
        brightest_second(preset, 96)
    };
    let (bright, gentle) = (column("chalk-noon"), column("quiet-harbour"));
    assert!(bright > 0.75, "{bright}");
    assert!(gentle < 0.15, "{gentle}");
}

#[test]
fn the_demo_presets_use_every_paint_mask_and_envelope() {
    let mut paints: Vec<Discriminant<Paint>> = Vec::new();
    let mut masks: Vec<Discriminant<Mask>> = Vec::new();
    let mut envelopes: Vec<Discriminant<Envelope>> = Vec::new();
    let mut starts = BTreeSet::new();
    let (_, lantern) = presets("lantern-staff");
    let (_, torch) = presets("stage-torch");
    for preset in lantern.iter().chain(&torch) {
        for layer in &preset.file.preset.layers {
            paints.push(discriminant(&layer.paint));
            masks.push(discriminant(&layer.mask));
            envelopes.push(discriminant(&layer.envelope));
            if let Edge::Cue(kind) = layer.start {
                starts.insert(kind.name());
            }
        }
    }
    fn kinds<T>(mut list: Vec<Discriminant<T>>) -> usize {
        let mut seen = Vec::new();
        list.drain(..).for_each(|d| {
            if !seen.contains(&d) {
                seen.push(d);
            }
        });
        seen.len()
    }
    assert_eq!((kinds(paints), kinds(masks), kinds(envelopes)), (7, 5, 4));
    for kind in [
        CueKind::Knock,
        CueKind::Swing,
        CueKind::Twist,
        CueKind::Level,
        CueKind::DoublePress,
        CueKind::LowCell,
    ] {
        assert!(starts.contains(kind.name()), "{kind}");
    }
}

#[test]
fn the_demo_presets_are_written_without_loss() {
    for prop in ["lantern-staff", "stage-torch"] {
        let (map, presets) = presets(prop);
        for preset in presets {
            let text = write_preset(&preset.file.preset, &map, &preset.file.cues);
            let back = read_preset(&Source::new("written", text), &map).unwrap();
            assert_eq!(back.preset, preset.file.preset, "{}", preset.name);
            assert_eq!(back.cues, preset.file.cues, "{}", preset.name);
        }
    }
}
