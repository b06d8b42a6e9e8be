//! `cap`: the highest safe brightness.

use crate::build::diag::{InputError, InputErrors};
use crate::cli::args::{CapArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded};
use crate::cli::{picture, print, progress, VerbError};
use crate::report::cap::{cap_json, cap_text, CapReport};
use crate::report::cap_picture::{levers_picture, map_picture};
use crate::study::cap::CapResult;
use crate::study::levers::{levers, Lever};
use crate::study::limit::find_budget;
use crate::study::map::{condition_map, ConditionMap};
use crate::study::rules::{findings, Severity};
use crate::study::trace::{cap_of, Search, Trace};
use std::path::Path;

/// Runs the verb.
pub(in crate::cli) fn run(args: &CapArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "cap")?;
    picture::check_ending(args.picture.as_deref())?;
    let loaded = load(&args.prop)?;
    refuse_faults(&loaded)?;
    let search = match (args.every_cap, args.quick) {
        (true, _) => Search::EveryCap,
        (false, true) => Search::Likely,
        (false, false) => Search::Screened,
    };
    let mut caps = Vec::new();
    for play in &loaded.plays {
        let bar = progress::bar(play.length_s(), "");
        caps.push(cap_of(&loaded.prop, play, search, &|what, s| {
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
    let (levers, maps) = extras(args, &loaded, &caps)?;
    let report = CapReport {
        prop: loaded.prop.name.clone(),
        caps,
        budget,
        levers,
        maps,
    };
    draw(args, &report)?;
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

type Extras = (Vec<Vec<Lever>>, Vec<Vec<ConditionMap>>);

/// Levers and maps, where asked for.
fn extras(args: &CapArgs, loaded: &Loaded, caps: &[CapResult]) -> Result<Extras, VerbError> {
    let (mut all_levers, mut maps) = (Vec::new(), Vec::new());
    for (play, found) in loaded.plays.iter().zip(caps) {
        if args.levers {
            let bar = progress::bar(play.length_s(), "levers");
            all_levers.push(levers(&loaded.prop, play, found, &|what, s| {
                bar.set_message(what.to_owned());
                bar.set_position(s as u64);
            })?);
            bar.finish_and_clear();
        }
        if args.map || (args.picture.is_some() && !args.levers) {
            let map = |aged| condition_map(&loaded.prop, play, &found.seen, aged);
            maps.push(vec![map(false)?, map(true)?]);
        }
    }
    Ok((all_levers, maps))
}

/// Draws what was asked for; of several presets the one with the lowest cap.
fn draw(args: &CapArgs, report: &CapReport) -> Result<(), VerbError> {
    let Some(path) = &args.picture else {
        return Ok(());
    };
    let lowest = report.caps.iter().enumerate().min_by_key(|(_, c)| c.cap);
    let Some((k, cap)) = lowest else {
        return Ok(());
    };
    let name = cap.preset.as_deref().unwrap_or("recorded frames");
    let svg = match (
        report.levers.get(k),
        report.maps.get(k).and_then(|m| m.last()),
    ) {
        (Some(levers), _) => levers_picture(&report.prop, name, levers).to_svg(),
        (None, Some(map)) => map_picture(&report.prop, name, map).to_svg(),
        (None, None) => return Ok(()),
    };
    picture::write(path, &svg)
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
