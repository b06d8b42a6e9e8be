//! `decode`: a capture of the data lines as frames, and what is wrong with it.

use crate::build::folder::{read_prop, Choice};
use crate::cli::args::{DecodeArgs, TextFormat};
use crate::cli::capture::decode_into;
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};
use crate::profile::RecordedFormat;
use crate::report::decode::{decode_json, decode_text, DecodeReport};
use crate::report::output::Output;
use crate::study::bit_timing::bit_timing;
use crate::study::verdict::Verdict;
use crate::study::watch::worst_first;

/// Runs the verb.
pub(in crate::cli) fn run(args: &DecodeArgs) -> Result<Exit, VerbError> {
    let choice = Choice {
        build: args.build.clone(),
        variant: args.variant.clone(),
        parts: args.own.folder()?,
        ..Choice::default()
    };
    let prop = read_prop(&args.prop, &choice)?;
    let decoded = match &args.out {
        None => decode_into(
            &prop,
            &args.file,
            &args.capture,
            RecordedFormat::Raw,
            &mut std::io::sink(),
        )?,
        Some(path) => {
            let csv = path
                .extension()
                .is_some_and(|e| e.eq_ignore_ascii_case("csv"));
            let format = match csv {
                true => RecordedFormat::Csv,
                false => RecordedFormat::Raw,
            };
            let failed = |error| VerbError::Write {
                name: path.display().to_string(),
                error,
            };
            let mut output = Output::create(path).map_err(failed)?;
            let decoded = decode_into(&prop, &args.file, &args.capture, format, &mut output)?;
            output.finish().map_err(failed)?;
            decoded
        }
    };
    let mut checks = bit_timing(&decoded);
    worst_first(&mut checks);
    let failed = checks.iter().any(|c| c.verdict == Verdict::Fails);
    let nothing = decoded.rounds.frames == 0;
    let report = DecodeReport {
        prop: prop.name.clone(),
        decoded,
        checks,
    };
    match args.format {
        TextFormat::Text => print(&decode_text(&report))?,
        TextFormat::Json => print(&format!("{:#}\n", decode_json(&report)))?,
    }
    Ok(if failed || nothing {
        Exit::Fails
    } else {
        Exit::Holds
    })
}
