//! `runtime`: how long the cell lasts.

use super::cap::{refuse_faults, refuse_pipe};
use crate::build::diag::{InputError, InputErrors};
use crate::cli::args::{RuntimeArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded};
use crate::cli::{picture, print, progress, VerbError};
use crate::profile::condition::Condition;
use crate::report::runtime::{runtime_json, runtime_text, RuntimeReport, Share};
use crate::report::runtime_picture::runtime_picture;
use crate::study::runtime::{runtime, standby, usage};
use crate::study::trace::Trace;

/// Runs the verb.
pub(in crate::cli) fn run(args: &RuntimeArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "runtime")?;
    picture::check_ending(args.picture.as_deref())?;
    let loaded = load(&args.prop)?;
    refuse_faults(&loaded)?;
    unknown_presets(
        &loaded,
        args.prop.preset.is_empty() && args.prop.frames.is_none() && args.prop.capture.is_none(),
    )?;
    let prop = &loaded.prop;
    let traces: Vec<&dyn Trace> = loaded.plays.iter().map(|p| p as &dyn Trace).collect();
    let uses = usage(prop, &traces);
    let cautious = Condition::cautious_set(&prop.conditions);
    let mut conditions = vec![Condition::nominal()];
    // The cautious ones at full charge: cold and hot.
    conditions.extend(cautious.into_iter().filter(|c| c.soc >= 1.0));
    let bar = progress::count(conditions.len() as u64, "conditions");
    let mut runtimes = Vec::new();
    for condition in conditions {
        runtimes.push(runtime(prop, &uses, condition, loaded.cap)?);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let report = RuntimeReport {
        prop: prop.name.clone(),
        cap: loaded.cap,
        usage: uses
            .iter()
            .map(|u| Share {
                preset: u.trace.preset_name().unwrap_or_else(|| u.trace.cues_name()),
                cues: u.trace.cues_name(),
                share: u.share,
            })
            .collect(),
        runtimes,
        standby: standby(prop)?,
    };
    if let Some(path) = &args.picture {
        picture::write(path, &runtime_picture(&report).to_svg())?;
    }
    match args.format {
        TextFormat::Text => print(&runtime_text(&report))?,
        TextFormat::Json => print(&format!("{:#}\n", runtime_json(&report)))?,
    }
    Ok(Exit::Holds)
}

/// A name in `[usage]` that is no preset would leave its time dark without a word.
fn unknown_presets(loaded: &Loaded, all: bool) -> Result<(), VerbError> {
    let names: Vec<String> = loaded
        .plays
        .iter()
        .filter_map(|p| p.preset_name())
        .collect();
    let unknown = loaded
        .prop
        .usage
        .iter()
        .find(|(n, _)| n != "off" && !names.contains(n));
    match unknown {
        Some((name, _)) if all => {
            let error = InputError::whole(format!(
                "[usage] names `{name}`, which is not a preset of this prop"
            ));
            let help = format!(
                "its presets are {}; the time in which it is dark is `off`",
                names.join(", ")
            );
            Err(InputErrors::from(error.help(help)).into())
        }
        _ => Ok(()),
    }
}
