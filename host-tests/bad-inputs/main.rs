//! The table of broken inputs: `cases/*.toml` says what is broken and how the program is called, `snapshots/`
//! holds what it answers. For every case the exit code is 2, standard output stays empty, no file is written,
//! changed or left behind, and the answer says how to mend the input.
//!
//! `INSTA_UPDATE=always cargo test -p lampwright --test bad_inputs` accepts changed answers; read them first.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod case;

use case::{Area, Case};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

/// Every file below a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path
                    .strip_prefix(folder)
                    .unwrap()
                    .to_string_lossy()
                    .into_owned();
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

fn lampwright(folder: &Path, args: &[String]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_lampwright"))
        .current_dir(folder)
        .args(args)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "100")
        .env("LAMPWRIGHT_PARTS", "")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// A line of the answer as it is kept: long ones cut, so that the table stays readable.
fn kept(line: &str) -> String {
    const LONGEST: usize = 160;
    match line.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("{} …", line[..at].trim_end()),
        None => line.trim_end().to_owned(),
    }
}

/// Runs one case: what is kept of it and what is wrong with the answer.
fn answer(area: &Area, case: &Case) -> (String, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let started = lampwright(folder.path(), &["new".to_owned(), "lamp".to_owned()]);
    assert!(started.status.success());
    case.break_it(area, &folder.path().join("lamp"));
    let before = files(folder.path());
    let args = case.args(area);
    let out = lampwright(folder.path(), &args);
    let name = &case.name;
    let told = String::from_utf8(out.stderr).expect("messages are text");
    let mends = [
        "help: ",
        "For more information, try '--help'",
        "Usage: lampwright",
    ];
    let rules = [
        (out.status.code() == Some(2), "exit code 2"),
        (out.stdout.is_empty(), "nothing on standard output"),
        (before == files(folder.path()), "no file touched"),
        (mends.iter().any(|m| told.contains(m)), "how to mend it"),
        (!told.contains("panicked"), "no panic"),
    ];
    let broken = rules.iter().filter(|(kept, _)| !kept);
    let broken = broken
        .map(|(_, rule)| format!("{name}: wanted {rule}; {told}"))
        .collect();
    let lines: Vec<String> = told.lines().map(kept).collect();
    let call = args.join(" ");
    let kept = format!("== {name}\n$ lampwright {call}\n{}\n", lines.join("\n"));
    (kept, broken)
}

fn table(name: &str) -> usize {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../host-tests/bad-inputs/cases")
        .join(format!("{name}.toml"));
    let area = Area::read(&fs::read_to_string(path).unwrap());
    let (answers, broken): (Vec<String>, Vec<_>) =
        area.cases.iter().map(|c| answer(&area, c)).unzip();
    let broken = broken.concat();
    assert!(broken.is_empty(), "{}", broken.join("\n"));
    insta::with_settings!({ snapshot_path => "snapshots", prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!(name, answers.join("\n"));
    });
    area.cases.len()
}

macro_rules! tables {
    ($($name:ident: $least:literal),+ $(,)?) => {
        $(#[test]
        fn $name() {
            let cases = table(stringify!($name));
            assert!(cases >= $least, "{cases} cases");
        })+
    };
}

tables! { build: 59, presets: 34, cues: 18, frames: 10, arguments: 33, tools: 60, own_parts: 29 }
