//! Imports of the harness point down only, and files stay small enough to be one concept.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};

/// Layers of the harness, lowest first. A module may import from lower layers and from itself.
const LAYERS: [&str; 8] = [
    "units",
    "build",
    "electrical",
    "profile",
    "study",
    "report",
    "view",
    "cli",
];
const LONGEST_FILE: usize = 500;

fn sources(dir: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

fn harness() -> Vec<(PathBuf, String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../harness/src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let read = |path: PathBuf| {
        let inner = path.strip_prefix(&root).unwrap().to_path_buf();
        let layer = inner
            .components()
            .next()
            .unwrap()
            .as_os_str()
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).unwrap();
        (inner, layer, text)
    };
    files.into_iter().map(read).collect()
}

/// Layers that a source text imports by `crate::LAYER`.
fn imports(text: &str) -> Vec<&str> {
    let after = text.split("crate::").skip(1);
    after
        .map(|rest| {
            rest.split(|c: char| !c.is_alphanumeric() && c != '_')
                .next()
                .unwrap()
        })
        .collect()
}

#[test]
fn no_module_imports_one_above_it() {
    let mut seen = 0;
    for (file, layer, text) in harness() {
        let Some(own) = LAYERS.iter().position(|l| *l == layer) else {
            continue;
        };
        seen += 1;
        for import in imports(&text) {
            if let Some(used) = LAYERS.iter().position(|l| *l == import) {
                assert!(
                    used <= own,
                    "{} ({layer}) imports {import}, which lies above it",
                    file.display()
                );
            }
        }
    }
    assert!(seen > 40, "the layers were found: {seen} files");
}

#[test]
fn nothing_imports_the_strategies() {
    for (file, layer, text) in harness() {
        if layer != "strategies" {
            assert!(
                !imports(&text).contains(&"strategies"),
                "{} imports strategies",
                file.display()
            );
        }
    }
}

#[test]
fn the_electrical_core_knows_no_files() {
    for (file, layer, text) in harness() {
        if layer == "electrical" {
            assert!(
                !imports(&text).contains(&"build"),
                "{} imports build",
                file.display()
            );
        }
    }
}

#[test]
fn no_file_is_longer_than_one_concept() {
    for (file, _, text) in harness() {
        let code = text.split("#[cfg(test)]").next().unwrap().lines().count();
        assert!(
            code <= LONGEST_FILE,
            "{} has {code} lines of code",
            file.display()
        );
    }
}

#[test]
fn every_path_in_the_developers_guide_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = std::fs::read_to_string(root.join(name)).unwrap();
        for quoted in text.split('`').skip(1).step_by(2) {
            let is_path = [
                "harness/",
                "host-tests/",
                "traces/",
                "firmware-model/",
                ".ci/",
            ]
            .iter()
            .any(|p| quoted.starts_with(p));
            let plain = !quoted.contains(['*', ' ']) && !quoted.contains("NAME");
            if is_path && plain {
                assert!(
                    root.join(quoted).exists(),
                    "{name} names `{quoted}`, which does not exist"
                );
            }
        }
    }
}
