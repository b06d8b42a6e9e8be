//! `completions`, `man`, `doctor`: what an installation needs beside the program.

use crate::bench::Bench;
use serde_json::Value;

/// The verbs as `--help` lists them.
fn verbs(bench: &Bench) -> Vec<String> {
    let help = bench.run(&["--help"]).out;
    let list = help.split("Commands:").nth(1).unwrap();
    let list = list.split("Options:").next().unwrap();
    let lines = list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    let words = lines.filter_map(|l| l.split_whitespace().next());
    words.filter(|w| *w != "help").map(str::to_owned).collect()
}

#[test]
fn every_shell_completes_every_verb() {
    let bench = Bench::new();
    let verbs = verbs(&bench);
    assert!(verbs.len() > 10, "{verbs:?}");
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let ran = bench.run(&["completions", shell]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        for verb in &verbs {
            assert!(
                ran.out.contains(verb.as_str()),
                "{shell} does not know {verb}"
            );
        }
    }
    assert_eq!(bench.run(&["completions", "tcsh"]).code, 2);
}

/// bash itself is the outside check: the script is one it can read, and it completes a verb.
#[test]
fn bash_completes_a_verb() {
    let bench = Bench::new();
    bench.write("lampwright.bash", bench.run(&["completions", "bash"]).out);
    let script = "source lampwright.bash && COMP_WORDS=(lampwright unp) COMP_CWORD=1 \
                  && _lampwright lampwright unp lampwright && echo \"${COMPREPLY[@]}\"";
    let ran = std::process::Command::new("bash")
        .args(["-c", script])
        .current_dir(bench.path("."))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&ran.stdout);
    assert_eq!(
        said.trim(),
        "unpack",
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
}

#[test]
fn there_is_a_man_page_for_every_verb() {
    let bench = Bench::new();
    let ran = bench.run(&["man", "--out", "man1"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let mut wanted: Vec<String> = verbs(&bench)
        .iter()
        .map(|v| format!("lampwright-{v}.1"))
        .collect();
    wanted.push("lampwright.1".into());
    wanted.extend(["add", "keep", "template"].map(|task| format!("lampwright-parts-{task}.1")));
    wanted.sort();
    assert_eq!(bench.list("man1"), wanted);
    let page = std::fs::read_to_string(bench.path("man1/lampwright-pack.1")).unwrap();
    for part in [
        ".TH lampwright-pack 1",
        ".SH NAME",
        ".SH SYNOPSIS",
        ".SH OPTIONS",
        "budget",
    ] {
        assert!(page.contains(part), "no {part} in {page}");
    }
}

#[test]
fn doctor_says_that_this_installation_works() {
    let bench = Bench::new();
    let ran = bench.run_in(&["doctor"], &[("LC_ALL", "en_GB.UTF-8")]);
    assert_eq!(ran.code, 0, "{}", ran.out);
    // By hand: 4 − 0.05·0.6 − 0.004·0.01·60·59 = 3.8284 V.
    assert!(
        ran.out.contains("3.828400000 V, by hand 3.828400000 V"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("LC_ALL=en_GB.UTF-8"), "{}", ran.out);
    let plain = bench.run_in(&["doctor", "--format", "json"], &[("LC_ALL", "C")]);
    let doc: Value = serde_json::from_str(&plain.out).unwrap();
    assert_eq!(doc["schema"], "lampwright/doctor/1");
    let findings = doc["findings"].as_array().unwrap();
    assert!(findings.iter().all(|f| f["works"] == true));
    let locale = findings.iter().find(|f| f["what"] == "locale").unwrap();
    assert!(
        locale["says"].as_str().unwrap().contains("not UTF-8"),
        "{locale}"
    );
}
