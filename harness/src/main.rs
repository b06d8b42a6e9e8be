//! The `lampwright` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    lampwright::cli::run().into()
}
