//! `check --html`: one file that needs nothing else.

use super::bench::{demo, Bench};

/// What lies between two marks, each time they occur.
fn between<'a>(text: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    let pieces = text.split(from).skip(1);
    pieces.filter_map(|p| p.split(to).next()).collect()
}

#[test]
fn the_page_of_the_demo_is_whole_and_small_and_asks_for_nothing() {
    let bench = Bench::new();
    let prop = demo("lantern-staff");
    let ran = bench.run(&["check", &prop, "--html", "page.html"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let html = std::fs::read_to_string(bench.path("page.html")).unwrap();
    assert!(html.len() < 2_000_000, "{} bytes", html.len());
    assert_eq!(bench.list("."), ["page.html"], "nothing is left beside it");
    // Nothing is fetched: every address is a fragment or a picture in place; names of XML are no addresses.
    for attribute in ["src=\"", " href=\"", "xlink:href=\"", "url("] {
        for address in between(&html, attribute, "\"") {
            let inside = address.starts_with('#') || address.starts_with("data:image/png;base64,");
            assert!(inside, "{attribute}{}", &address[..address.len().min(60)]);
        }
    }
    assert!(html.contains("default-src 'none'"));
    // What can be tried out stands apart from the rest and has names of its own.
    let (before, after) = html.split_once("<template").unwrap();
    let (carried, after) = after.split_once("</template>").unwrap();
    assert!(carried.contains("id=\"cap\""));
    for data in ["try-engine", "try-prop", "try-texts"] {
        assert_eq!(html.matches(&format!("id=\"{data}\"")).count(), 1, "{data}");
    }
    let own = format!("{before}{after}");
    for id in [
        "verdicts", "try", "presets", "diagram", "cut", "joints", "bench", "inputs", "unknown",
    ] {
        assert_eq!(own.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
    for name in [
        "chalk-noon",
        "cinder-road",
        "marsh-lantern",
        "quiet-harbour",
    ] {
        assert!(html.contains(&format!("data-preset=\"{name}\"")), "{name}");
        assert!(html.contains(&format!("presets/{name}.toml")), "{name}");
    }
    // The build file is in it, and no path of this machine.
    let build = std::fs::read_to_string(format!("{prop}/build.toml")).unwrap();
    let marked = build.lines().filter(|l| l.starts_with("[parts."));
    for line in marked {
        assert!(html.contains(line), "{line}");
    }
    assert!(!html.contains(&prop), "a path of this machine");
    for caution in ["Lithium cells", "seizures", "Local codes"] {
        assert!(html.contains(caution), "{caution}");
    }
}

#[test]
fn names_that_look_like_markup_stay_text() {
    let bench = Bench::new();
    let torch = demo("stage-torch");
    let build = std::fs::read_to_string(format!("{torch}/build.toml")).unwrap();
    let text = build.replace(
        "name = \"Stage torch\"",
        "name = \"<script>alert(1)</script>\"",
    );
    bench.write("build.toml", text);
    let preset = format!("{torch}/presets/winter-bell.toml");
    let cues = format!("{torch}/cues/second-act.csv");
    let ran = bench.run(&[
        "check",
        ".",
        "--preset",
        &preset,
        "--cues",
        &cues,
        "--html",
        "page.html",
    ]);
    assert!(ran.code <= 1, "{}", ran.err);
    let html = std::fs::read_to_string(bench.path("page.html")).unwrap();
    assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
    assert_eq!(html.matches("<script>").count(), 2, "only its own");
    assert!(
        !html.contains("<script>alert"),
        "nor in what its engine reads"
    );
}

#[test]
fn a_pipe_cannot_be_made_a_page_and_a_missing_folder_is_found_before_the_work() {
    let bench = Bench::new();
    let prop = demo("stage-torch");
    let ran = bench.run_with(
        &["check", &prop, "--frames", "-", "--html", "page.html"],
        b"",
    );
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("write the frames to a file"),
        "{}",
        ran.err
    );
    let ran = bench.run(&["check", &prop, "--html", "nowhere/page.html"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("nowhere/page.html"), "{}", ran.err);
}
