//! Programs that make frames while they run: cues reach them, and whatever they do, nothing hangs.
#![cfg(unix)]

use lampwright::build::cues::{read_cues, CueTrace};
use lampwright::build::diag::{InputErrors, Source};
use lampwright::profile::{Chunk, FrameStream, Program, ProgramOptions};
use lampwright_model::{Channels, Layout};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

fn trace(end_s: u32) -> CueTrace {
    let text = format!(
        "time_s,cue,value\n0.1,short-press,\n0.5,knock,80 %\n0.75,twist,-45 deg\n{end_s},end,\n"
    );
    read_cues(&Source::new("t.csv", text)).unwrap()
}

fn options(command: &[&str], pixels: u16) -> ProgramOptions {
    ProgramOptions {
        command: command.iter().map(|s| (*s).to_owned()).collect(),
        layout: Layout {
            pixels,
            channels: Channels::Rgb,
        },
        rate_hz: 50.0,
        cap: u8::MAX,
        wait: Duration::from_millis(1500),
    }
}

fn shell(script: &str) -> ProgramOptions {
    options(&["sh", "-c", script], 2)
}

/// Plays a second of frames.
fn play(options: ProgramOptions) -> Result<Vec<Vec<u8>>, InputErrors> {
    let trace = trace(1);
    let mut program = Program::start(options, &trace)?;
    let mut chunk = Chunk::new();
    let mut out = Vec::new();
    while program.fill(&mut chunk, 16)? > 0 {
        out.extend(chunk.frames().map(|(_, l)| l.to_vec()));
    }
    Ok(out)
}

/// The C example, compiled.
fn ember() -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let program = dir.path().join("ember");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/own-engine/ember.c");
    let done = Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-O1", "-o"])
        .args([&program, &source])
        .output()
        .expect("a C compiler, as Rust's own linking needs one");
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    (dir, program)
}

#[test]
fn the_c_example_follows_the_cues() {
    let text = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/own-engine/ember.c"),
    );
    assert!(text.unwrap().lines().count() <= 40);
    let (_dir, program) = ember();
    let frames = play(options(&[program.to_str().unwrap()], 4)).unwrap();
    assert_eq!(frames.len(), 50);
    let red: Vec<u8> = frames.iter().map(|f| f[0]).collect();
    // Dark before the press at 0.1 s, glowing after it, brighter after the knock at 0.5 s.
    assert!(red[..5].iter().all(|r| *r == 0), "{red:?}");
    assert!((60..=80).contains(&red[24]), "{red:?}");
    assert!(red[26] > 180, "{red:?}");
    assert!(red[49] < red[26], "{red:?}");
}

#[test]
fn the_lines_are_those_that_are_documented() {
    let dir = tempfile::tempdir().unwrap();
    let seen = dir.path().join("seen");
    let script = format!(
        "tee '{}' | grep -c frame | xargs -I N head -c 300 /dev/zero",
        seen.display()
    );
    assert_eq!(play(shell(&script)).unwrap().len(), 50);
    let text = std::fs::read_to_string(seen).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines[..6],
        [
            "start 1 2 3 50",
            "frame 0",
            "frame 20",
            "frame 40",
            "frame 60",
            "frame 80"
        ]
    );
    assert_eq!(lines[6..8], ["cue 100 short-press", "frame 100"]);
    let at = |line: &str| lines.iter().position(|l| *l == line).unwrap();
    assert_eq!(lines[at("cue 500 knock 0.8") + 1], "frame 500");
    // A cue between two frames comes before the later one.
    assert_eq!(lines[at("cue 750 twist -45") + 1], "frame 760");
    assert_eq!(lines.last(), Some(&"frame 980"));
}

#[test]
fn cues_and_a_cap_come_with_the_frames() {
    let trace = trace(1);
    let options = ProgramOptions {
        cap: 51,
        ..shell("while :; do printf '\\144\\144\\144\\144\\144\\144'; done")
    };
    let mut program = Program::start(options, &trace).unwrap();
    let mut chunk = Chunk::new();
    program.fill(&mut chunk, 50).unwrap();
    assert!(chunk.levels.iter().all(|l| *l == 20));
    let meta: Vec<_> = chunk.frames().map(|(m, _)| *m).collect();
    assert_eq!((meta[4].cue, meta[5].cue.unwrap().time_s), (None, 0.1));
    assert_eq!((meta[5].new_cues, meta[6].new_cues), (1, 0));
    assert_eq!(chunk.new_cues(&meta[25])[0].time_s, 0.5);
    assert!(meta.iter().all(|m| m.state.is_none()));
}

#[test]
fn what_a_program_does_wrong_is_said_and_nothing_hangs() {
    let good = "head -c 300 /dev/zero";
    let cases: &[(&str, &str, &[&str])] = &[
        (
            "nothing",
            "exit 0",
            &[
                "ended (exit status: 0) after 0 of 50 frames",
                "6 bytes (2 pixels of 3 channels)",
            ],
        ),
        (
            "a failure",
            "echo no sensor >&2; exit 3",
            &["ended (exit status: 3)", "its last words: no sensor"],
        ),
        (
            "too little",
            "head -c 100 /dev/zero",
            &["after 16 of 50 frames and 4 of 6 bytes of the next"],
        ),
        (
            "killed",
            "head -c 60 /dev/zero; kill -9 $$",
            &["signal: 9", "after 10 of 50 frames"],
        ),
        (
            "silence",
            "exec sleep 60",
            &[
                "gave nothing for 1.5 s, 0 bytes into frame 0",
                "--engine-wait",
            ],
        ),
        (
            "stops halfway",
            "head -c 33 /dev/zero; exec sleep 60",
            &["3 bytes into frame 5"],
        ),
        (
            "a greeting",
            &format!("echo hello; {good}"),
            &[
                "gave 6 bytes more than its 50 frames have",
                "standard error",
            ],
        ),
        (
            "a late failure",
            &format!("{good}; exit 4"),
            &["exit status: 4) after its last frame"],
        ),
        ("no such program", "", &["cannot be started"]),
    ];
    for (what, script, words) in cases {
        let start = Instant::now();
        let options = match *script {
            "" => options(&["./there-is-no-such-program"], 2),
            script => shell(script),
        };
        let errors = play(options).expect_err(what);
        let error = &errors.0[0];
        let text = format!("{error} | {}", error.help.as_deref().unwrap_or("NO HELP"));
        for word in *words {
            assert!(text.contains(word), "{what}: {text}");
        }
        assert!(start.elapsed() < Duration::from_secs(20), "{what}");
    }
    assert!(Program::start(options(&[], 2), &trace(1)).is_err());
    assert!(Program::start(options(&["true"], 0), &trace(1)).is_err());
}

#[test]
fn a_program_may_ignore_its_input_and_never_end() {
    let frames = play(shell("exec cat /dev/zero")).unwrap();
    assert_eq!((frames.len(), frames[49].len()), (50, 6));
    // One that leaves its children holding the pipe is not waited for either.
    let start = Instant::now();
    let frames = play(shell("sleep 30 & head -c 300 /dev/zero")).unwrap();
    assert_eq!(frames.len(), 50);
    assert!(start.elapsed() < Duration::from_secs(20));
}

/// Resident memory of this process, bytes.
#[cfg(target_os = "linux")]
fn resident() -> usize {
    let text = std::fs::read_to_string("/proc/self/statm").unwrap();
    let pages: usize = text.split(' ').nth(1).unwrap().parse().unwrap();
    pages * 4096
}

#[test]
#[cfg(target_os = "linux")]
fn an_hour_from_a_pipe_takes_no_more_memory_than_a_minute() {
    let (_dir, program) = ember();
    let trace = trace(3600);
    let mut program = Program::start(options(&[program.to_str().unwrap()], 144), &trace).unwrap();
    assert_eq!(program.frames(), 180_000);
    let mut chunk = Chunk::new();
    let (mut frames, mut after_a_minute) = (0, 0);
    loop {
        let filled = program.fill(&mut chunk, 500).unwrap();
        if filled == 0 {
            break;
        }
        frames += filled;
        if frames == 3_000 {
            after_a_minute = resident();
        }
    }
    assert_eq!(frames, 180_000);
    // 78 MB came through; other tests of this process run beside it.
    let more = resident().saturating_sub(after_a_minute);
    assert!(more < 30_000_000, "{more} bytes more");
}
