//! `pack` and `unpack`: what is flashed, and back.

use crate::bench::{demo, Bench};
use serde_json::Value;

#[test]
fn a_demo_prop_is_packed_and_its_presets_come_back_as_they_were() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    let packing = ["pack", &prop, "--cap", "90", "--budget", "1.2 A"];
    let files = ["--out", "staff.lwpk", "--rust", "staff.rs"];
    let ran = bench.run(&[packing.as_slice(), &files].concat());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("--cap 90"), "{}", ran.out);
    assert!(std::fs::read(bench.path("staff.lwpk"))
        .unwrap()
        .starts_with(b"LWPK\x01"));
    let source = std::fs::read_to_string(bench.path("staff.rs")).unwrap();
    assert!(
        source.contains("CAP: u8 = 90;") && source.contains("Some(1200000)"),
        "{source}"
    );

    let ran = bench.run(&["unpack", "staff.lwpk", "--out", "again/presets"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    // Packed once more from the text that came back, the bytes are the same to the last.
    std::fs::copy(format!("{prop}/build.toml"), bench.path("again/build.toml")).unwrap();
    let ran = bench.run(&[
        "pack", "again", "--cap", "90", "--budget", "1200 mA", "-o", "b.lwpk",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let read = |name: &str| std::fs::read(bench.path(name)).unwrap();
    assert_eq!(read("staff.lwpk"), read("b.lwpk"));
}

/// Figures beside their sources: WS2812B-V5 and the board's levels stand in the catalogue with theirs;
/// this checks that they reach the board unchanged and in the right unit.
#[test]
fn the_figures_for_the_board_are_those_of_the_catalogue() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    let ran = bench.run(&["pack", &prop, "-o", "staff.lwpk", "--format", "json"]);
    let doc: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(doc["schema"], "lampwright/pack/1");
    let unpacked = bench.run(&["unpack", "staff.lwpk", "--format", "json"]);
    assert_eq!(serde_json::from_str::<Value>(&unpacked.out).unwrap(), doc);
    let strips = doc["strips"].as_array().unwrap();
    let names: Vec<&str> = strips.iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["column", "collar", "status"]);
    let parts: Value =
        serde_json::from_str(&bench.run(&["parts", "ws2812b", "--format", "json"]).out).unwrap();
    let text = parts.to_string();
    let strip = &strips[0];
    assert_eq!(
        (strip["pixels"].as_u64(), strip["order"].as_str()),
        (Some(96), Some("GRB"))
    );
    for ua in strip["channel_ua"].as_array().unwrap() {
        let ma = ua.as_f64().unwrap() / 1e3;
        assert!(
            text.contains(&format!("{ma} mA")),
            "{ma} mA is not in {text}"
        );
    }
    assert_eq!(strip["channel_ua"].as_array().unwrap().len(), 3);
}

#[test]
fn unpacking_replaces_nothing_and_prints_one_preset_where_asked() {
    let bench = Bench::new();
    let prop = demo("stage-torch");
    let ran = bench.run(&[
        "pack",
        &prop,
        "--out",
        "torch.lwpk",
        "--preset",
        "copper-dusk",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    bench.write("out/copper-dusk.toml", "mine");
    let ran = bench.run(&["unpack", "torch.lwpk", "--out", "out"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("is there already"), "{}", ran.err);
    assert_eq!(bench.list("out"), ["copper-dusk.toml"]);
    assert_eq!(
        std::fs::read(bench.path("out/copper-dusk.toml")).unwrap(),
        b"mine"
    );

    let ran = bench.run(&["unpack", "torch.lwpk", "--preset", "copper-dusk"]);
    assert!(ran.out.starts_with("[preset]\nname = "), "{}", ran.out);
    let ran = bench.run(&["unpack", "torch.lwpk", "--preset", "coper-dusk"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("did you mean \"copper-dusk\"?"),
        "{}",
        ran.err
    );
}

#[test]
fn wrong_input_ends_with_2_and_leaves_no_file() {
    let bench = Bench::new();
    let prop = demo("stage-torch");
    bench.write("old.lwpk", b"LWPK\x00\x00\x00\x00\x00\x00");
    bench.write("noise.bin", [7u8; 50]);
    let cases: [(&[&str], &str); 7] = [
        (&["unpack", "old.lwpk"], "version 0, but only version 1"),
        (&["unpack", "noise.bin"], "does not start with LWPK"),
        (&["unpack", "none.lwpk"], "cannot be read"),
        (&["pack", &prop], "--out <FILE>"),
        (
            &["pack", &prop, "-o", "x.lwpk", "--budget", "1.2"],
            "has no unit",
        ),
        (
            &["pack", &prop, "-o", "x.lwpk", "--budget", "0 A"],
            "must lie from 1 µA",
        ),
        (
            &["pack", &prop, "-o", "x.lwpk", "--preset", "nil"],
            "there is no preset \"nil\"",
        ),
    ];
    for (args, message) in cases {
        let ran = bench.run(args);
        assert_eq!(ran.code, 2, "{args:?}: {}", ran.err);
        assert!(ran.err.contains(message), "{args:?}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
    // One of two files cannot be written: neither is.
    let both = ["pack", &prop, "-o", "x.lwpk", "--rust", "nowhere/x.rs"];
    let ran = bench.run(&both);
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert_eq!(bench.list("."), ["noise.bin", "old.lwpk"]);
}
