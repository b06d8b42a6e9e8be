//! `wiring`: check the drawing, draw it, and list what to cut, solder and measure.

use crate::build::prop::Prop;
use crate::cli::args::{TextFormat, WiringArgs};
use crate::cli::exit::Exit;
use crate::cli::load::{layout_of, load_wiring, Loaded, Play};
use crate::cli::{print, progress, VerbError};
use crate::report::findings::{wiring_json, wiring_text};
use crate::study::rules::{findings, load_findings, Finding, Severity};
use crate::study::steady::watch_steady;
use crate::study::verdict::CheckResult;
use crate::study::watch::watch;

/// Runs the verb.
pub(in crate::cli) fn run(args: &WiringArgs) -> Result<Exit, VerbError> {
    let loaded = load_wiring(&args.prop)?;
    let (found, with) = all_findings(&loaded)?;
    match args.format {
        TextFormat::Text => print(&wiring_text(&loaded.prop.name, &with, &found))?,
        TextFormat::Json => print(&format!(
            "{:#}\n",
            wiring_json(&loaded.prop.name, &with, &found)
        ))?,
    }
    let bad = found.iter().any(|f| f.severity != Severity::Advice);
    Ok(if bad { Exit::Fails } else { Exit::Holds })
}

/// Findings of the drawing and, where it can be solved, of what the wires carry; and what they carried it for.
fn all_findings(loaded: &Loaded) -> Result<(Vec<Finding>, String), VerbError> {
    let prop = &loaded.prop;
    let mut found = findings(prop);
    let cap = loaded.cap;
    let with = if loaded.plays.is_empty() {
        format!("every pixel at the cap of {cap}, all channels")
    } else {
        let names: Vec<String> = loaded
            .plays
            .iter()
            .map(|p| p.preset_name().unwrap_or_else(|| p.cues_name()))
            .collect();
        format!("presets {} at cap {cap}", names.join(", "))
    };
    if found.iter().all(|f| f.severity != Severity::Fault) {
        found.extend(load_findings(prop, &checks(loaded)?));
        found.sort_by_key(|f| f.severity);
        found.dedup_by(|a, b| a.id == b.id && a.part == b.part && a.message == b.message);
    }
    Ok((found, with))
}

fn checks(loaded: &Loaded) -> Result<Vec<CheckResult>, VerbError> {
    let prop = &loaded.prop;
    if loaded.plays.is_empty() {
        if prop.pixels() == 0 {
            return Ok(Vec::new());
        }
        let capped = Prop {
            cap: loaded.cap,
            ..prop.clone()
        };
        return Ok(watch_steady(&capped, layout_of(prop)?)?);
    }
    let mut results: Vec<CheckResult> = Vec::new();
    for play in &loaded.plays {
        results.extend(played(loaded, play)?);
    }
    Ok(worst_of_each(results))
}

fn played(loaded: &Loaded, play: &Play) -> Result<Vec<CheckResult>, VerbError> {
    let mut stream = play.open(&loaded.prop, loaded.cap)?;
    let name = play.preset_name().unwrap_or_else(|| play.cues_name());
    let bar = progress::bar(play.length_s(), &name);
    let results = watch(&loaded.prop, play.preset(), stream.as_mut(), &|s| {
        bar.set_position(s as u64)
    });
    bar.finish_and_clear();
    Ok(results?)
}

/// One result a check and part: the one with the least margin over every preset.
fn worst_of_each(mut results: Vec<CheckResult>) -> Vec<CheckResult> {
    crate::study::watch::worst_first(&mut results);
    let mut kept: Vec<CheckResult> = Vec::new();
    for r in results {
        let bare = |r: &CheckResult| {
            r.part
                .as_deref()
                .map(|p| p.split('[').next().unwrap_or(p).to_owned())
        };
        if !kept.iter().any(|k| k.id == r.id && bare(k) == bare(&r)) {
            kept.push(r);
        }
    }
    kept
}
