//! Parts of the user's own: made from a template or from options, found before those that ship, told in every report.

use crate::bench::{Bench, Ran};
use serde_json::Value;

/// A toggle switch that reads well. `common practice` for its figures: it is invented.
const TOGGLE: &str = r#"[my-toggle]
kind = "switch"
title = "toggle switch, 3 A, invented"
resistance = { value = "15 mΩ", low = "8 mΩ", high = "40 mΩ", source = "invented, for a test" }
rating = { value = "3 A", source = "invented, for a test" }
"#;

/// A bench with a lamp, and the user's folder `mine`.
fn bench() -> Bench {
    let bench = Bench::new();
    assert_eq!(bench.run(&["new", "lamp"]).code, 0);
    bench
}

fn mine(bench: &Bench, args: &[&str]) -> Ran {
    bench.run_in(args, &[("LAMPWRIGHT_PARTS", "mine")])
}

/// Has the lamp's switch stand on another entry.
fn with_switch(bench: &Bench, id: &str) {
    let path = bench.path("lamp/build.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains("switch-toggle-5a"));
    std::fs::write(path, text.replace("switch-toggle-5a", id)).unwrap();
}

fn add_toggle(bench: &Bench) {
    bench.write("toggle.toml", TOGGLE);
    let ran = bench.run(&["parts", "add", "toggle.toml", "--parts", "mine"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(bench.list("mine"), ["my-toggle.toml"]);
}

fn check(bench: &Bench) -> Value {
    let ran = mine(bench, &["check", "lamp", "--format", "json"]);
    assert!(ran.code <= 1, "{}", ran.err);
    serde_json::from_str(&ran.out).unwrap()
}

fn switch_limit(checks: &Value) -> f64 {
    let results = checks["checks"].as_array().unwrap();
    let found = results
        .iter()
        .find(|c| c["id"] == "contact-current" && c["part"].as_str().unwrap().contains("switch"));
    found.unwrap()["limit"].as_f64().unwrap()
}

#[test]
fn a_template_is_filled_in_added_and_built_on() {
    let bench = bench();
    let ran = bench.run(&["parts", "template", "switch", "--out", "toggle.toml"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    // As it stands it is refused, line by line, and nothing is written.
    let ran = bench.run(&["parts", "add", "toggle.toml", "--parts", "mine"]);
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(ran.err.contains("toggle.toml:8:"), "{}", ran.err);
    assert!(ran.err.contains("is not filled in"), "{}", ran.err);
    assert!(!bench.path("mine").exists());
    let text = std::fs::read_to_string(bench.path("toggle.toml")).unwrap();
    let text = text
        .replace("my-switch", "my-toggle")
        .replace("\"? mΩ\"", "\"10 mΩ\"")
        .replace("\"? A\"", "\"3 A\"")
        .replace("\"?\"", "\"invented sheet, page 1\"");
    bench.write("toggle.toml", text);
    let ran = bench.run(&["parts", "add", "toggle.toml", "--parts", "mine"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    with_switch(&bench, "my-toggle");
    assert_eq!(switch_limit(&check(&bench)), 3.0);
}

#[test]
fn every_kind_has_a_template() {
    let bench = Bench::new();
    let kinds = [
        "pixel",
        "wire",
        "cell",
        "switch",
        "contact",
        "connector",
        "button",
        "fuse",
        "protection",
        "board",
        "strip",
        "capacitor",
        "resistor",
        "diode",
        "supply",
    ];
    for kind in kinds {
        let ran = bench.run(&["parts", "template", kind]);
        assert_eq!(ran.code, 0, "{kind}: {}", ran.err);
        assert!(
            ran.out.contains(&format!("kind = \"{kind}\"")),
            "{}",
            ran.out
        );
    }
}

#[test]
fn options_make_an_entry_with_its_source_at_every_figure() {
    let bench = bench();
    let ran = bench.run(&[
        "parts",
        "add",
        "--id",
        "my-toggle",
        "--kind",
        "switch",
        "--title",
        "toggle switch, 3 A",
        "--source",
        "invented sheet, page 1",
        "--set",
        "resistance=15 mΩ",
        "--set",
        "resistance.high=40 mΩ",
        "--set",
        "rating=3 A",
        "--parts",
        "mine",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let shown = mine(&bench, &["parts", "my-toggle", "--format", "json"]);
    let shown: Value = serde_json::from_str(&shown.out).unwrap();
    let part = &shown["parts"][0];
    assert_eq!(
        (&part["origin"], &part["shadowed"]),
        (&"user".into(), &false.into())
    );
    for (key, value) in [("resistance", "15 mΩ"), ("rating", "3 A")] {
        assert_eq!(part["values"][key]["value"], value);
        assert_eq!(part["values"][key]["source"], "invented sheet, page 1");
    }
    with_switch(&bench, "my-toggle");
    assert_eq!(switch_limit(&check(&bench)), 3.0);
}

#[test]
fn an_entry_like_another_keeps_the_sources_of_what_is_not_set() {
    let bench = Bench::new();
    let ran = bench.run(&[
        "parts",
        "add",
        "--id",
        "my-cell",
        "--like",
        "18650-nmc811-3-4ah",
        "--title",
        "18650 of one lot, as measured",
        "--source",
        "own bench, invented",
        "--set",
        "capacity=3.1 Ah",
        "--parts",
        "mine",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let shown = mine(&bench, &["parts", "my-cell"]).out;
    assert!(shown.contains("3.1 Ah"), "{shown}");
    assert!(shown.contains("source: own bench, invented"), "{shown}");
    assert!(shown.contains("PyBaMM"), "{shown}");
}

#[test]
fn nothing_is_overwritten_unless_it_is_said() {
    let bench = bench();
    add_toggle(&bench);
    let before = std::fs::read(bench.path("mine/my-toggle.toml")).unwrap();
    bench.write("toggle.toml", TOGGLE.replace("15 mΩ", "16 mΩ"));
    let again = bench.run(&["parts", "add", "toggle.toml", "--parts", "mine"]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("is there already"), "{}", again.err);
    assert_eq!(
        std::fs::read(bench.path("mine/my-toggle.toml")).unwrap(),
        before
    );
    assert_eq!(bench.list("mine"), ["my-toggle.toml"]);
    let said = bench.run(&[
        "parts",
        "add",
        "toggle.toml",
        "--replace",
        "--parts",
        "mine",
    ]);
    assert_eq!(said.code, 0, "{}", said.err);
    let now = std::fs::read_to_string(bench.path("mine/my-toggle.toml")).unwrap();
    assert!(now.contains("16 mΩ"));
    // An id that ships needs the same word, since every prop would read otherwise.
    bench.write("five.toml", TOGGLE.replace("my-toggle", "switch-toggle-5a"));
    let shipped = bench.run(&["parts", "add", "five.toml", "--parts", "mine"]);
    assert_eq!(shipped.code, 2);
    assert!(
        shipped.err.contains("ships with the program"),
        "{}",
        shipped.err
    );
}

#[test]
fn what_stands_in_for_a_shipped_part_is_told_everywhere() {
    let bench = bench();
    bench.write("five.toml", TOGGLE.replace("my-toggle", "switch-toggle-5a"));
    let ran = bench.run(&["parts", "add", "five.toml", "--replace", "--parts", "mine"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.out.contains("stands in for the one that ships"),
        "{}",
        ran.out
    );
    let listed = mine(&bench, &["parts", "switch"]).out;
    let lines: Vec<&str> = listed
        .lines()
        .filter(|l| l.contains("switch-toggle-5a "))
        .collect();
    assert_eq!(lines.len(), 2, "{listed}");
    assert!(
        lines[0].contains("yours: mine/switch-toggle-5a.toml"),
        "{listed}"
    );
    assert!(lines[1].contains("not used"), "{listed}");
    let checked = check(&bench);
    assert_eq!(switch_limit(&checked), 3.0);
    let own = &checked["own_parts"][0];
    assert_eq!(own["id"], "switch-toggle-5a");
    assert_eq!(
        (&own["origin"], &own["shadows"]),
        (&"user".into(), &true.into())
    );
    assert_eq!(own["sha256"].as_str().unwrap().len(), 64);
    // The shipped one is found where the folder is left out.
    let plain = bench.run(&["check", "lamp", "--format", "json"]);
    let plain: Value = serde_json::from_str(&plain.out).unwrap();
    assert_eq!(switch_limit(&plain), 5.0);
    assert_eq!(plain["own_parts"], Value::Array(Vec::new()));
    let text = mine(&bench, &["check", "lamp"]);
    assert!(
        text.out.contains("your own, outside of the prop's folder"),
        "{}",
        text.out
    );
    assert!(
        text.err.contains("lampwright parts keep lamp"),
        "{}",
        text.err
    );
}

#[test]
fn a_prop_that_keeps_its_parts_reads_the_same_elsewhere() {
    let bench = bench();
    add_toggle(&bench);
    with_switch(&bench, "my-toggle");
    let here = check(&bench);
    let lost = bench.run(&["check", "lamp"]);
    assert_eq!(lost.code, 2, "without the folder the part is not known");
    let kept = mine(&bench, &["parts", "keep", "lamp"]);
    assert_eq!(kept.code, 0, "{}", kept.err);
    assert_eq!(bench.list("lamp/parts"), ["my-toggle.toml"]);
    let elsewhere = bench.run(&["check", "lamp", "--format", "json"]);
    assert!(elsewhere.code <= 1, "{}", elsewhere.err);
    assert!(elsewhere.err.is_empty(), "{}", elsewhere.err);
    let elsewhere: Value = serde_json::from_str(&elsewhere.out).unwrap();
    assert_eq!(elsewhere["checks"], here["checks"]);
    assert_eq!(elsewhere["own_parts"][0]["origin"], "prop");
    assert_eq!(elsewhere["own_parts"][0]["file"], "parts/my-toggle.toml");
    assert_eq!(
        elsewhere["own_parts"][0]["sha256"],
        here["own_parts"][0]["sha256"]
    );
    // The prop's own comes before the user's.
    bench.write("mine/my-toggle.toml", TOGGLE.replace("\"3 A\"", "\"2 A\""));
    assert_eq!(switch_limit(&check(&bench)), 3.0);
    let again = mine(&bench, &["parts", "keep", "lamp"]);
    assert!(again.out.contains("nothing to keep"), "{}", again.out);
}

#[test]
fn a_page_carries_the_parts_that_its_prop_stands_on() {
    let bench = bench();
    add_toggle(&bench);
    with_switch(&bench, "my-toggle");
    let ran = mine(&bench, &["check", "lamp", "--html", "page.html"]);
    assert!(ran.code <= 1, "{}", ran.err);
    let page = std::fs::read_to_string(bench.path("page.html")).unwrap();
    assert!(page.contains("parts/my-toggle.toml"));
    assert!(
        page.contains("toggle switch, 3 A, invented"),
        "the text stands in the page"
    );
}

#[test]
fn the_folder_is_found_by_option_variable_and_data_home_in_this_order() {
    let bench = Bench::new();
    let data = bench.path("data");
    let data = data.to_str().unwrap();
    for (folder, amps) in [
        ("one", "1 A"),
        ("two", "2 A"),
        ("data/lampwright/parts", "4 A"),
    ] {
        bench.write(
            &format!("{folder}/my-toggle.toml"),
            TOGGLE.replace("\"3 A\"", &format!("\"{amps}\"")),
        );
    }
    let rating = |args: &[&str], variables: &[(&str, &str)]| {
        let mut all = vec!["parts", "my-toggle"];
        all.extend(args);
        bench.run_in(&all, variables).out
    };
    let home = ("XDG_DATA_HOME", data);
    let two = ("LAMPWRIGHT_PARTS", "two");
    assert!(rating(&["--parts", "one"], &[two, home]).contains("  1 A"));
    assert!(rating(&[], &[two, home]).contains("  2 A"));
    let found = bench.run_without("LAMPWRIGHT_PARTS", &["parts", "my-toggle"], &[home]);
    assert!(found.out.contains("  4 A"), "{}{}", found.out, found.err);
    // Empty means none.
    assert!(!rating(&[], &[home]).contains("my-toggle"));
}

#[test]
fn a_broken_file_among_the_own_parts_is_named_with_its_place() {
    let bench = bench();
    bench.write(
        "mine/a.toml",
        "[my-toggle]\nkind = \"switch\nresistance = 1\n",
    );
    let ran = mine(&bench, &["check", "lamp"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("mine/a.toml:2:"), "{}", ran.err);
    bench.write("mine/a.toml", TOGGLE);
    bench.write("mine/b.toml", TOGGLE);
    let twice = mine(&bench, &["parts"]);
    assert_eq!(twice.code, 2);
    assert!(
        twice.err.contains("stands in mine/a.toml too"),
        "{}",
        twice.err
    );
}
