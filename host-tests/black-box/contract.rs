//! The machine contract: what programs may rely on.

use crate::bench::{demo, Bench, Table};
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn check_json_has_every_promised_field() {
    let ran = Bench::new().run(&["check", &demo("lantern-staff"), "--format", "json"]);
    assert!(ran.code == 0 || ran.code == 1, "{}", ran.err);
    let doc = json(&ran.out);
    assert_eq!(doc["schema"], "lampwright/check/1");
    assert!(doc["prop"].is_string());
    let checks = doc["checks"].as_array().unwrap();
    assert!(checks.len() > 20);
    for check in checks {
        for key in [
            "id", "preset", "verdict", "limit", "worst", "margin", "unit", "part", "time_s", "why",
            "source",
        ] {
            assert!(check.get(key).is_some(), "{key} is missing in {check}");
        }
        let verdict = check["verdict"].as_str().unwrap();
        assert!(["holds", "tight", "fails", "not-checked"].contains(&verdict));
        if verdict == "not-checked" {
            assert!(check["margin"].is_null() && !check["why"].as_str().unwrap().is_empty());
        } else {
            let (limit, worst, margin) = (
                check["limit"].as_f64(),
                check["worst"].as_f64(),
                check["margin"].as_f64(),
            );
            let gap = (limit.unwrap() - worst.unwrap()).abs();
            assert!((gap - margin.unwrap().abs()).abs() < 1e-9, "{check}");
            assert_eq!(margin.unwrap() < 0.0, verdict == "fails", "{check}");
        }
    }
    let failing = checks.iter().any(|c| c["verdict"] == "fails");
    assert_eq!(ran.code, i32::from(failing));
}

#[test]
fn every_check_of_the_design_is_there() {
    let ran = Bench::new().run(&["check", &demo("lantern-staff"), "--format", "json"]);
    let doc = json(&ran.out);
    let ids: Vec<&str> = doc["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["id"].as_str().unwrap())
        .collect();
    for id in [
        "cell-continuous",
        "cell-pulse",
        "protection-trip",
        "fuse-hold",
        "wire-current",
        "wire-drop",
        "contact-current",
        "rail-current",
        "pixel-supply",
        "board-supply",
        "data-level",
        "frame-time",
        "response-time",
        "rise-fall-time",
        "flash-rate",
        "cell-temperature",
        "touch-temperature",
        "runtime",
        "polarity",
    ] {
        assert!(ids.contains(&id), "{id}");
    }
}

#[test]
fn cap_json_names_cap_and_binding_check_and_the_cap_holds() {
    for prop in ["lantern-staff", "stage-torch"] {
        let ran = Bench::new().run(&["cap", &demo(prop), "--quick", "--format", "json"]);
        let doc = json(&ran.out);
        assert_eq!(doc["schema"], "lampwright/cap/1");
        let caps = doc["caps"].as_array().unwrap();
        assert!(!caps.is_empty());
        for cap in caps {
            for key in ["preset", "cap", "binding"] {
                assert!(cap.get(key).is_some(), "{key}");
            }
            assert!(cap["binding"].is_string());
        }
    }
}

#[test]
fn the_cap_holds_and_one_step_more_fails() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    let doc = json(
        &bench
            .run(&["cap", &prop, "--quick", "--format", "json"])
            .out,
    );
    let bound: Vec<&Value> = doc["caps"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["cap"].as_u64() < Some(255))
        .collect();
    assert!(
        !bound.is_empty(),
        "at least one demo preset holds only after capping"
    );
    let first = bound[0];
    let (cap, preset) = (
        first["cap"].as_u64().unwrap(),
        first["preset"].as_str().unwrap(),
    );
    let verdict_at = |cap: u64| {
        let cap = cap.to_string();
        let ran = bench.run(&[
            "check", &prop, "--preset", preset, "--cap", &cap, "--format", "json",
        ]);
        let doc = json(&ran.out);
        let binding = first["binding"].as_str().unwrap();
        doc["checks"].as_array().unwrap().iter().any(|c| {
            c["id"] == binding && c["part"] == first["binding_part"] && c["verdict"] == "fails"
        })
    };
    assert!(!verdict_at(cap));
    assert!(verdict_at(cap + 1));
}

#[test]
fn profile_csv_has_the_promised_columns_in_si() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    let presets = bench_presets(&prop);
    let ran = bench.run(&["profile", &prop, "--preset", &presets[0], "--format", "csv"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let table = Table::parse(&ran.out);
    assert!(table.rows() > 1000);
    for row in [0, table.rows() / 2, table.rows() - 1] {
        assert!(table.number(row, "time_s") >= 0.0);
        let (average, peak) = (
            table.number(row, "cell_current_a"),
            table.number(row, "cell_current_peak_a"),
        );
        assert!(average > 0.0 && peak >= average - 1e-9, "{average} {peak}");
        assert!((2.0..4.3).contains(&table.number(row, "cell_voltage_v")));
        assert!((2.0..4.3).contains(&table.number(row, "board_voltage_v")));
        assert!((1.0..4.3).contains(&table.number(row, "pixel_supply_min_v")));
        assert!((0.0..=1.0).contains(&table.number(row, "soc")));
    }
}

fn bench_presets(prop: &str) -> Vec<String> {
    let entries = std::fs::read_dir(format!("{prop}/presets")).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| {
            e.unwrap()
                .path()
                .file_stem()
                .unwrap()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

#[test]
fn a_build_without_board_leaves_its_columns_empty_not_zero() {
    let bench = Bench::new();
    bench.write("build.toml", include_str!("data/bare.toml"));
    bench.write("frames.rgb", [9u8, 9, 9].repeat(4));
    let ran = bench.run(&["profile", ".", "--frames", "frames.rgb"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(Table::parse(&ran.out).text(0, "board_voltage_v"), "");
    let ran = bench.run(&["profile", ".", "--frames", "frames.rgb", "--format", "json"]);
    let doc = json(&ran.out);
    assert_eq!(doc["schema"], "lampwright/profile/1");
    assert!(doc["frames"][0]["board_voltage_v"].is_null());
    assert!(doc["frames"][0]["cell_current_a"].as_f64().unwrap() > 0.0);
}
