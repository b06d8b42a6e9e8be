//! `check`: one line a check, the worst first.

mod html;

use crate::cli::args::{CheckArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded, Play};
use crate::cli::{print, progress, VerbError};
use crate::report::json::check_json;
use crate::report::text::{check_text, CheckReport};
use crate::study::bit_timing::bit_timing;
use crate::study::rules::{findings, Severity};
use crate::study::verdict::{CheckResult, Verdict};
use crate::study::watch::{watch, worst_first, StudyError};

/// Runs the verb.
pub(in crate::cli) fn run(args: &CheckArgs) -> Result<Exit, VerbError> {
    let loaded = load(&args.prop)?;
    let page = args.html.as_deref().map(|path| html::open(path, &loaded));
    let page = page.transpose()?;
    let found = findings(&loaded.prop);
    let faulty = found.iter().any(|f| f.severity == Severity::Fault);
    let mut each = Vec::new();
    for play in &loaded.plays {
        each.push(results(&loaded, play, faulty)?);
    }
    let mut checks = each.concat();
    worst_first(&mut checks);
    let failed = faulty || checks.iter().any(|r| r.verdict == Verdict::Fails);
    let report = CheckReport {
        prop: loaded.prop.name.clone(),
        played: played(&loaded),
        cap: loaded.cap,
        own_parts: loaded.prop.own_parts.clone(),
        findings: found,
        checks,
    };
    if let Some(page) = page {
        html::write(page, args, &loaded, &report, &each)?;
    }
    match args.format {
        TextFormat::Text => print(&check_text(&report, args.all))?,
        TextFormat::Json => print(&format!("{:#}\n", check_json(&report)))?,
    }
    Ok(if failed { Exit::Fails } else { Exit::Holds })
}

/// Results of one preset and cue trace, named after them.
fn results(loaded: &Loaded, play: &Play, faulty: bool) -> Result<Vec<CheckResult>, VerbError> {
    let mut stream = play.open(&loaded.prop, loaded.cap)?;
    let bar = progress::bar(
        play.length_s(),
        &play.preset_name().unwrap_or_else(|| play.cues_name()),
    );
    let watched = watch(&loaded.prop, play.preset(), stream.as_mut(), &|s| {
        bar.set_position(s as u64)
    });
    bar.finish_and_clear();
    let mut results = match watched {
        Ok(results) => results,
        // The wiring findings already name what is wrong; the frames cannot be solved on top of that.
        Err(StudyError::Network(error)) if faulty => {
            vec![CheckResult::not_checked(
                "supply-collapse",
                "the supply as a whole",
                "frames",
                format!("the wiring fault keeps the circuit from being solved: {error}"),
            )]
        }
        Err(error) => return Err(error.into()),
    };
    if let Play::Captured { capture, .. } = play {
        results.extend(bit_timing(&capture.decoded));
    }
    for result in &mut results {
        result.preset = play.preset_name();
        result.cues = Some(play.cues_name());
    }
    Ok(results)
}

fn played(loaded: &Loaded) -> String {
    let seconds: f64 = loaded.plays.iter().filter_map(Play::length_s).sum();
    let length = if seconds > 0.0 {
        format!(" ({seconds:.0} s of trace)")
    } else {
        String::new()
    };
    format!(
        "{}{length} · full and at its floor, cold and hot, aged, unfavourable; nominal beside",
        loaded.names()
    )
}
