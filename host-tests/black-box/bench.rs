//! A folder to work in and a way to run the command there.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A prop folder that vanishes after the test.
pub(crate) struct Bench {
    dir: tempfile::TempDir,
}

/// What a run printed and how it ended.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self {
            dir: tempfile::tempdir().unwrap(),
        }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    /// Names of everything in a folder, sorted.
    pub(crate) fn list(&self, name: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path(name)).unwrap();
        let mut names: Vec<String> = entries
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    pub(crate) fn run(&self, args: &[&str]) -> Ran {
        self.run_with(args, &[])
    }

    /// Runs with environment variables.
    pub(crate) fn run_in(&self, args: &[&str], variables: &[(&str, &str)]) -> Ran {
        let mut command = command(self.dir.path());
        command.args(args).envs(variables.iter().copied());
        ran(&command.output().unwrap())
    }

    /// Runs without a variable that runs otherwise have.
    pub(crate) fn run_without(
        &self,
        variable: &str,
        args: &[&str],
        variables: &[(&str, &str)],
    ) -> Ran {
        let mut command = command(self.dir.path());
        command.args(args).env_remove(variable);
        ran(&command.envs(variables.iter().copied()).output().unwrap())
    }

    /// Runs with bytes on standard input.
    pub(crate) fn run_with(&self, args: &[&str], input: &[u8]) -> Ran {
        let mut child = command(self.dir.path())
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        let bytes = input.to_vec();
        // Fed from its own thread: a run that ends early closes the pipe, which is its right.
        let feeder = std::thread::spawn(move || {
            let _ = stdin.write_all(&bytes);
        });
        let output = child.wait_with_output().unwrap();
        feeder.join().unwrap();
        ran(&output)
    }
}

fn ran(output: &Output) -> Ran {
    Ran {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

fn command(dir: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lampwright"));
    command.current_dir(dir).env("NO_COLOR", "1");
    // Whatever parts of his own the person has who runs the tests: they know none but their own.
    command.env("LAMPWRIGHT_PARTS", "");
    command
}

/// The repository's demo prop of that name.
pub(crate) fn demo(name: &str) -> String {
    format!("{}/../traces/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// Rows of a CSV text by column name.
pub(crate) struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn parse(text: &str) -> Self {
        let mut lines = text
            .lines()
            .map(|l| l.split(',').map(str::to_owned).collect::<Vec<_>>());
        let header = lines.next().unwrap();
        Self {
            header,
            rows: lines.collect(),
        }
    }

    pub(crate) fn rows(&self) -> usize {
        self.rows.len()
    }

    pub(crate) fn text(&self, row: usize, column: &str) -> &str {
        let i = self
            .header
            .iter()
            .position(|h| h == column)
            .unwrap_or_else(|| panic!("no column {column}"));
        &self.rows[row][i]
    }

    pub(crate) fn number(&self, row: usize, column: &str) -> f64 {
        let text = self.text(row, column);
        text.parse()
            .unwrap_or_else(|_| panic!("{column} in row {row} is `{text}`"))
    }
}
