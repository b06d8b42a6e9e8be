//! The command line: arguments in, exit code out.

pub mod args;
mod capture;
pub mod exit;
mod load;
mod own_parts;
mod picture;
mod progress;
mod verbs;

use crate::build::diag::{InputError, InputErrors};
use crate::study::watch::StudyError;
use args::{Cli, Verb};
use clap::Parser;
use exit::Exit;
use std::io::{self, Write};

/// Why a verb ended without a verdict.
#[derive(Debug, thiserror::Error)]
pub enum VerbError {
    /// The input is wrong.
    #[error(transparent)]
    Input(#[from] InputErrors),
    /// A result could not be written.
    #[error("cannot write {name}: {error}")]
    Write {
        /// What was being written.
        name: String,
        /// What the system said.
        error: io::Error,
    },
    /// The tool itself failed.
    #[error("{0}")]
    Tool(String),
}

impl From<StudyError> for VerbError {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Input(errors) => Self::Input(errors),
            StudyError::Network(error) => Self::Input(InputError::whole(error.to_string()).into()),
        }
    }
}

/// Runs the program with the process's own arguments.
pub fn run() -> Exit {
    match Cli::try_parse() {
        Ok(cli) => {
            start_threads();
            finish(dispatch(&cli))
        }
        Err(error) => {
            let code = if error.use_stderr() {
                Exit::BadInput
            } else {
                Exit::Holds
            };
            let _ = error.print();
            code
        }
    }
}

fn dispatch(cli: &Cli) -> Result<Exit, VerbError> {
    match &cli.verb {
        Verb::New(args) => verbs::new::run(args),
        Verb::Parts(args) => verbs::parts::run(args),
        Verb::Check(args) => verbs::check::run(args),
        Verb::Profile(args) => verbs::profile::run(args),
        Verb::Calibrate(args) => verbs::calibrate::run(args),
        Verb::Cap(args) => verbs::cap::run(args),
        Verb::Decode(args) => verbs::decode::run(args),
        Verb::Pattern(args) => verbs::pattern::run(args),
        Verb::Compare(args) => verbs::compare::run(args),
        Verb::Light(args) => verbs::light::run(args),
        Verb::Pack(args) => verbs::pack::run(args),
        Verb::Unpack(args) => verbs::pack::unpack(args),
        Verb::Completions(args) => verbs::setup::completions(args),
        Verb::Man(args) => verbs::setup::man(args),
        Verb::Doctor(args) => verbs::setup::doctor(args),
        Verb::Runtime(args) => verbs::runtime::run(args),
        Verb::View(args) => verbs::view::run(args),
        Verb::Sweep(args) => verbs::sweep::run(args),
        Verb::Merge(args) => verbs::sweep::merge(args),
        Verb::Wiring(args) => verbs::wiring::run(args),
    }
}

/// Where the system gives no thread at all (a limit on processes), what would be spread over several is done on this one.
fn start_threads() {
    let probe = std::thread::Builder::new().spawn(|| {});
    match probe {
        Ok(thread) => drop(thread.join()),
        Err(_) => {
            let alone = rayon::ThreadPoolBuilder::new()
                .num_threads(1)
                .use_current_thread();
            // Fails where a program that uses this as a library has threads already.
            let _ = alone.build_global();
        }
    }
}

fn finish(result: Result<Exit, VerbError>) -> Exit {
    match result {
        Ok(exit) => exit,
        Err(VerbError::Input(errors)) => {
            print_errors(&errors);
            Exit::BadInput
        }
        // Whoever reads our output has had enough: that is no failure.
        Err(VerbError::Write { error, .. }) if error.kind() == io::ErrorKind::BrokenPipe => {
            Exit::Holds
        }
        Err(VerbError::Write { name, error }) if wrong_place(error.kind()) => {
            let fault = InputError::whole(format!("cannot write {name}: {error}"));
            let help = "name a file in a folder that exists and that you may write to";
            print_errors(&fault.help(help).into());
            Exit::BadInput
        }
        Err(error) => {
            let _ = writeln!(anstream::stderr(), "lampwright: {error}");
            Exit::Failed
        }
    }
}

/// Whether a file could not be written because of where it was to go, which is for the user to mend.
fn wrong_place(kind: io::ErrorKind) -> bool {
    use io::ErrorKind::{
        InvalidFilename, IsADirectory, NotADirectory, NotFound, PermissionDenied,
        ReadOnlyFilesystem,
    };
    matches!(
        kind,
        NotFound
            | IsADirectory
            | NotADirectory
            | PermissionDenied
            | ReadOnlyFilesystem
            | InvalidFilename
    )
}

/// Prints every fault in the manner of a compiler.
fn print_errors(errors: &InputErrors) {
    use miette::{GraphicalReportHandler, GraphicalTheme};
    use std::io::IsTerminal;
    let plain = std::env::var_os("NO_COLOR").is_some() || !io::stderr().is_terminal();
    let theme = if plain {
        GraphicalTheme::unicode_nocolor()
    } else {
        GraphicalTheme::unicode()
    };
    let handler = GraphicalReportHandler::new_themed(theme).with_width(100);
    let mut text = String::new();
    for error in &errors.0 {
        if handler.render_report(&mut text, error).is_err() {
            text.push_str(&format!("{error}\n"));
        }
    }
    let count = errors.0.len();
    text.push_str(&format!(
        "{count} fault{} in the input\n",
        if count == 1 { "" } else { "s" }
    ));
    let _ = anstream::stderr().write_all(text.as_bytes());
}

/// Writes to standard output, with colour only on a terminal.
fn print(text: &str) -> Result<(), VerbError> {
    let mut out = anstream::stdout();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    written.map_err(|error| VerbError::Write {
        name: "standard output".into(),
        error,
    })
}
