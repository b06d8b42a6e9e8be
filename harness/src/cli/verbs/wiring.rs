//! `wiring`: check the drawing, draw it, and list what to cut, solder and measure.

pub(in crate::cli) mod sheets;

use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::cli::args::{Paper, TextFormat, WiringArgs};
use crate::cli::exit::Exit;
use crate::cli::load::{layout_of, load_wiring, Loaded, Play};
use crate::cli::{print, progress, VerbError};
use crate::report::diagram::{lay_out, sheet, PaperSize, SheetWords, A4, LETTER};
use crate::report::findings::{wiring_json, wiring_text};
use crate::report::output::Output;
use crate::report::picture::{to_pdf, to_png, PictureError};
use crate::study::rules::{findings, load_findings, Finding, Severity};
use crate::study::steady::{watch_steady, Steady};
use crate::study::verdict::CheckResult;
use crate::study::watch::watch;
use crate::study::worst_frame::WorstFrame;
use std::io::{self, Write as _};
use std::path::Path;

/// Runs the verb.
pub(in crate::cli) fn run(args: &WiringArgs) -> Result<Exit, VerbError> {
    let loaded = load_wiring(&args.prop)?;
    if args.cut_list || args.joints || args.bench || args.judge.is_some() {
        return sheets::run(args, &loaded);
    }
    if let Some(out) = &args.out {
        diagram(args, &loaded, out)?;
    }
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
        if !kept
            .iter()
            .any(|k| k.id == r.id && k.bare_part() == r.bare_part())
        {
            kept.push(r);
        }
    }
    kept
}

/// Draws the diagram into a file; its ending says as what.
fn diagram(args: &WiringArgs, loaded: &Loaded, out: &Path) -> Result<(), VerbError> {
    let prop = &loaded.prop;
    let (currents, words) = if args.currents {
        let worst = worst_frame(loaded)?;
        let words = SheetWords {
            currents: Some(format!("Currents: {}", worst.1)),
        };
        (worst.0, words)
    } else {
        (Vec::new(), SheetWords::default())
    };
    let paper = paper(args.paper);
    let svg = sheet(prop, &lay_out(prop, &currents), paper, &words);
    let ending = out.extension().map(|e| e.to_string_lossy().to_lowercase());
    let failed = |e: PictureError| VerbError::Tool(e.to_string());
    let bytes = match ending.as_deref() {
        Some("svg") => svg.into_bytes(),
        Some("png") => to_png(&svg, 2.0).map_err(failed)?,
        Some("pdf") => {
            to_pdf(&[svg], &format!("Wiring diagram of {}", prop.name)).map_err(failed)?
        }
        _ => {
            let error = InputError::whole(format!("{} is no kind of picture", out.display()));
            return Err(InputErrors::from(error.help("end the name in .svg, .png or .pdf")).into());
        }
    };
    write(out, &bytes)
}

fn paper(size: Paper) -> PaperSize {
    match size {
        Paper::A4 => A4,
        Paper::Letter => LETTER,
    }
}

/// Writes a whole file, or nothing.
fn write(path: &Path, bytes: &[u8]) -> Result<(), VerbError> {
    let failed = |error: io::Error| VerbError::Write {
        name: path.display().to_string(),
        error,
    };
    let mut output = Output::create(path).map_err(failed)?;
    output.write_all(bytes).map_err(failed)?;
    output.finish().map_err(failed)
}

/// The current of each wire in the frame in which the cell gives most, nominal case; and what was played.
pub(in crate::cli) fn worst_frame(
    loaded: &Loaded,
) -> Result<(Vec<Option<f64>>, String), VerbError> {
    let prop = &loaded.prop;
    let mut worst = WorstFrame::new(prop);
    if loaded.plays.is_empty() {
        if prop.pixels() > 0 {
            worst.play(
                &mut Steady::all_at(layout_of(prop)?, loaded.cap),
                "every pixel at the cap",
            )?;
        }
    } else {
        for play in &loaded.plays {
            let name = play.preset_name().unwrap_or_else(|| play.cues_name());
            let mut stream = play.open(prop, loaded.cap)?;
            worst.play(stream.as_mut(), &name)?;
        }
    }
    Ok((worst.currents(), worst.played().to_owned()))
}
