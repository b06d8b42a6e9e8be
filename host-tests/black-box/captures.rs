//! Captures, patterns and programs as a user meets them.

use crate::bench::{demo, Bench};
use serde_json::Value;

/// Half a second of a preset as a capture, and what was asked of it.
fn pattern(bench: &Bench, prop: &str, preset: &str, jitter: &str) {
    let ran = bench.run(&[
        "pattern",
        &demo(prop),
        "--preset",
        preset,
        "--from",
        "30 s",
        "--length",
        "0.3 s",
        "--jitter",
        jitter,
        "--out",
        "p.vcd",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
}

#[test]
fn a_pattern_is_decoded_into_frames_that_the_other_verbs_take() {
    let bench = Bench::new();
    pattern(&bench, "lantern-staff", "chalk-noon", "100 %");
    let staff = demo("lantern-staff");
    let ran = bench.run(&[
        "decode",
        &staff,
        "--capture",
        "p.vcd",
        "--out",
        "f.csv",
        "--format",
        "json",
    ]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let doc: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(doc["schema"], "lampwright/decode/1");
    let frames = doc["frames"].as_u64().unwrap();
    assert!(frames >= 15, "{frames}");
    assert_eq!(
        doc["lines"]
            .as_array()
            .unwrap()
            .iter()
            .map(|l| l["bursts"].as_u64().unwrap())
            .max(),
        Some(frames)
    );
    let text = std::fs::read_to_string(bench.path("f.csv")).unwrap();
    assert_eq!(text.lines().count() as u64, frames + 1);
    // The frames as a file and straight from the capture draw the same.
    let rate = format!("{}", 1.0 / doc["period_s"].as_f64().unwrap());
    let profile = |args: &[&str]| {
        let all = [
            &["profile", staff.as_str(), "--frame-rate", rate.as_str()],
            args,
        ]
        .concat();
        let ran = bench.run(&all);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    let by_file = profile(&["--frames", "f.csv"]);
    assert_eq!(by_file, profile(&["--capture", "p.vcd"]));
    assert_eq!(by_file.lines().count() as u64, frames + 1);

    let ran = bench.run(&["check", &staff, "--capture", "p.vcd", "--format", "json"]);
    let doc: Value = serde_json::from_str(&ran.out).unwrap();
    let timing: Vec<&Value> = doc["checks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["id"] == "bit-timing")
        .collect();
    assert!(timing.len() >= 6);
    assert!(
        timing
            .iter()
            .all(|c| c["verdict"] != "fails" && c["cues"] == "p.vcd"),
        "{timing:?}"
    );
}

#[test]
fn times_beyond_the_limits_fail_and_say_where() {
    let bench = Bench::new();
    pattern(&bench, "lantern-staff", "quiet-harbour", "130 %");
    let ran = bench.run(&["decode", &demo("lantern-staff"), "--capture", "p.vcd"]);
    assert_eq!(ran.code, 1, "{}", ran.out);
    for words in [
        "refused",
        "neither a 0 nor a 1",
        "fails       bit-timing",
        "limit from: WS2812-2020 data sheet",
    ] {
        assert!(ran.out.contains(words), "{words} in {}", ran.out);
    }
    let ran = bench.run(&[
        "cap",
        &demo("lantern-staff"),
        "--quick",
        "--capture",
        "p.vcd",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("no frame could be decoded"), "{}", ran.err);
}

#[test]
fn signals_are_named_by_line_where_there_are_several() {
    let bench = Bench::new();
    pattern(&bench, "stage-torch", "winter-bell", "0 %");
    let torch = demo("stage-torch");
    let decode = |more: &[&str]| {
        bench.run(&[&["decode", torch.as_str(), "--capture", "p.vcd"], more].concat())
    };
    assert_eq!(decode(&[]).code, 0);
    assert_eq!(
        decode(&[
            "--signal",
            "front=front_data",
            "--signal",
            "back=prop.back_data"
        ])
        .code,
        0
    );
    for (more, words) in [
        (&["--signal", "D0"][..], "the prop has 2 data lines"),
        (&["--signal", "frnot=D0"], "did you mean \"front\"?"),
        (
            &["--signal", "front=frontdata"],
            "did you mean \"front_data\"?",
        ),
        (&["--ignore-below", "30"], "--ignore-below"),
    ] {
        let ran = decode(more);
        assert_eq!(ran.code, 2, "{more:?}");
        assert!(ran.err.contains(words), "{more:?}: {}", ran.err);
    }
    bench.write("q.vcd", "$timescale 1 ns $end\n$var wire 1 ! D0 $end\n$var wire 1 % D1 $end\n$enddefinitions $end\n#0 0! 0%\n#90 0!\n");
    let ran = bench.run(&["decode", &torch, "--capture", "q.vcd"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err
            .contains("which signal carries the data of strip \"front\"?"),
        "{}",
        ran.err
    );
    bench.write(
        "r.vcd",
        "$timescale 1 ns $end\n$var wire 1 ! D0 $end\n$enddefinitions $end\n#0 0!\n#9O 0!\n",
    );
    let ran = bench.run(&[
        "decode",
        &demo("lantern-staff"),
        "--capture",
        "r.vcd",
        "--signal",
        "column=D0",
        "--signal",
        "status=D0",
    ]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("r.vcd:5:1") && ran.err.contains("#9O"),
        "{}",
        ran.err
    );
}

#[cfg(unix)]
#[test]
fn a_program_is_checked_like_a_preset() {
    let bench = Bench::new();
    let staff = demo("lantern-staff");
    let source = demo("own-engine/ember.c");
    let built = std::process::Command::new("cc")
        .args(["-O1", "-o"])
        .arg(bench.path("ember"))
        .arg(&source)
        .status();
    assert!(built.unwrap().success());
    bench.write(
        "short.csv",
        "time_s,cue,value\n0.2,short-press,\n1,knock,1\n2,end,\n",
    );
    let ran = bench.run(&[
        "check",
        &staff,
        "--engine",
        "./ember",
        "--cues",
        "short.csv",
        "--format",
        "json",
    ]);
    let doc: Value = serde_json::from_str(&ran.out).unwrap();
    let checks = doc["checks"].as_array().unwrap();
    let wire = checks.iter().find(|c| c["id"] == "cell-pulse").unwrap();
    assert_eq!(wire["cues"], "short.csv");
    assert!(wire["time_s"].as_f64().unwrap() >= 0.99, "{wire}");
    assert!(wire["cue"].as_str().unwrap().contains("knock"), "{wire}");
    let ran = bench.run(&[
        "cap",
        &staff,
        "--engine",
        "./ember",
        "--cues",
        "short.csv",
        "--format",
        "json",
    ]);
    let doc: Value = serde_json::from_str(&ran.out).unwrap();
    assert!(doc["caps"][0]["cap"].as_u64().unwrap() > 0);

    for (engine, words) in [
        ("./embers", "cannot be started"),
        ("false", "ended (exit status: 1) after 0 of"),
        ("'./ember", "is no command"),
    ] {
        let ran = bench.run(&["check", &staff, "--engine", engine, "--cues", "short.csv"]);
        assert_eq!(ran.code, 2, "{engine}: {}", ran.out);
        assert!(ran.err.contains(words), "{engine}: {}", ran.err);
    }
    let slow = [
        "profile",
        &staff,
        "--engine",
        "sleep 60",
        "--cues",
        "short.csv",
        "--engine-wait",
        "300 ms",
    ];
    let ran = bench.run(&slow);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("gave nothing for 0.3 s"), "{}", ran.err);
}
