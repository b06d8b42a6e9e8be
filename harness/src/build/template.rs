//! A prop folder to start from: an invented prop that works, commented line by line.

use super::diag::{InputError, InputErrors};
use super::shared::set_readable;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The files of a new prop: path within its folder, text.
pub const FILES: [(&str, &str); 3] = [
    ("build.toml", include_str!("../../templates/build.toml")),
    (
        "presets/first-light.toml",
        include_str!("../../templates/preset.toml"),
    ),
    ("cues/walk.csv", include_str!("../../templates/walk.csv")),
];

/// Writes the files of a new prop into `folder`, which is made if it is not there. Returns their
/// paths.
///
/// Nothing that exists is overwritten, no file is ever half written, and if one of them cannot be
/// written none of them stays.
///
/// # Errors
/// One of the files is there already, or the folder cannot be written to.
pub fn write_new(folder: &Path) -> Result<Vec<PathBuf>, InputErrors> {
    let paths: Vec<PathBuf> = FILES.iter().map(|(name, _)| folder.join(name)).collect();
    let taken: Vec<InputError> = paths
        .iter()
        // A dangling link would be followed or replaced: it counts as there.
        .filter(|p| p.symlink_metadata().is_ok())
        .map(|p| exists(p))
        .collect();
    if !taken.is_empty() {
        return Err(InputErrors(taken));
    }
    // All are written beside their places before the first is moved into its own.
    let mut beside = Vec::new();
    for (path, (_, text)) in paths.iter().zip(FILES) {
        beside.push(written(path, text).map_err(|e| failed(path, &e))?);
    }
    let mut placed: Vec<&PathBuf> = Vec::new();
    for (path, file) in paths.iter().zip(beside) {
        if let Err(error) = file.persist_noclobber(path) {
            for done in placed {
                // Best effort: the first error is the one worth telling.
                let _ = std::fs::remove_file(done);
            }
            let error = error.error;
            return Err(match error.kind() {
                io::ErrorKind::AlreadyExists => exists(path),
                _ => failed(path, &error),
            }
            .into());
        }
        placed.push(path);
    }
    Ok(paths)
}

/// A file with its text, beside its place.
fn written(path: &Path, text: &str) -> io::Result<NamedTempFile> {
    let folder = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder)?;
    let mut file = tempfile::Builder::new()
        .prefix(".lampwright-")
        .tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.flush()?;
    set_readable(file.path())?;
    Ok(file)
}

fn exists(path: &Path) -> InputError {
    InputError::whole(format!("{} is there already", path.display()))
        .help("name a folder that does not exist yet; nothing was written")
}

fn failed(path: &Path, error: &io::Error) -> InputError {
    InputError::whole(format!("{} cannot be written: {error}", path.display()))
        .help("name a folder you may write to")
}
