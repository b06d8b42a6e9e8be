//! The wiring desk as a user meets it.

use super::bench::{demo, Bench};

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap_or_else(|e| panic!("{e}: {text}"))
}

fn repository(name: &str) -> String {
    format!("{}/../{name}", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn diagrams_come_as_svg_png_and_pdf_and_nothing_else() {
    let bench = Bench::new();
    let build = repository("host-tests/builds/accents.toml");
    for (name, head) in [
        ("a.svg", &b"<svg"[..]),
        ("a.png", b"\x89PNG"),
        ("a.pdf", b"%PDF-"),
    ] {
        let ran = bench.run(&[
            "wiring",
            ".",
            "--build",
            &build,
            "--out",
            name,
            "--currents",
        ]);
        assert!(ran.code <= 1, "{name}: {}", ran.err);
        let bytes = std::fs::read(bench.path(name)).unwrap();
        assert!(bytes.starts_with(head), "{name}");
    }
    let svg = std::fs::read_to_string(bench.path("a.svg")).unwrap();
    assert!(svg.contains(" A</text>"), "currents are on the wires");
    let ran = bench.run(&["wiring", ".", "--build", &build, "--out", "a.gif"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains(".svg, .png or .pdf"), "{}", ran.err);
}

#[test]
fn findings_have_a_schema_and_an_exit_code() {
    let bench = Bench::new();
    let build = repository("host-tests/builds/one-strip.toml");
    let ran = bench.run(&["wiring", ".", "--build", &build, "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(json(&ran.out)["schema"], "lampwright/wiring/1");
    assert_eq!(json(&ran.out)["findings"].as_array().unwrap().len(), 0);
    let text = std::fs::read_to_string(&build).unwrap();
    bench.write(
        "build.toml",
        text.replace("from = \"fuse.b\"", "from = \"cell.plus\""),
    );
    let ran = bench.run(&["wiring", "."]);
    assert_eq!(ran.code, 1);
    assert!(
        ran.out.contains("no-fuse") && ran.out.contains("why:") && ran.out.contains("mend:"),
        "{}",
        ran.out
    );
}

#[test]
fn the_sheets_come_in_their_formats() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    for (flag, files) in [
        ("--cut-list", &["c.csv", "c.txt", "c.json"][..]),
        ("--joints", &["j.csv", "j.txt", "j.json"]),
        ("--bench", &["b.csv", "b.html", "b.pdf", "b.txt"]),
    ] {
        for file in files {
            let ran = bench.run(&["wiring", &prop, flag, "--out", file]);
            assert_eq!(ran.code, 0, "{flag} {file}: {}", ran.err);
            assert!(
                std::fs::metadata(bench.path(file)).unwrap().len() > 500,
                "{file}"
            );
        }
        let ran = bench.run(&["wiring", &prop, flag]);
        assert_eq!(ran.code, 0);
        let ran = bench.run(&["wiring", &prop, flag, "--out", "x.doc"]);
        assert_eq!(ran.code, 2, "{}", ran.err);
    }
    let html = std::fs::read_to_string(bench.path("b.html")).unwrap();
    assert!(html.contains("Cell out for every resistance") && html.contains("limit"));
}

/// A builder prints the sheet, writes readings into it and asks what they mean.
#[test]
fn readings_typed_into_the_sheet_point_to_the_joint() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    assert_eq!(
        bench
            .run(&["wiring", &prop, "--bench", "--out", "b.csv"])
            .code,
        0
    );
    let sheet = std::fs::read_to_string(bench.path("b.csv")).unwrap();
    // Every resistance as expected, but half an ohm more to all that lies behind wire P4.
    let behind = ["head-plus", "column.plus", "collar.plus", "bulk.plus"];
    let mut lines = sheet.lines().map(str::to_owned).collect::<Vec<_>>();
    for line in lines.iter_mut().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if !cells[0].starts_with('R') {
            continue;
        }
        let to = line
            .split(" ↔ ")
            .nth(1)
            .unwrap_or("")
            .split(',')
            .next()
            .unwrap_or("")
            .to_owned();
        let expected = line.rsplit(',').nth(3).unwrap().to_owned();
        let poor = behind.contains(&to.as_str()) && expected != "open";
        let read = if poor {
            format!("{:.2}", expected.parse::<f64>().unwrap() + 0.5)
        } else {
            expected
        };
        line.push_str(&read);
    }
    bench.write("read.csv", lines.join("\n"));
    let ran = bench.run(&["wiring", &prop, "--judge", "read.csv"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(
        ran.out.contains("1. high-resistance joint on wire P4"),
        "{}",
        ran.out
    );
    bench.write("bad.csv", "row,reading\nR01,lots\nR99,1\n");
    let ran = bench.run(&["wiring", &prop, "--judge", "bad.csv"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("bad.csv:2") && ran.err.contains("bad.csv:3"),
        "{}",
        ran.err
    );
}

#[test]
fn variants_are_compared() {
    let bench = Bench::new();
    let build = repository("host-tests/builds/three-feeds.toml");
    let ran = bench.run(&["compare", ".", "--build", &build, "--format", "json"]);
    assert!(ran.code <= 1, "{}", ran.err);
    let json = json(&ran.out);
    assert_eq!(json["schema"], "lampwright/compare/1");
    let builds = json["builds"].as_array().unwrap();
    assert_eq!(builds.len(), 3);
    let said = builds[1]["differences"].to_string();
    assert!(said.contains("without wire F3"), "{said}");
    // One feed for 72 pixels: less may be drawn than with three.
    let cap = |k: usize| builds[k]["caps"][0]["cap"].as_u64().unwrap();
    assert!(cap(1) < cap(0), "{} against {}", cap(1), cap(0));
    let changes: Vec<f64> = builds[1]["checks"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|p| p["change"].as_f64())
        .collect();
    assert!(changes.iter().any(|c| *c < -0.05), "{changes:?}");
    let ran = bench.run(&[
        "compare",
        ".",
        "--build",
        &repository("host-tests/builds/one-strip.toml"),
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("variant"), "{}", ran.err);
}
