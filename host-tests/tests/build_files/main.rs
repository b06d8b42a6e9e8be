//! Build files: good ones read as drawn, bad ones are told with place, expectation and mend.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bad;
mod good;
mod random;
mod report;

use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;

/// Reads a text as `build.toml`.
fn read(text: &str) -> Result<Prop, InputErrors> {
    read_build(&Source::new("build.toml", text))
}

/// A file of the repository.
fn repository_file(path: &str) -> String {
    let full = format!("{}/../{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&full).unwrap_or_else(|e| panic!("{path}: {e}"))
}
