//! Cut list, joint plan, bench sheet, and the judging of readings.

use super::{paper, write};
use crate::build::diag::{InputError, InputErrors};
use crate::build::folder::read_text;
use crate::cli::args::{TextFormat, WiringArgs};
use crate::cli::exit::Exit;
use crate::cli::load::{Loaded, Play};
use crate::cli::{print, VerbError};
use crate::report::bench_sheet::{
    bench_csv, bench_html, bench_json, bench_pages, bench_text, judged_text, read_readings,
};
use crate::report::picture::to_pdf;
use crate::report::workshop::{
    cut_list_csv, cut_list_text, joints_csv, joints_text, CUT_LIST_SCHEMA, JOINTS_SCHEMA,
};
use crate::study::bench_sheet::states::{of_stream, plain};
use crate::study::bench_sheet::{bench_sheet, judge, BenchSheet, RowVerdict};
use crate::study::workshop::cut_list::cut_list;
use crate::study::workshop::joints::joint_plan;
use serde_json::json;
use std::path::Path;

/// Makes the sheet that was asked for.
pub(super) fn run(args: &WiringArgs, loaded: &Loaded) -> Result<Exit, VerbError> {
    let name = &loaded.prop.name;
    if args.cut_list {
        let list = cut_list(&loaded.prop);
        let json = json!({ "schema": CUT_LIST_SCHEMA, "prop": name, "list": list });
        return give(
            args,
            &cut_list_text(name, &list),
            &json,
            &[("csv", &|| failed(cut_list_csv(&list)))],
        );
    }
    if args.joints {
        let plan = joint_plan(&loaded.prop).map_err(|e| InputErrors::from(InputError::whole(e)))?;
        let json = json!({ "schema": JOINTS_SCHEMA, "prop": name, "plan": plan });
        return give(
            args,
            &joints_text(name, &plan),
            &json,
            &[("csv", &|| failed(joints_csv(&plan)))],
        );
    }
    let sheet = sheet(loaded)?;
    if let Some(path) = &args.judge {
        return judged(args, loaded, &sheet, path);
    }
    let size = paper(args.paper);
    let pdf = || {
        failed(to_pdf(
            &bench_pages(name, &sheet, size.width, size.height),
            &format!("Bench sheet of {name}"),
        ))
    };
    give(
        args,
        &bench_text(name, &sheet),
        &bench_json(name, &sheet, None),
        &[
            ("csv", &|| failed(bench_csv(&sheet))),
            ("html", &|| Ok(bench_html(name, &sheet).into_bytes())),
            ("pdf", &pdf),
        ],
    )
}

fn failed<T, E: std::fmt::Display>(result: Result<T, E>) -> Result<T, VerbError> {
    result.map_err(|e| VerbError::Tool(e.to_string()))
}

type Make<'a> = &'a dyn Fn() -> Result<Vec<u8>, VerbError>;

/// Prints a sheet, or writes it in the format that the file's ending names.
fn give(
    args: &WiringArgs,
    text: &str,
    json: &serde_json::Value,
    formats: &[(&str, Make<'_>)],
) -> Result<Exit, VerbError> {
    let as_json = format!("{json:#}\n");
    let Some(out) = &args.out else {
        match args.format {
            TextFormat::Text => print(text)?,
            TextFormat::Json => print(&as_json)?,
        }
        return Ok(Exit::Holds);
    };
    let ending = out.extension().map(|e| e.to_string_lossy().to_lowercase());
    let ending = ending.unwrap_or_default();
    let bytes = match ending.as_str() {
        "txt" => anstream::adapter::strip_str(text).to_string().into_bytes(),
        "json" => as_json.into_bytes(),
        other => match formats.iter().find(|(name, _)| *name == other) {
            Some((_, make)) => make()?,
            None => {
                let known: Vec<String> = formats.iter().map(|(n, _)| format!(".{n}")).collect();
                let error =
                    InputError::whole(format!("this sheet cannot be written as {}", out.display()));
                let help = format!("end the name in .txt, .json or {}", known.join(" or "));
                return Err(InputErrors::from(error.help(help)).into());
            }
        },
    };
    write(out, &bytes)?;
    Ok(Exit::Holds)
}

/// The bench sheet for what is to be played.
pub(in crate::cli) fn sheet(loaded: &Loaded) -> Result<BenchSheet, VerbError> {
    if loaded.prop.cell().is_none() {
        let error = InputError::whole("the build has no cell, so nothing can be fed in its place");
        return Err(InputErrors::from(error.help("add [parts.cell] with kind = \"cell\"")).into());
    }
    let mut states = Vec::new();
    for play in &loaded.plays {
        let name = match play {
            Play::Preset { preset, .. } => preset.name.clone(),
            _ => play.cues_name(),
        };
        let mut stream = play.open(&loaded.prop, loaded.cap)?;
        let found = of_stream(&loaded.prop, stream.as_mut(), &name)?;
        for state in found {
            // A preset with several cue traces passes through the same states again.
            if !states
                .iter()
                .any(|s: &crate::study::bench_sheet::BenchState| s.name == state.name)
            {
                states.push(state);
            }
        }
    }
    if states.is_empty() {
        states = plain(&loaded.prop, loaded.cap);
    }
    Ok(bench_sheet(&loaded.prop, states))
}

fn judged(
    args: &WiringArgs,
    loaded: &Loaded,
    sheet: &BenchSheet,
    path: &Path,
) -> Result<Exit, VerbError> {
    let source = read_text(path)?;
    let readings = read_readings(&source.name, &source.text, sheet)?;
    let judged = judge(&loaded.prop, sheet, &readings);
    let name = &loaded.prop.name;
    let text = judged_text(name, sheet, &readings, &judged);
    let json = bench_json(name, sheet, Some((&readings, &judged)));
    give(args, &text, &json, &[])?;
    let bad = judged.rows.contains(&RowVerdict::OutOfRange);
    Ok(if bad { Exit::Fails } else { Exit::Holds })
}
