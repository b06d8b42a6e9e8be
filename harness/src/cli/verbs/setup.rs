//! `completions`, `man` and `doctor`: what an installation needs beside the program, and whether it works.

use crate::build::catalogue::CatalogueText;
use crate::build::diag::Sink;
use crate::cli::args::{Cli, CompletionsArgs, DoctorArgs, ManArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};
use crate::report::doctor::{doctor_json, doctor_text, Finding};
use crate::report::output::Output;
use crate::study::reference_case::reference_case;
use clap::{Command, CommandFactory};
use std::io::{IsTerminal as _, Write as _};
use std::path::Path;

/// Runs `completions`.
pub(in crate::cli) fn completions(args: &CompletionsArgs) -> Result<Exit, VerbError> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "lampwright", &mut script);
    print(&String::from_utf8_lossy(&script))?;
    Ok(Exit::Holds)
}

/// Runs `man`.
pub(in crate::cli) fn man(args: &ManArgs) -> Result<Exit, VerbError> {
    let mut command = Cli::command();
    command.build();
    let folder = &args.out;
    std::fs::create_dir_all(folder).map_err(|e| cannot_write(folder, e))?;
    page(&command, folder, "lampwright")?;
    for verb in command.get_subcommands().filter(|v| v.get_name() != "help") {
        let name = format!("lampwright-{}", verb.get_name());
        page(verb, folder, &name)?;
        for task in verb.get_subcommands().filter(|t| t.get_name() != "help") {
            page(task, folder, &format!("{name}-{}", task.get_name()))?;
        }
    }
    print(&format!("wrote man pages to {}\n", folder.display()))?;
    Ok(Exit::Holds)
}

fn page(command: &Command, folder: &Path, name: &str) -> Result<(), VerbError> {
    let path = folder.join(format!("{name}.1"));
    let fail = |e| cannot_write(&path, e);
    let mut out = Output::create(&path).map_err(fail)?;
    let mut text = Vec::new();
    let page = clap_mangen::Man::new(command.clone());
    page.render(&mut text).map_err(fail)?;
    out.write_all(&text).map_err(fail)?;
    out.finish().map_err(fail)
}

fn cannot_write(path: &Path, error: std::io::Error) -> VerbError {
    VerbError::Write {
        name: path.display().to_string(),
        error,
    }
}

/// Runs `doctor`.
pub(in crate::cli) fn doctor(args: &DoctorArgs) -> Result<Exit, VerbError> {
    let findings = [
        version(),
        locale(),
        terminal(),
        scratch(),
        catalogue(),
        solver(),
    ];
    match args.format {
        TextFormat::Text => print(&doctor_text(&findings))?,
        TextFormat::Json => print(&format!("{:#}\n", doctor_json(&findings)))?,
    }
    Ok(if findings.iter().all(|f| f.works) {
        Exit::Holds
    } else {
        Exit::Failed
    })
}

fn version() -> Finding {
    let build = if cfg!(debug_assertions) {
        "debug"
    } else {
        "release"
    };
    let says = format!(
        "lampwright {}, {build} build, {} {}",
        env!("CARGO_PKG_VERSION"),
        std::env::consts::ARCH,
        std::env::consts::OS
    );
    Finding::works("version", says)
}

/// The locale matters for what a terminal shows; files are UTF-8 whatever it says.
fn locale() -> Finding {
    let set = |name: &str| {
        let value = std::env::var(name).unwrap_or_default();
        (!value.is_empty()).then(|| format!("{name}={value}"))
    };
    let first = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(set);
    let text = first.unwrap_or_else(|| "none set".to_owned());
    let utf8 = text.to_lowercase().replace('-', "").contains("utf8");
    let hint = if utf8 || cfg!(windows) {
        ""
    } else {
        "; not UTF-8: signs such as Ω and µ may show wrongly, files do not suffer"
    };
    Finding::works("locale", text + hint)
}

fn terminal() -> Finding {
    let kind = |is: bool| if is { "a terminal" } else { "no terminal" };
    let colour = match std::env::var_os("NO_COLOR") {
        Some(_) => "NO_COLOR is set",
        None => "colour where it is a terminal",
    };
    let says = format!(
        "output to {}, messages to {}, {colour}",
        kind(std::io::stdout().is_terminal()),
        kind(std::io::stderr().is_terminal())
    );
    Finding::works("terminal", says)
}

fn scratch() -> Finding {
    match std::env::current_dir().and_then(tempfile::tempfile_in) {
        Ok(_) => Finding::works("folder", "this folder can be written to".to_owned()),
        // Many verbs only print: that is no fault of the installation.
        Err(e) => Finding::works("folder", format!("this folder cannot be written to: {e}")),
    }
}

fn catalogue() -> Finding {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let entries = texts.parse(&sink).entries(&sink).len();
    let says = format!("{entries} parts, {} faults", sink.len());
    match sink.is_empty() && entries > 0 {
        true => Finding::works("catalogue", says),
        false => Finding::fails(
            "catalogue",
            says,
            "install it again: the catalogue is part of the program",
        ),
    }
}

fn solver() -> Finding {
    let help = "install it again, and report it with the lines above";
    match reference_case() {
        Ok(case) => {
            let says = format!(
                "supply of the last of 60 pixels {:.9} V, by hand {:.9} V",
                case.solved_v, case.known_v
            );
            match case.holds() {
                true => Finding::works("solver", says),
                false => Finding::fails("solver", says, help),
            }
        }
        Err(why) => Finding::fails("solver", why, help),
    }
}
