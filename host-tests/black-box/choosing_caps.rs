//! `cap`, `sweep`, `merge`, `runtime` and `light` as a user meets them.

use crate::bench::Bench;
use serde_json::Value;

const BUILD: &str = r#"
[prop]
name = "Test wand (invented)"

[usage]
glow = "25 %"

[diffuser]
transmission = "60 %"
distance = "10 mm"
width = "20 mm"

[parts.cell]
kind = "cell"
from = "21700-nmc811-5ah"

[parts.master]
kind = "switch"
from = "switch-toggle-5a"

[parts.s]
kind = "strip"
from = "strip-ws2812b-60"
pixels = 20

[[wires]]
name = "P"
from = "cell.plus"
to = "master.a"
gauge = "26 AWG"
length = "400 mm"

[[wires]]
name = "Q"
from = "master.b"
to = "s.plus"
gauge = "26 AWG"
length = "400 mm"

[[wires]]
name = "N"
from = "s.minus"
to = "cell.minus"
gauge = "26 AWG"
length = "400 mm"
"#;

const PRESET: &str = r##"
[preset]
name = "Glow"
seed = 7
frame-rate = "30 Hz"
cues = ["walk.csv"]
[rise]
time = "200 ms"
[fall]
time = "200 ms"
[controls]
rise-on = "short-press"
fall-on = "long-press"
[zones]
all = ["s"]
[[layers]]
zone = "all"
[layers.paint]
kind = "noise"
stops = [{ at = "0 %", colour = "#ff8020" }, { at = "100 %", colour = "#ffffff" }]
grain = "4 px"
period = "900 ms"
"##;

fn bench() -> Bench {
    let bench = Bench::new();
    bench.write("wand/build.toml", BUILD);
    bench.write("wand/presets/glow.toml", PRESET);
    bench.write(
        "wand/cues/walk.csv",
        "time_s,cue,value\n0.5,short-press,\n18,long-press,\n20,end,\n",
    );
    bench
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|e| panic!("{e}: {text}"))
}

fn sweep(bench: &Bench, more: &[&str]) -> Value {
    let mut args = vec![
        "sweep",
        "wand",
        "--samples",
        "60",
        "--seed",
        "4",
        "--format",
        "json",
    ];
    args.extend(more);
    let ran = bench.run(&args);
    assert!(ran.code <= 1, "{}", ran.err);
    json(&ran.out)
}

fn read(bench: &Bench, name: &str) -> String {
    std::fs::read_to_string(bench.path(name)).unwrap()
}

#[test]
fn a_sweep_that_was_cut_off_anywhere_resumes_to_the_same_file() {
    let bench = bench();
    let whole = sweep(&bench, &["--out", "whole.csv"]);
    assert_eq!(whole["schema"], "lampwright/sweep/1");
    assert_eq!(whole["played"], 60);
    let text = read(&bench, "whole.csv");
    assert_eq!(text.lines().count(), 62);
    for share in [0.05, 0.5, 0.77] {
        // As a kill leaves it: everything up to some byte.
        let cut = (text.len() as f64 * share) as usize;
        bench.write("again.csv.part", &text.as_bytes()[..cut]);
        let again = sweep(&bench, &["--out", "again.csv", "--resume"]);
        assert_eq!(read(&bench, "again.csv"), text);
        assert_eq!(again["outcomes"], whole["outcomes"]);
        std::fs::remove_file(bench.path("again.csv")).unwrap();
    }
    // Another seed is another sweep.
    bench.write("again.csv.part", &text.as_bytes()[..text.len() / 2]);
    let ran = bench.run(&[
        "sweep",
        "wand",
        "--samples",
        "60",
        "--seed",
        "5",
        "--out",
        "again.csv",
        "--resume",
    ]);
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(
        ran.err.contains("another prop, preset, seed"),
        "{}",
        ran.err
    );
}

#[test]
fn shards_merge_to_the_whole() {
    let bench = bench();
    let whole = sweep(&bench, &["--out", "whole.csv"]);
    for (shard, name) in [("1/3", "a.csv"), ("2/3", "b.csv"), ("3/3", "c.csv")] {
        let part = sweep(&bench, &["--shard", shard, "--out", name]);
        assert_eq!(part["played"], 20);
    }
    let ran = bench.run(&[
        "merge",
        "c.csv",
        "a.csv",
        "b.csv",
        "--out",
        "merged.csv",
        "--format",
        "json",
    ]);
    assert!(ran.code <= 1, "{}", ran.err);
    assert_eq!(json(&ran.out)["outcomes"], whole["outcomes"]);
    assert_eq!(read(&bench, "merged.csv"), read(&bench, "whole.csv"));
    assert_eq!(bench.run(&["merge", "a.csv", "a.csv"]).code, 2);
    bench.write("foreign.csv", "time_s,cue\n");
    let ran = bench.run(&["merge", "foreign.csv"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("is not a samples file"), "{}", ran.err);
}

#[test]
fn one_thread_writes_the_bytes_of_many() {
    let bench = bench();
    sweep(&bench, &["--out", "many.csv"]);
    let ran = bench.run_in(
        &[
            "sweep",
            "wand",
            "--samples",
            "60",
            "--seed",
            "4",
            "--out",
            "one.csv",
        ],
        &[("RAYON_NUM_THREADS", "1")],
    );
    assert!(ran.code <= 1, "{}", ran.err);
    assert_eq!(read(&bench, "one.csv"), read(&bench, "many.csv"));
}

#[test]
fn cap_tells_cost_budget_levers_and_map_and_draws_them() {
    let bench = bench();
    // Leads so long that something binds.
    bench.write("wand/build.toml", BUILD.replace("400 mm", "1200 mm"));
    let ran = bench.run(&[
        "cap",
        "wand",
        "--budget",
        "--levers",
        "--map",
        "--picture",
        "levers.svg",
        "--format",
        "json",
    ]);
    assert!(ran.code <= 1, "{}", ran.err);
    let doc = json(&ran.out);
    let cap = &doc["caps"][0];
    assert_eq!(doc["prop_cap"], cap["cap"]);
    assert!(cap["next"].as_array().unwrap().len() <= 3);
    if cap["cap"].as_u64().unwrap() < 255 {
        assert!(cap["light"]["luminous_share"].as_f64().unwrap() < 1.0);
        assert!(doc["budget"]["budget_a"].as_f64().unwrap() > 0.0);
    }
    let map = &doc["maps"][0][1];
    assert_eq!(
        map["caps"].as_array().unwrap().len(),
        map["celsius"].as_array().unwrap().len()
    );
    // An aged cell never allows more than a new one.
    for (new, aged) in doc["maps"][0][0]["caps"]
        .as_array()
        .unwrap()
        .iter()
        .zip(map["caps"].as_array().unwrap())
    {
        for (new, aged) in new.as_array().unwrap().iter().zip(aged.as_array().unwrap()) {
            assert!(aged["cap"].as_i64().unwrap_or(0) <= new["cap"].as_i64().unwrap_or(0));
        }
    }
    for lever in doc["levers"][0].as_array().unwrap() {
        assert!(
            lever["gain"].as_i64().unwrap() > 0 || !lever["mends"].as_array().unwrap().is_empty()
        );
    }
    let changes: Vec<&str> = (doc["levers"][0].as_array().unwrap().iter())
        .filter_map(|l| l["change"].as_str())
        .collect();
    // Few pixels on long thin leads: what smooths their pulses helps.
    assert!(
        changes.iter().any(|c| c.starts_with("capacitor-")),
        "{changes:?}"
    );
    assert!(
        changes.iter().any(|c| c.starts_with("layer ")),
        "{changes:?}"
    );
    assert!(read(&bench, "levers.svg").starts_with("<svg"));
    let every = bench.run(&["cap", "wand", "--every-cap", "--format", "json"]);
    assert_eq!(
        json(&every.out)["caps"],
        doc["caps"],
        "by bound as by playing all"
    );
    let ran = bench.run(&["cap", "wand", "--picture", "map.jpg"]);
    assert_eq!(ran.code, 2);
}

#[test]
fn runtime_and_light_answer_in_text_and_json() {
    let bench = bench();
    let ran = bench.run(&["runtime", "wand", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let doc = json(&ran.out);
    assert_eq!(doc["usage"][0]["share"], 0.25);
    let minutes = doc["runtimes"][0]["ends"][0]["minutes"].as_f64().unwrap();
    assert!(minutes > 60.0, "{minutes}");
    assert!(doc["standby"]["off_hours"].is_null());
    let text = bench.run(&["runtime", "wand"]).out;
    assert!(text.contains("switched on but dark 75 %"), "{text}");
    let doc = json(&bench.run(&["light", "wand", "--format", "json"]).out);
    assert!(doc["presets"][0]["light"]["mean_cd"].as_f64().unwrap() > 0.0);
    let rows = doc["strips"][0]["rows"].as_array().unwrap();
    assert!(rows[0]["unevenness"].as_f64() > rows[1]["unevenness"].as_f64());
    assert!(doc["strips"][0]["uncapped"].is_null());
    let dimmed = json(
        &bench
            .run(&["light", "wand", "--cap", "120", "--format", "json"])
            .out,
    );
    let (full, row) = (
        &dimmed["strips"][0]["uncapped"],
        &dimmed["strips"][0]["rows"][0],
    );
    for figure in ["light_cd_per_m", "white_a_per_m"] {
        assert!(
            full[figure].as_f64() > row[figure].as_f64(),
            "what the cap costs: {figure}"
        );
    }
    for verb in ["runtime", "light"] {
        let ran = bench.run(&[verb, "wand", "--picture", "drawn.svg"]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(read(&bench, "drawn.svg").starts_with("<svg"), "{verb}");
        assert_eq!(bench.run(&[verb, "wand", "--picture", "drawn.jpg"]).code, 2);
    }
    let check = json(&bench.run(&["check", "wand", "--format", "json"]).out);
    let flashes: Vec<&Value> = check["checks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["id"] == "flash-rate")
        .collect();
    assert_eq!(flashes.len(), 3, "general, red and by luminance");
}

#[test]
fn a_usage_that_names_no_preset_or_more_than_the_whole_time_is_refused() {
    let bench = bench();
    bench.write(
        "wand/build.toml",
        BUILD.replace("glow = \"25 %\"", "gloww = \"25 %\""),
    );
    let ran = bench.run(&["runtime", "wand"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("gloww"), "{}", ran.err);
    bench.write(
        "wand/build.toml",
        BUILD.replace("glow = \"25 %\"", "glow = \"60 %\"\noff = \"50 %\""),
    );
    let ran = bench.run(&["runtime", "wand"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("110 %"), "{}", ran.err);
}
