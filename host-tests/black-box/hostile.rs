//! A machine that does not cooperate: full disks, kills, endless files, loops. Nothing is lost, no half file
//! appears under the final name, nothing panics, memory stays bounded.

use crate::bench::Bench;
use std::fs::{self, File};
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

fn lamp() -> Bench {
    let bench = Bench::new();
    assert_eq!(bench.run(&["new", "lamp"]).code, 0);
    bench
}

/// Runs the program from a shell, which can take away what a process usually has. `$L` is the program.
fn shell(bench: &Bench, script: &str) -> Output {
    Command::new("sh")
        .args(["-c", script])
        .current_dir(bench.path("."))
        .env("L", env!("CARGO_BIN_EXE_lampwright"))
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn told(out: &Output) -> String {
    let text = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(!text.contains("panicked"), "{text}");
    text
}

/// Address space of a run with little memory, kilobytes: far below the files that are put before it.
const LITTLE: &str = "ulimit -v 600000;";

#[test]
fn a_full_disk_under_standard_output_is_the_tools_failure() {
    let bench = lamp();
    let out = shell(&bench, "$L profile lamp > /dev/full");
    assert_eq!(out.status.code(), Some(3), "{}", told(&out));
    assert!(told(&out).contains("No space left"), "{}", told(&out));
}

#[test]
fn a_result_that_outgrows_the_disk_leaves_the_old_one_and_no_rubbish() {
    let bench = lamp();
    bench.write("out.csv", "old");
    // A limit on the size of files gives the same refusal in the middle of writing as a full disk does.
    let out = shell(
        &bench,
        "trap '' XFSZ; ulimit -f 64; exec $L profile lamp --out out.csv",
    );
    assert_eq!(out.status.code(), Some(3), "{}", told(&out));
    assert_eq!(fs::read_to_string(bench.path("out.csv")).unwrap(), "old");
    assert_eq!(bench.list("."), ["lamp", "out.csv"]);
}

#[test]
fn a_place_where_nobody_may_write_is_wrong_input() {
    let bench = lamp();
    for place in ["/proc/out.csv", "/sys/out.csv"] {
        let ran = bench.run(&["profile", "lamp", "--out", place]);
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(
            ran.err.contains(place) && ran.err.contains("help"),
            "{}",
            ran.err
        );
    }
}

#[test]
fn a_killed_run_leaves_the_old_result() {
    let bench = lamp();
    bench.write("out.csv", "old");
    // Standard input never ends, so the run is surely in the middle of its frames when it is killed.
    let mut child = Command::new(env!("CARGO_BIN_EXE_lampwright"))
        .args(["profile", "lamp", "--frames", "-", "--out", "out.csv"])
        .current_dir(bench.path("."))
        .stdin(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut pipe, &[9; 72 * 2000]).unwrap();
    let started = Instant::now();
    while bench.list(".").len() < 3 && started.elapsed() < Duration::from_secs(20) {
        std::thread::sleep(Duration::from_millis(20));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(fs::read_to_string(bench.path("out.csv")).unwrap(), "old");
}

#[test]
fn a_reader_that_has_had_enough_is_no_failure() {
    let bench = lamp();
    let out = shell(
        &bench,
        "($L profile lamp; echo code $? >&2) | head -c 100 >/dev/null",
    );
    assert!(told(&out).contains("code 0"), "{}", told(&out));
}

#[test]
fn files_of_four_gigabytes_are_refused_with_little_memory() {
    for name in [
        "lamp/build.toml",
        "lamp/presets/first-light.toml",
        "lamp/cues/walk.csv",
    ] {
        let bench = lamp();
        let file = File::options().write(true).open(bench.path(name)).unwrap();
        file.set_len(4 << 30).unwrap();
        let out = shell(&bench, &format!("{LITTLE} exec $L check lamp"));
        assert_eq!(out.status.code(), Some(2), "{name}: {}", told(&out));
        assert!(told(&out).contains("more than the 64 MB"), "{}", told(&out));
    }
}

#[test]
fn a_file_without_end_is_refused_with_little_memory() {
    let bench = lamp();
    let out = shell(
        &bench,
        &format!("{LITTLE} exec $L check lamp --build /dev/zero"),
    );
    assert_eq!(out.status.code(), Some(2), "{}", told(&out));
    assert!(told(&out).contains("/dev/zero"), "{}", told(&out));
}

#[test]
fn loops_of_links_are_named_and_followed_no_further() {
    let bench = lamp();
    let build = bench.path("lamp/build.toml");
    fs::remove_file(&build).unwrap();
    symlink("build.toml", &build).unwrap();
    let ran = bench.run(&["check", "lamp"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("build.toml: cannot be read"),
        "{}",
        ran.err
    );

    let bench = lamp();
    symlink(".", bench.path("lamp/presets/again")).unwrap();
    symlink("loop.toml", bench.path("lamp/presets/loop.toml")).unwrap();
    let ran = bench.run(&["check", "lamp"]);
    assert_eq!(ran.code, 0, "a link to nothing is no preset: {}", ran.err);
}

#[test]
fn a_result_may_replace_a_link_but_never_what_it_points_at() {
    let bench = lamp();
    bench.write("precious.txt", "precious");
    symlink("precious.txt", bench.path("out.csv")).unwrap();
    assert_eq!(bench.run(&["profile", "lamp", "--out", "out.csv"]).code, 0);
    assert_eq!(
        fs::read_to_string(bench.path("precious.txt")).unwrap(),
        "precious"
    );
    assert!(Path::new(&bench.path("out.csv")).is_file());
}

#[test]
fn a_result_named_like_an_input_does_not_destroy_it() {
    let bench = lamp();
    let before = fs::read_to_string(bench.path("lamp/build.toml")).unwrap();
    let ran = bench.run(&["profile", "lamp", "--out", "lamp/build.toml"]);
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert_eq!(
        fs::read_to_string(bench.path("lamp/build.toml")).unwrap(),
        before
    );
}
