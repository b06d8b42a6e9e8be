//! The motion detector on the invented traces in `traces/motion`: every movement put in is told, in time and with its
//! value, and nothing else.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright_model::motion::{Motion, MotionDetector, MotionLimits};
use lampwright_model::{Cue, Millis};
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../traces/motion")
}

/// Rows of a CSV file without its remarks and its header.
fn rows(name: &str) -> Vec<Vec<String>> {
    let text = std::fs::read_to_string(folder().join(name)).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

fn samples(name: &str) -> Vec<(u32, Motion)> {
    let each = |row: Vec<String>| {
        let value = |n: usize| row[n].parse::<f64>().unwrap();
        let mg = |n| value(n) as i16;
        let rate = |n| (value(n) * 16.0) as i16;
        let motion = Motion {
            accel_mg: [mg(1), mg(2), mg(3)],
            rate_16th_dps: [rate(4), rate(5), rate(6)],
        };
        (value(0) as u32, motion)
    };
    rows(&format!("{name}.csv")).into_iter().map(each).collect()
}

/// Time, kind and value (per cent, degrees) of what is told.
fn told(samples: &[(u32, Motion)], origin: u32) -> Vec<(u32, String, f64)> {
    let mut detector = MotionDetector::new(MotionLimits::default());
    let mut all = Vec::new();
    for (ms, motion) in samples {
        for cue in detector.sample(Millis(origin).plus(*ms), *motion) {
            let value = match cue {
                Cue::Knock { strength } => f64::from(strength.0) / 655.35,
                Cue::Swing { speed } => f64::from(speed.0) / 655.35,
                Cue::Twist { angle } => f64::from(angle.0) * 180.0 / 32768.0,
                other => panic!("{other:?}"),
            };
            all.push((*ms, cue.kind().name().to_owned(), value));
        }
    }
    all
}

fn check(name: &str) {
    let samples = samples(name);
    let found = told(&samples, 0);
    println!("{name}: {found:?}");
    let expected: Vec<(f64, f64, String, f64, f64)> = rows(&format!("{name}.cues.csv"))
        .into_iter()
        .map(|row| {
            let n = |k: usize| row[k].parse::<f64>().unwrap();
            (n(0), n(1), row[2].clone(), n(3), n(4))
        })
        .filter(|(_, _, cue, least, most)| {
            // A turn below the threshold is in the trace to be passed over.
            cue != "twist"
                || least.abs().max(most.abs()) > f64::from(MotionLimits::default().twist.least_deg)
        })
        .collect();
    assert_eq!(found.len(), expected.len(), "{name}: {found:?}");
    for ((ms, kind, value), (from, to, cue, least, most)) in found.iter().zip(&expected) {
        assert_eq!(kind, cue, "{name} at {ms} ms");
        let ms = f64::from(*ms);
        assert!(
            ms >= *from && ms <= *to,
            "{name}: {cue} at {ms} ms, not {from}..{to}"
        );
        assert!(
            value >= least && value <= most,
            "{name}: {cue} of {value}, not {least}..{most}"
        );
    }
    // The counter may wrap in the middle.
    assert_eq!(told(&samples, u32::MAX - 2000), found);
}

#[test]
fn strikes_are_knocks() {
    check("staff-on-stone");
}

#[test]
fn swings_are_swings_and_no_knocks() {
    check("greeting-swings");
}

#[test]
fn turns_are_twists() {
    check("torch-turns");
}

#[test]
fn a_walk_is_nothing() {
    assert_eq!(samples("quiet-walk").len(), 1600);
    check("quiet-walk");
}

#[test]
fn movements_are_told_apart_while_walking() {
    check("procession");
}
