//! `new`: a prop folder to start from.

use crate::build::template::write_new;
use crate::cli::args::NewArgs;
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};

/// Runs the verb.
pub(in crate::cli) fn run(args: &NewArgs) -> Result<Exit, VerbError> {
    write_new(&args.prop)?;
    let folder = args.prop.display();
    print(&format!(
        "{folder}: wrote build.toml, a preset and a cue trace, all commented.\nNext: edit {folder}/build.toml, then run: lampwright check {folder}\n"
    ))?;
    Ok(Exit::Holds)
}
