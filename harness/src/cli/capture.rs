//! From typed arguments to a decoded capture.

use super::args::CaptureArgs;
use super::load::layout_of;
use super::VerbError;
use crate::build::diag::{near_miss, InputError, InputErrors};
use crate::build::prop::Prop;
use crate::profile::capture::vcd::{Variable, VcdReader};
use crate::profile::capture::{decode, lines, signal_names, DecodeOptions, Decoded, Line, Signals};
use crate::profile::condition::Condition;
use crate::profile::lower::lower;
use crate::profile::{FrameWriter, RecordedFormat};
use crate::units::{parse, Quantity, Time};
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::sync::Arc;
use tempfile::TempPath;

/// A capture whose frames lie in a file that vanishes with it.
#[derive(Clone)]
pub(super) struct Captured {
    /// The decoded frames, as a recording.
    pub(super) frames: Arc<TempPath>,
    /// What the capture held.
    pub(super) decoded: Arc<Decoded>,
}

/// The data lines of a prop.
///
/// # Errors
/// The netlist cannot be followed, or has no strip.
pub(super) fn lines_of(prop: &Prop) -> Result<Vec<Line>, InputErrors> {
    let lowered = lower(prop, Condition::nominal()).map_err(|error| {
        InputError::whole(format!("the netlist cannot be solved: {error}"))
            .help("`lampwright check` names the wiring fault")
    })?;
    lines(prop, &lowered.circuit)
}

/// Decodes a capture into a file beside the system's other temporary ones.
///
/// # Errors
/// Faults of the capture or the arguments; a capture without a frame.
pub(super) fn captured(
    prop: &Prop,
    file: &Path,
    args: &CaptureArgs,
) -> Result<Captured, VerbError> {
    let write = |error: io::Error| VerbError::Write {
        name: "a temporary file".to_owned(),
        error,
    };
    let mut spool = tempfile::Builder::new()
        .prefix("lampwright-")
        .suffix(".csv")
        .tempfile()
        .map_err(write)?;
    let decoded = decode_into(prop, file, args, RecordedFormat::Csv, spool.as_file_mut())?;
    if decoded.rounds.frames == 0 {
        return Err(no_frame(&decoded).into());
    }
    Ok(Captured {
        frames: Arc::new(spool.into_temp_path()),
        decoded: Arc::new(decoded),
    })
}

fn no_frame(decoded: &Decoded) -> InputErrors {
    let why: Vec<String> = decoded
        .lines
        .iter()
        .map(|line| match line.faults.first() {
            Some(fault) => format!("{}: {}", line.name, fault.kind.words()),
            None => format!("{}: {} bursts", line.name, line.bursts),
        })
        .collect();
    let message = format!(
        "{}: no frame could be decoded ({})",
        decoded.file,
        why.join("; ")
    );
    InputError::whole(message)
        .help("`lampwright decode` with the same arguments shows every time and fault; are signal, pixel type and number of pixels right?")
        .into()
}

/// Decodes a capture and writes its frames.
///
/// # Errors
/// Faults of the capture or the arguments, or a file that cannot be written.
pub(super) fn decode_into(
    prop: &Prop,
    file: &Path,
    args: &CaptureArgs,
    format: RecordedFormat,
    out: &mut dyn Write,
) -> Result<Decoded, VerbError> {
    let layout = layout_of(prop)?;
    let lines = lines_of(prop)?;
    let options = options(args)?;
    let vcd = VcdReader::open(file)?;
    let signals = assign(&lines, &vcd, args)?;
    let scale = vcd.timescale();
    let failed = |error: io::Error| VerbError::Write {
        name: "the decoded frames".to_owned(),
        error,
    };
    let out = BufWriter::with_capacity(1 << 16, out);
    let mut writer = FrameWriter::new(out, format, layout).map_err(failed)?;
    let mut written = Ok(());
    let decoded = decode(
        vcd,
        &lines,
        &signals,
        layout.frame_len(),
        options,
        |time, levels| {
            if written.is_ok() {
                let ns = u64::try_from(scale.fs(time) / 1_000_000).unwrap_or(u64::MAX);
                written = writer.frame(ns, levels);
            }
        },
    )?;
    written.map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(decoded)
}

fn options(args: &CaptureArgs) -> Result<DecodeOptions, InputErrors> {
    let Some(text) = &args.ignore_below else {
        return Ok(DecodeOptions::default());
    };
    let wrong = |why: String| {
        let help = "write a time such as --ignore-below \"30 ns\"";
        InputErrors::from(InputError::whole(format!("--ignore-below: {why}")).help(help))
    };
    let ignore_s = parse::<Time>(text).map_err(|e| wrong(e.to_string()))?.si();
    if !(0.0..1.0).contains(&ignore_s) {
        return Err(wrong(format!("{text} is no time that a pulse may last")));
    }
    Ok(DecodeOptions { ignore_s })
}

/// Which signals carry each line: as typed, else by the names that `pattern` gives, else the only signal there is.
fn assign(
    lines: &[Line],
    vcd: &VcdReader,
    args: &CaptureArgs,
) -> Result<Vec<Signals>, InputErrors> {
    let variables = vcd.variables();
    let data = typed(lines, variables, &args.signal, "--signal")?;
    let clock = typed(lines, variables, &args.clock, "--clock")?;
    let has = |name: &String| variables.iter().any(|v| v.name == *name);
    let only = match variables {
        [one] if one.width == 1 && lines.len() == 1 => Some(one.path()),
        _ => None,
    };
    let mut out = Vec::new();
    for ((line, data), clock) in lines.iter().zip(data).zip(clock) {
        let (data_name, clock_name) = signal_names(line);
        let data = data
            .or_else(|| Some(data_name).filter(has))
            .or_else(|| only.clone().filter(|_| !line.clocked));
        let Some(data) = data else {
            return Err(which(line, lines, vcd, "--signal", "data"));
        };
        let clock = clock.or_else(|| clock_name.filter(has));
        if line.clocked && clock.is_none() {
            return Err(which(line, lines, vcd, "--clock", "clock"));
        }
        let clock = match clock {
            Some(name) if !line.clocked && !args.clock.is_empty() => {
                let message = format!(
                    "--clock {name}: strip \"{}\" has no clock wire",
                    line.name()
                );
                let help = "its pixels take their data on one wire: leave --clock out, or mend the pixel type in the build file";
                return Err(InputError::whole(message).help(help).into());
            }
            clock => clock.filter(|_| line.clocked),
        };
        out.push(Signals { data, clock });
    }
    Ok(out)
}

fn which(line: &Line, lines: &[Line], vcd: &VcdReader, option: &str, what: &str) -> InputErrors {
    let names: Vec<String> = vcd
        .variables()
        .iter()
        .map(Variable::path)
        .take(24)
        .collect();
    let (file, strip) = (vcd.name(), line.name());
    let message = format!("{file}: which signal carries the {what} of strip \"{strip}\"?");
    let example = names.first().map_or("NAME", String::as_str);
    let form = match lines.len() {
        1 => format!("{option} {example}"),
        _ => format!("{option} {strip}={example}"),
    };
    InputError::whole(message)
        .help(format!("say {form}; the file has {}", names.join(", ")))
        .into()
}

/// Sorts `STRIP=NAME` and `NAME` to the lines.
fn typed(
    lines: &[Line],
    variables: &[Variable],
    texts: &[String],
    option: &str,
) -> Result<Vec<Option<String>>, InputErrors> {
    let mut out: Vec<Option<String>> = vec![None; lines.len()];
    let mut plain = Vec::new();
    let is_signal = |t: &str| variables.iter().any(|v| v.name == t || v.path() == t);
    for text in texts {
        let Some((strip, name)) = text.split_once('=').filter(|_| !is_signal(text)) else {
            plain.push(text.clone());
            continue;
        };
        let Some(line) = lines.iter().position(|l| l.name() == strip) else {
            let names: Vec<&str> = lines.iter().map(Line::name).collect();
            let near = near_miss(strip, names.iter().copied());
            let near = near
                .map(|n| format!("did you mean \"{n}\"? "))
                .unwrap_or_default();
            let message = format!("{option}: no data line starts at a strip \"{strip}\"");
            let help = format!("{near}data lines start at {}", names.join(", "));
            return Err(InputError::whole(message).help(help).into());
        };
        if let Some(slot) = out.get_mut(line) {
            *slot = Some(name.to_owned());
        }
    }
    let mut free = out.iter_mut().filter(|s| s.is_none());
    match (plain.as_slice(), free.next(), free.next()) {
        ([], ..) => Ok(out),
        ([name], Some(slot), None) => {
            *slot = Some(name.clone());
            Ok(out)
        }
        ([name, ..], ..) => {
            let starts: Vec<String> = lines
                .iter()
                .map(|l| format!("{option} {}={name}", l.name()))
                .collect();
            let message = format!("{option} {name}: the prop has {} data lines", lines.len());
            let help = format!(
                "say for each which signal it is, such as {}",
                starts.join(" ")
            );
            Err(InputError::whole(message).help(help).into())
        }
    }
}
