//! A new prop: written whole or not at all, and sound as it stands.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::build::template::{write_new, FILES};
use lampwright_model::Engine;
use std::path::Path;

/// Every file below a folder, by its path within it.
fn listing(folder: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(dir) = open.pop() {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => open.push(path),
                false => out.push(path.strip_prefix(folder).unwrap().display().to_string()),
            }
        }
    }
    out.sort();
    out
}

#[test]
fn a_new_prop_reads_without_a_fault() {
    let temporary = tempfile::tempdir().unwrap();
    let folder = temporary.path().join("a/lamp");
    assert_eq!(write_new(&folder).unwrap().len(), FILES.len());
    assert_eq!(
        listing(&folder),
        ["build.toml", "cues/walk.csv", "presets/first-light.toml"]
    );
    let choice = Choice::default();
    let prop = read_prop(&folder, &choice).unwrap();
    let presets = read_presets(&folder, &choice, &prop).unwrap();
    assert_eq!(presets.len(), 1);
    assert_eq!(presets[0].cues[0].end_ms, 60_000);
    assert!(Engine::new(&presets[0].file.preset).is_ok());
}

#[test]
fn nothing_that_exists_is_overwritten() {
    for (taken, _) in FILES {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(taken);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, "mine").unwrap();
        let errors = write_new(folder.path()).unwrap_err();
        assert_eq!(errors.0.len(), 1);
        assert!(errors.0[0].message.contains("is there already"), "{errors}");
        assert!(errors.0[0]
            .help
            .as_ref()
            .unwrap()
            .contains("nothing was written"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "mine");
        assert_eq!(listing(folder.path()), [taken]);
    }
}

#[test]
fn a_place_that_cannot_be_written_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    // `cues` is a file, so the last of the files has no place.
    std::fs::write(folder.path().join("cues"), "a file").unwrap();
    let errors = write_new(folder.path()).unwrap_err();
    assert!(
        errors.0[0].message.contains("cannot be written"),
        "{errors}"
    );
    assert_eq!(listing(folder.path()), ["cues"]);
}

#[test]
fn written_files_can_be_read_by_others() {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        for path in write_new(folder.path()).unwrap() {
            let mode = std::fs::metadata(path).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o644);
        }
    }
}
