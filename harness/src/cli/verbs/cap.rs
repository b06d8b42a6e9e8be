//! `cap`: the highest safe brightness.

use crate::build::diag::{InputError, InputErrors};
use crate::cli::args::{CapArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded};
use crate::cli::{print, progress, VerbError};
use crate::report::cap::{cap_json, cap_text, CapReport};
use crate::study::limit::find_budget;
use crate::study::rules::{findings, Severity};
use crate::study::trace::{cap_of, Trace};
use std::path::Path;

/// Runs the verb.
pub(in crate::cli) fn run(args: &CapArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "cap")?;
    let loaded = load(&args.prop)?;
    refuse_faults(&loaded)?;
    let mut caps = Vec::new();
    for play in &loaded.plays {
        let bar = progress::bar(play.length_s(), "");
        caps.push(cap_of(&loaded.prop, play, &|what, s| {
            bar.set_message(what.to_owned());
            bar.set_position(s as u64);
        })?);
        bar.finish_and_clear();
    }
    let budget = if args.budget {
        let traces: Vec<&dyn Trace> = loaded.plays.iter().map(|p| p as &dyn Trace).collect();
        let bar = progress::bar(None, "budget");
        let found = find_budget(&loaded.prop, &traces, &|what, s| {
            bar.set_message(what.to_owned());
            bar.set_position(s as u64);
        })?;
        bar.finish_and_clear();
        Some(found)
    } else {
        None
    };
    let report = CapReport {
        prop: loaded.prop.name.clone(),
        caps,
        budget,
    };
    match args.format {
        TextFormat::Text => print(&cap_text(&report))?,
        TextFormat::Json => print(&format!("{:#}\n", cap_json(&report)))?,
    }
    let all_mended = report
        .caps
        .iter()
        .all(|c| c.cap.is_some() && c.not_mended.is_empty());
    Ok(if all_mended { Exit::Holds } else { Exit::Fails })
}

/// Refuses a pipe where the frames are needed more than once.
pub(in crate::cli) fn refuse_pipe(frames: Option<&Path>, verb: &str) -> Result<(), VerbError> {
    if frames != Some(Path::new("-")) {
        return Ok(());
    }
    let error = InputError::whole(format!(
        "{verb} plays the frames several times, which a pipe cannot do"
    ));
    Err(InputErrors::from(error.help("write the frames to a file and give that")).into())
}

/// Refuses a prop whose drawing has a fault: its circuit is not the one the builder means.
pub(in crate::cli) fn refuse_faults(loaded: &Loaded) -> Result<(), VerbError> {
    let found = findings(&loaded.prop);
    let Some(fault) = found.into_iter().find(|f| f.severity == Severity::Fault) else {
        return Ok(());
    };
    let place = fault.place.map(|p| format!("{p}: ")).unwrap_or_default();
    let error = InputError::whole(format!("{place}{}: {}", fault.id, fault.message));
    Err(InputErrors::from(error.help(fault.mend)).into())
}
