//! Writing results without ever leaving half a file.

use crate::build::shared::set_readable;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// A file that is written beside its final place and renamed into it by [`finish`](Self::finish).
/// Dropped before that, it leaves nothing behind and whatever stood there stays.
#[derive(Debug)]
pub struct Output {
    file: BufWriter<NamedTempFile>,
    path: PathBuf,
}

impl Output {
    /// Opens a file beside `path`, so that a folder that cannot be written to is found out before
    /// the work starts.
    ///
    /// # Errors
    /// The folder does not exist or cannot be written to.
    pub fn create(path: &Path) -> io::Result<Self> {
        let folder = match path.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        };
        let refuse = |kind, why: String| Err(io::Error::new(kind, why));
        if path.is_dir() {
            return refuse(io::ErrorKind::IsADirectory, "it is a folder".to_owned());
        }
        if !folder.is_dir() {
            let why = format!("there is no folder {}", folder.display());
            return refuse(io::ErrorKind::NotFound, why);
        }
        let file = tempfile::Builder::new()
            .prefix(".lampwright-")
            .tempfile_in(folder)?;
        Ok(Self {
            file: BufWriter::with_capacity(1 << 16, file),
            path: path.to_owned(),
        })
    }

    /// Puts the file in its place.
    ///
    /// # Errors
    /// Writing or renaming failed; the old file, if any, is still there.
    pub fn finish(self) -> io::Result<()> {
        let file = self
            .file
            .into_inner()
            .map_err(|e| io::Error::from(e.error().kind()))?;
        set_readable(file.path())?;
        file.persist(&self.path).map_err(|e| e.error)?;
        Ok(())
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn an_unfinished_file_leaves_the_old_one_and_no_rubbish() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("result.csv");
        std::fs::write(&path, "old").unwrap();
        let mut output = Output::create(&path).unwrap();
        output.write_all(b"half").unwrap();
        drop(output);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_finished_file_replaces_the_old_one() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("result.csv");
        std::fs::write(&path, "old").unwrap();
        let mut output = Output::create(&path).unwrap();
        output.write_all(b"whole").unwrap();
        output.finish().unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "whole");
        assert!(Output::create(dir.path()).is_err());
        assert!(Output::create(Path::new("/nonexistent-folder/x")).is_err());
    }
}
