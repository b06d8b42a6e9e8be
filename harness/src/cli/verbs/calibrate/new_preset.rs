//! The calibration preset of a prop, as bright as harms nothing.

use super::Bench;
use crate::build::cues::read_cues;
use crate::build::diag::{InputError, InputErrors, Source};
use crate::build::folder::{read_prop, Choice, NamedPreset};
use crate::build::preset::{read_preset, StripMap};
use crate::build::prop::Prop;
use crate::cli::args::{CalibrateArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::Play;
use crate::cli::{print, progress, VerbError};
use crate::profile::condition::Condition;
use crate::report::output::Output;
use crate::study::calibrate::{calibration_cues, calibration_preset, step_count, STEP_S};
use crate::study::verdict::Verdict;
use crate::study::watch::watch_each;
use crate::units::Quantity;
use serde_json::json;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Version of the document that is printed. 1: first form.
const SCHEMA: &str = "lampwright/calibration-preset/1";

/// Checks of what too much current harms or stops. A colour that shifts, a runtime or the warmth of hours of play
/// do not matter for a minute on the bench.
const HARM: [&str; 9] = [
    "cell-continuous",
    "cell-pulse",
    "protection-trip",
    "fuse-hold",
    "wire-current",
    "contact-current",
    "rail-current",
    "board-supply",
    "supply-collapse",
];

/// Where a prop's calibration preset and its cue trace lie.
pub(super) fn calibration_files(prop: &Path) -> (PathBuf, PathBuf) {
    let folder = prop.join("calibration");
    (
        folder.join("calibration.toml"),
        folder.join("calibration.csv"),
    )
}

/// Writes the preset and its cue trace.
pub(super) fn run(args: &CalibrateArgs) -> Result<Exit, VerbError> {
    let choice = Choice {
        build: args.prop.build.clone(),
        variant: args.prop.variant.clone(),
        parts: args.prop.own.folder()?,
        ..Choice::default()
    };
    let prop = read_prop(&args.prop.prop, &choice)?;
    let (preset, cues) = calibration_files(&args.prop.prop);
    for path in [&preset, &cues] {
        if path.symlink_metadata().is_ok() {
            let error = InputError::whole(format!("{}: is there already", path.display()));
            return Err(InputErrors::from(
                error.help("move it away first; nothing is overwritten"),
            )
            .into());
        }
    }
    let condition = Condition {
        cautious: true,
        wire_length_tolerance: prop.conditions.wire_length_tolerance.si(),
        ..Bench::of(args)?.circumstances.condition
    };
    let level = safe_level(&prop, condition, args.prop.cap.unwrap_or(prop.cap))?;
    let channels = prop.frame_channels();
    if let Some(folder) = preset.parent() {
        std::fs::create_dir_all(folder).map_err(|error| VerbError::Write {
            name: folder.display().to_string(),
            error,
        })?;
    }
    write(
        &preset,
        &calibration_preset(&prop.name, prop.pixels(), channels, level),
    )?;
    write(&cues, &calibration_cues(channels))?;
    let steps = step_count(channels);
    let seconds = f64::from(steps) * STEP_S;
    match args.format {
        TextFormat::Json => print(&format!(
            "{:#}\n",
            json!({ "schema": SCHEMA, "preset": preset, "cues": cues, "level": level, "steps": steps, "seconds": seconds })
        ))?,
        TextFormat::Text => print(&format!(
            "{}: {steps} steps in {seconds:.0} s, full light at level {level} of 255: the brightest that overloads nothing on this bench.\n\
             Put it on the board, start the log, press once, and log current and cell voltage until it is dark again.\n\
             Then: lampwright calibrate {} --measured calibration.csv (or keep the log as {})\n\
             Flashing light: whoever is sensitive to it should not watch.\n",
            preset.display(),
            args.prop.prop.display(),
            args.prop.prop.join("measured").join("calibration.csv").display()
        ))?,
    }
    Ok(Exit::Holds)
}

fn write(path: &Path, text: &str) -> Result<(), VerbError> {
    let fail = |error| VerbError::Write {
        name: path.display().to_string(),
        error,
    };
    let mut out = Output::create(path).map_err(fail)?;
    out.write_all(text.as_bytes()).map_err(fail)?;
    out.finish().map_err(fail)
}

/// Whether a play at a cap leaves everything unharmed on the bench, or what it harms.
fn harmed(
    prop: &Prop,
    play: &Play,
    condition: Condition,
    cap: u8,
) -> Result<Option<String>, VerbError> {
    let mut stream = play.open(prop, cap)?;
    let each = watch_each(
        prop,
        play.preset(),
        vec![condition],
        stream.as_mut(),
        &|_| {},
    )?;
    let bad = each
        .into_iter()
        .flatten()
        .find(|r| r.verdict == Verdict::Fails && HARM.contains(&r.id));
    Ok(bad.map(|r| match r.part {
        Some(part) => format!("{} of {part}", r.id),
        None => r.id.to_owned(),
    }))
}

/// The highest cap that harms nothing; harm grows with light, so halving finds it.
fn highest_safe(prop: &Prop, play: &Play, condition: Condition) -> Result<u8, VerbError> {
    if let Some(why) = harmed(prop, play, condition, 1)? {
        let error = InputError::whole(format!(
            "no calibration preset is safe on this prop: {why} fails at any brightness"
        ));
        let help = "see `lampwright check` and `lampwright wiring`; mend that first";
        return Err(InputErrors::from(error.help(help)).into());
    }
    let (mut low, mut high) = (1_u8, u8::MAX);
    while low < high {
        let middle = high - (high - low) / 2;
        match harmed(prop, play, condition, middle)? {
            None => low = middle,
            Some(_) => high = middle - 1,
        }
    }
    Ok(low)
}

/// The level of full light at which the pattern harms nothing on the bench, on a board set to `board_cap`.
fn safe_level(prop: &Prop, condition: Condition, board_cap: u8) -> Result<u8, VerbError> {
    let channels = prop.frame_channels();
    let text = calibration_preset(&prop.name, prop.pixels(), channels, u8::MAX);
    let file = read_preset(
        &Source::new("the calibration preset", text),
        &StripMap::of(prop),
    )?;
    let cues = read_cues(&Source::new("its cue trace", calibration_cues(channels)))?;
    let play = Play::Preset {
        preset: Box::new(NamedPreset {
            name: "calibration".to_owned(),
            file,
            cues: vec![cues.clone()],
        }),
        cues,
    };
    let bar = progress::bar(None, "how bright it may be");
    let found = highest_safe(prop, &play, condition);
    bar.finish_and_clear();
    let cap = found?;
    // The board's own cap dims the pattern once more.
    let level = u32::from(cap) * 255 / u32::from(board_cap.max(1));
    Ok(u8::try_from(level).unwrap_or(u8::MAX))
}
