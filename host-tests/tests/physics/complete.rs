//! A complete build leaves no check unchecked.

use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::profile::Played;
use lampwright::study::verdict::Verdict;
use lampwright::study::watch::watch;
use lampwright_model::{CueKind, Engine};
use std::path::{Path, PathBuf};

/// Every check that a play of a preset can give.
const EVERY_CHECK: [&str; 19] = [
    "board-supply",
    "cell-continuous",
    "cell-pulse",
    "cell-temperature",
    "contact-current",
    "data-level",
    "flash-rate",
    "frame-time",
    "fuse-hold",
    "pixel-supply",
    "polarity",
    "protection-trip",
    "rail-current",
    "response-time",
    "rise-fall-time",
    "runtime",
    "touch-temperature",
    "wire-current",
    "wire-drop",
];

fn folder(prop: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../traces")
        .join(prop)
}

fn nothing_is_left_unchecked(folder: &Path) {
    let choice = Choice::default();
    let prop = read_prop(folder, &choice).unwrap();
    for preset in read_presets(folder, &choice, &prop).unwrap() {
        let engine = Engine::new(&preset.file.preset).unwrap();
        let rate = f64::from(preset.file.preset.frame_rate_hz);
        let mut played = Played::new(engine, &preset.cues[0], rate);
        let results = watch(&prop, Some(&preset.file.preset), &mut played, &|_| {}).unwrap();
        let not: Vec<String> = results
            .iter()
            .filter(|r| r.verdict == Verdict::NotChecked)
            .map(|r| format!("{} {:?}: {}", r.id, r.part, r.why))
            .collect();
        assert!(not.is_empty(), "{}: {not:#?}", preset.name);
        for id in EVERY_CHECK {
            assert!(
                results.iter().any(|r| r.id == id),
                "{}: no {id}",
                preset.name
            );
        }
    }
}

#[test]
fn the_demo_props_are_complete() {
    for prop in ["lantern-staff", "stage-torch"] {
        nothing_is_left_unchecked(&folder(prop));
    }
}

#[test]
fn the_demo_props_have_sounds_of_their_own() {
    for (name, kind) in [
        ("lantern-staff", CueKind::Knock),
        ("stage-torch", CueKind::ShortPress),
    ] {
        let prop = read_prop(&folder(name), &Choice::default()).unwrap();
        let trace = prop.sound.traces.iter().find(|t| t.cue == kind).unwrap();
        assert!(trace.level(0.0).unwrap() > 0.5, "{name}");
    }
}

#[test]
fn a_faulty_sound_is_told_with_file_line_and_mend() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(super::complete::folder("stage-torch").join("build.toml"));
    std::fs::write(folder.path().join("build.toml"), text.unwrap()).unwrap();
    std::fs::create_dir(folder.path().join("sounds")).unwrap();
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join("sounds").join(name), text).unwrap();
    };
    write("knock.csv", "time_s,level\n0,1\n0.5,2\n1,0\n");
    write("swng.csv", "time_s,level\n0,1\n1,0\n");
    let errors = read_prop(folder.path(), &Choice::default()).unwrap_err();
    let told = format!("{errors:?}");
    assert_eq!(errors.0.len(), 2, "{told}");
    let (file, line, _) = errors.0[0].location().unwrap();
    assert!(file.ends_with("knock.csv") && line == 3, "{told}");
    assert!(
        errors.0[1].help.as_deref().unwrap().contains("swing.csv"),
        "{told}"
    );
}
