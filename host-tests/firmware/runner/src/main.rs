//! `runner frames WANT OUT NAMES`: frames of a board against the host's, byte for byte.
//! `runner log IMAGE LOG WANT`: decodes a board's log and holds it against what follows from the frames.
//! `runner report FOLDER`: instructions, memory and stack as a table.
//! `runner table FOLDER`: cycles of every part of a preset, for the check `frame-time`, an empty line, the worst frames.

mod cost;
mod frames;
mod log;

use std::process::ExitCode;

/// What is wrong, in words.
type Outcome = Result<String, String>;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match arguments[..] {
        ["frames", want, out, names] => frames::compare(want, out, names),
        ["log", image, log, want] => log::check(image, log, want),
        ["report", folder] => cost::report(folder),
        ["table", folder] => cost::table(folder),
        _ => Err(
            "runner frames WANT OUT NAMES | log IMAGE LOG WANT | report FOLDER | table FOLDER"
                .into(),
        ),
    };
    match outcome {
        Ok(text) => {
            println!("{text}");
            ExitCode::SUCCESS
        }
        Err(text) => {
            println!("{text}");
            ExitCode::FAILURE
        }
    }
}

/// A file's bytes.
fn read(path: &str) -> Result<Vec<u8>, String> {
    std::fs::read(path).map_err(|error| format!("{path}: {error}"))
}

/// A file's text.
fn read_text(path: &str) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|error| format!("{path}: {error}"))
}

/// A scenario: its name, how many frames it has, how many bytes a frame has in the output.
struct Named {
    name: String,
    frames: usize,
    len: usize,
}

/// The scenarios of a list.
fn names(path: &str) -> Result<Vec<Named>, String> {
    let text = read_text(path)?;
    let line = |line: &str| {
        let mut parts = line.rsplitn(3, '\t');
        let (len, frames, name) = (parts.next()?, parts.next()?, parts.next()?);
        Some(Named {
            name: name.to_owned(),
            frames: frames.parse().ok()?,
            len: len.parse().ok()?,
        })
    };
    text.lines()
        .map(|l| line(l).ok_or_else(|| format!("{path}: not a scenario: {l}")))
        .collect()
}
