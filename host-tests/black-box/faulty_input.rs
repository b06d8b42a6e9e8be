//! Wrong input: an error or finding that names the place, exit code 2 or 1, and no half-written file.

use crate::bench::{demo, Bench};

const BARE: &str = include_str!("data/bare.toml");

fn bare() -> Bench {
    let bench = Bench::new();
    bench.write("build.toml", BARE);
    bench
}

#[test]
fn a_frame_file_of_a_wrong_length_leaves_the_old_result_untouched() {
    let bench = bare();
    bench.write("frames.rgb", [1u8; 4 * 3 * 2 + 5]);
    bench.write("out.csv", "old");
    let ran = bench.run(&["profile", ".", "--frames", "frames.rgb", "--out", "out.csv"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("frame"), "{}", ran.err);
    assert_eq!(
        std::fs::read_to_string(bench.path("out.csv")).unwrap(),
        "old"
    );
    assert_eq!(bench.list("."), ["build.toml", "frames.rgb", "out.csv"]);
}

#[test]
fn a_piped_frame_that_is_cut_short_is_named() {
    let bench = bare();
    let ran = bench.run_with(
        &["profile", ".", "--frames", "-", "--out", "out.csv"],
        &[7u8; 4 * 3 * 3 + 1],
    );
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains('3') && ran.err.contains("byte"),
        "{}",
        ran.err
    );
    assert!(!bench.path("out.csv").exists());
}

#[test]
fn frames_on_a_pipe_are_profiled() {
    let bench = bare();
    let ran = bench.run_with(&["profile", ".", "--frames", "-"], &[7u8; 4 * 3 * 3]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(ran.out.lines().count(), 4);
}

#[test]
fn numbers_that_are_no_drive_levels_are_refused_with_their_place() {
    for (value, column) in [
        ("NaN", "line"),
        ("256", "line"),
        ("-1", "line"),
        ("1.5", "line"),
    ] {
        let bench = bare();
        let header: Vec<String> = (0..4)
            .flat_map(|p| ["r", "g", "b"].map(|c| format!("{c}{p}")))
            .collect();
        let good = ["0"; 12].join(",");
        let mut bad = ["0"; 12];
        bad[4] = value;
        bench.write(
            "frames.csv",
            format!("{}\n{good}\n{}\n", header.join(","), bad.join(",")),
        );
        let ran = bench.run(&["check", ".", "--frames", "frames.csv"]);
        assert_eq!(ran.code, 2, "{value}: {}", ran.out);
        assert!(
            ran.err.contains("frames.csv:3"),
            "{value} {column}: {}",
            ran.err
        );
    }
}

#[test]
fn an_empty_cue_trace_is_refused() {
    let bench = Bench::new();
    bench.write("empty.csv", "time_s,cue,value\n");
    let cues = bench.path("empty.csv");
    let ran = bench.run(&[
        "check",
        &demo("lantern-staff"),
        "--cues",
        cues.to_str().unwrap(),
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("empty.csv"), "{}", ran.err);
}

#[test]
fn wiring_faults_are_findings_that_name_the_place() {
    let shorted = format!("{BARE}\n[[wires]]\nname = \"bridge\"\nfrom = \"cell.plus\"\nto = \"cell.minus\"\ngauge = \"22 AWG\"\nlength = \"10 mm\"\n");
    let without_cell = "[prop]\nname = \"loop\"\n[parts.s]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = 1\n[[wires]]\nfrom = \"s.plus\"\nto = \"s.minus\"\nresistance = \"1 ohm\"\n".to_owned();
    let unfed = BARE.replace("to = \"s.plus\"", "to = \"s.data-in\"");
    let reversed = BARE
        .replace("to = \"s.plus\"", "to = \"s.X\"")
        .replace("from = \"s.minus\"", "from = \"s.plus\"")
        .replace("s.X", "s.minus");
    for (build, id) in [
        (shorted, "cell-shorted"),
        (without_cell, "no-cell"),
        (unfed, "load-unfed"),
        (reversed, "part-reversed"),
    ] {
        let bench = Bench::new();
        bench.write("build.toml", build);
        bench.write("frames.rgb", [0u8; 12].repeat(2));
        let ran = bench.run(&["check", ".", "--frames", "frames.rgb"]);
        let all = format!("{}{}", ran.out, ran.err);
        assert!(ran.code == 1 || ran.code == 2, "{id}: {} {all}", ran.code);
        assert!(
            all.contains(id) && all.contains("build.toml"),
            "{id}: {all}"
        );
    }
}

#[test]
fn a_unit_of_the_wrong_kind_is_underlined() {
    let bench = Bench::new();
    bench.write("build.toml", BARE.replacen("100 mm", "100 mV", 1));
    let ran = bench.run(&["check", "."]);
    assert_eq!(ran.code, 2);
    for part in ["build.toml:19:10", "measures a voltage", "length"] {
        assert!(ran.err.contains(part), "{part}: {}", ran.err);
    }
}

#[test]
fn missing_things_are_named_with_what_to_do() {
    let bench = bare();
    for (args, word) in [
        (vec!["check", "nowhere"], "does not exist"),
        (vec!["check", "."], "no preset"),
        (vec!["check", ".", "--frames", "nowhere.rgb"], "nowhere.rgb"),
        (
            vec!["check", ".", "--frames", "build.toml", "--cap", "300"],
            "300",
        ),
        (vec!["parts", "ws2812"], "did you mean"),
        (
            vec!["profile", ".", "--frames", "build.toml", "--soc", "120 %"],
            "120",
        ),
        (
            vec![
                "profile",
                ".",
                "--frames",
                "build.toml",
                "--temperature",
                "5 V",
            ],
            "temperature",
        ),
    ] {
        let ran = bench.run(&args);
        assert_eq!(ran.code, 2, "{args:?}");
        assert!(ran.err.contains(word), "{args:?}: {}", ran.err);
    }
}

#[test]
fn new_writes_a_prop_that_checks_and_never_overwrites() {
    let bench = Bench::new();
    let ran = bench.run(&["new", "mine"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let ran = bench.run(&["check", "mine"]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let before = std::fs::read_to_string(bench.path("mine/build.toml")).unwrap();
    let ran = bench.run(&["new", "mine"]);
    assert_eq!(ran.code, 2);
    assert_eq!(
        std::fs::read_to_string(bench.path("mine/build.toml")).unwrap(),
        before
    );
}

#[test]
fn a_result_for_a_folder_that_is_not_there_is_wrong_input() {
    let bench = bare();
    bench.write("frames.rgb", [0u8; 12]);
    let ran = bench.run(&[
        "profile",
        ".",
        "--frames",
        "frames.rgb",
        "--out",
        "no-such-folder/out.csv",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("no-such-folder"));
}
