//! The guide is executed: every `$ lampwright …` in its pages runs, and what it prints must be what the page
//! shows. Each page has a fresh folder that holds the demo props and the guide's own examples.
//!
//! `TRYCMD=overwrite cargo test -p lampwright --test guide` writes the present output into the pages; read
//! the difference before committing it. `...` on a line of its own stands for any lines, `[..]` for any text.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use clap::CommandFactory as _;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

fn pages() -> Vec<PathBuf> {
    let folder = root().join("harness/guide/pages");
    let files = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    let mut pages: Vec<PathBuf> = files
        .filter(|p| p.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.sort();
    pages
}

/// One test for all pages: a page's commands run in the working directory, of which a process has one.
#[test]
fn every_command_of_the_guide_prints_what_the_page_shows() {
    let pages = pages();
    let commands: usize = pages
        .iter()
        .map(|p| {
            fs::read_to_string(p)
                .unwrap()
                .matches("\n$ lampwright")
                .count()
        })
        .sum();
    assert!(
        pages.len() >= 14 && commands >= 40,
        "the guide's pages are found"
    );
    for page in pages {
        let sandbox = tempfile::tempdir().unwrap();
        copy(&root().join("traces"), &sandbox.path().join("traces"));
        copy(&root().join("harness/guide/sandbox"), sandbox.path());
        std::env::set_current_dir(sandbox.path()).unwrap();
        let cases = trycmd::TestCases::new();
        cases.register_bin("lampwright", Path::new(env!("CARGO_BIN_EXE_lampwright")));
        cases.env("NO_COLOR", "1").env("COLUMNS", "100");
        cases.case(&page).run();
    }
    std::env::set_current_dir(root()).unwrap();
}

/// The guide has a section for each check that the program knows and a block for each verb.
#[test]
fn every_check_and_verb_has_its_section() {
    let checks = fs::read_to_string(root().join("harness/guide/pages/checks.md")).unwrap();
    let folder = root().join("harness/src/study/checks");
    let mut found = 0;
    for file in fs::read_dir(folder).unwrap() {
        let text = fs::read_to_string(file.unwrap().path()).unwrap();
        for line in text.lines().filter(|l| l.starts_with("//! `")) {
            for id in line
                .split('`')
                .skip(1)
                .step_by(2)
                .filter(|s| s.contains('-') || *s == "runtime" || *s == "polarity")
            {
                if line
                    .trim_start_matches("//! ")
                    .starts_with(&format!("`{id}`"))
                {
                    found += 1;
                    assert!(
                        checks.contains(&format!("\n### {id}\n")),
                        "{id} is in the guide"
                    );
                }
            }
        }
    }
    assert!(found >= 18, "{found} checks are looked for");
    let verbs = fs::read_to_string(root().join("harness/guide/pages/verbs.md")).unwrap();
    for verb in lampwright::cli::args::Cli::command()
        .get_subcommands()
        .map(|c| c.get_name().to_owned())
    {
        assert!(
            verbs.contains(&format!("\n## {verb}\n")),
            "{verb} is in the guide"
        );
    }
}
