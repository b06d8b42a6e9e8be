//! `cap`: the highest safe brightness.

use crate::build::diag::{InputError, InputErrors};
use crate::cli::args::{CapArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::load;
use crate::cli::{print, progress, VerbError};
use crate::report::json::cap_json;
use crate::report::text::cap_text;
use crate::study::cap::find_cap;
use crate::study::rules::{findings, Severity};
use crate::study::watch::watch;
use std::path::Path;

/// Runs the verb.
pub(in crate::cli) fn run(args: &CapArgs) -> Result<Exit, VerbError> {
    if args.prop.frames.as_deref() == Some(Path::new("-")) {
        let error = InputError::whole("cap plays the frames several times, which a pipe cannot do");
        return Err(
            InputErrors::from(error.help("write the frames to a file and give that")).into(),
        );
    }
    let loaded = load(&args.prop)?;
    if let Some(fault) = findings(&loaded.prop)
        .into_iter()
        .find(|f| f.severity == Severity::Fault)
    {
        let place = fault.place.map(|p| format!("{p}: ")).unwrap_or_default();
        let error = InputError::whole(format!("{place}{}: {}", fault.id, fault.message));
        return Err(InputErrors::from(error.help(fault.mend)).into());
    }
    let mut caps = Vec::new();
    for play in &loaded.plays {
        let name = play.preset_name().unwrap_or_else(|| play.cues_name());
        let mut found = find_cap(|cap| {
            let mut stream = play.open(&loaded.prop, cap)?;
            let bar = progress::bar(play.length_s(), &format!("{name}, cap {cap}"));
            let results = watch(&loaded.prop, play.preset(), stream.as_mut(), &|s| {
                bar.set_position(s as u64)
            });
            bar.finish_and_clear();
            results
        })?;
        found.preset = play.preset_name();
        found.cues = Some(play.cues_name());
        caps.push(found);
    }
    match args.format {
        TextFormat::Text => print(&cap_text(&loaded.prop.name, &caps))?,
        TextFormat::Json => print(&format!("{:#}\n", cap_json(&loaded.prop.name, &caps)))?,
    }
    let all_mended = caps
        .iter()
        .all(|c| c.cap.is_some() && c.not_mended.is_empty());
    Ok(if all_mended { Exit::Holds } else { Exit::Fails })
}
