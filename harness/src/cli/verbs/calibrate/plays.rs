//! Which log shows which play, and where its voltage was measured.

use super::new_preset::calibration_files;
use crate::build::diag::{InputError, InputErrors, Place, Source};
use crate::build::measured::open_measured;
use crate::build::netlist::terminal;
use crate::build::prop::Prop;
use crate::build::supply::spot;
use crate::cli::args::{CalibrateArgs, PropArgs};
use crate::cli::load::{load, Play};
use crate::cli::VerbError;
use crate::study::calibrate::{can_tap, Frames, Tap};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A log as named on the command line.
pub(super) struct NamedLog {
    /// The file.
    pub(super) path: PathBuf,
    /// Where its voltage was measured.
    pub(super) tap: Option<Tap>,
    /// The same in the user's words.
    pub(super) tap_text: Option<String>,
    /// What to load for what it shows.
    pub(super) play: PropArgs,
}

fn bad(message: String, help: impl Into<String>) -> VerbError {
    InputErrors::from(InputError::whole(message).help(help)).into()
}

/// Files in a folder with an ending, sorted.
fn files_in(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let paths = entries.map(|e| e.path());
    let mut out: Vec<PathBuf> = paths
        .filter(|p| p.extension().is_some_and(|e| e == ending))
        .collect();
    out.sort();
    out
}

/// The logs that were named, else all of the prop's folder.
pub(super) fn named_logs(args: &CalibrateArgs, prop: &Prop) -> Result<Vec<NamedLog>, VerbError> {
    let mut texts = args.measured.clone();
    if texts.is_empty() {
        let folder = args.prop.prop.join("measured");
        let own = files_in(&folder, "csv");
        texts.extend(own.iter().map(|p| p.display().to_string()));
        if texts.is_empty() {
            return Err(bad(
                format!("{}: holds no measured trace (*.csv)", folder.display()),
                "put the logs there, or name them: --measured FILE",
            ));
        }
    }
    let each = texts.into_iter().map(|text| {
        let (path, tap_text) = match text.rsplit_once('=') {
            Some((path, points)) if points.contains(':') && !Path::new(&text).exists() => {
                (PathBuf::from(path), Some(points.to_owned()))
            }
            _ => (PathBuf::from(&text), None),
        };
        let tap = tap_text.as_deref().map(|t| tap_of(t, prop)).transpose()?;
        // Which preset it shows is no question about a log that is not there.
        open_measured(&path)?;
        let play = play_of(args, &path)?;
        Ok(NamedLog {
            path,
            tap,
            tap_text,
            play,
        })
    });
    each.collect()
}

/// The two terminals of a voltage, plus first.
pub(super) fn tap_of(text: &str, prop: &Prop) -> Result<Tap, VerbError> {
    let (plus, minus) = text.split_once(':').unwrap_or((text, ""));
    let point = |name: &str| {
        let start = text.find(name).unwrap_or(0);
        let place = Place {
            source: Source::new("terminals of the voltage", text),
            span: start..start + name.len(),
        };
        terminal(name, &place, &prop.parts, &BTreeSet::new())
            .map(|t| spot(&t))
            .map_err(|e| VerbError::from(InputErrors::from(*e)))
    };
    let tap = (point(plus)?, point(minus)?);
    let known = can_tap(prop, &tap).map_err(|e| bad(e.to_string(), "mend the wiring first"))?;
    if !known {
        return Err(bad(
            format!("the voltage at {text}: no supply wire ends at one of these terminals"),
            "name terminals where wires end, such as column.plus:column.minus",
        ));
    }
    Ok(tap)
}

/// What to load for what a log shows: what was named, the calibration preset, or the preset that its name
/// begins with.
fn play_of(args: &CalibrateArgs, log: &Path) -> Result<PropArgs, VerbError> {
    let named = &args.prop;
    if !named.preset.is_empty() || named.frames.is_some() {
        return Ok(named.clone());
    }
    let stem = log
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    let (preset, cues) = calibration_files(&named.prop);
    if stem.starts_with("calibration") && preset.is_file() {
        return Ok(PropArgs {
            preset: vec![preset.display().to_string()],
            cues: Some(named.cues.clone().unwrap_or(cues)),
            ..named.clone()
        });
    }
    let presets = files_in(&named.prop.join("presets"), "toml");
    let names: Vec<String> = presets
        .iter()
        .filter_map(|p| Some(p.file_stem()?.to_string_lossy().into_owned()))
        .collect();
    let meant = names
        .iter()
        .filter(|n| stem.starts_with(n.as_str()))
        .max_by_key(|n| n.len());
    match meant {
        Some(name) => Ok(PropArgs {
            preset: vec![name.clone()],
            ..named.clone()
        }),
        None => Err(bad(
            format!("{}: which preset does it show?", log.display()),
            format!(
                "say --preset NAME, or let the log's name begin with the preset's; presets: {}; a log of the calibration preset is called calibration*.csv",
                names.join(", ")
            ),
        )),
    }
}

/// The frames of every play, each once, and for each log which one it shows.
pub(super) fn frames_of(
    args: &CalibrateArgs,
    named: &[NamedLog],
) -> Result<(Vec<Frames>, Vec<usize>), VerbError> {
    let mut frames: Vec<Frames> = Vec::new();
    let mut keys: Vec<(Vec<String>, Option<PathBuf>)> = Vec::new();
    let mut shown = Vec::new();
    for log in named {
        let key = (log.play.preset.clone(), log.play.frames.clone());
        if let Some(k) = keys.iter().position(|k| *k == key) {
            shown.push(k);
            continue;
        }
        let loaded = load(&log.play)?;
        let play = match loaded.plays.as_slice() {
            [play] => play,
            plays => {
                let cues: Vec<String> = plays.iter().map(Play::cues_name).collect();
                return Err(bad(
                    format!(
                        "{} shows one play, but there are {}: {}",
                        log.path.display(),
                        plays.len(),
                        cues.join(", ")
                    ),
                    "choose one preset with --preset and one cue trace with --cues",
                ));
            }
        };
        let cap = args.prop.cap.unwrap_or(loaded.cap);
        let mut stream = play.open(&loaded.prop, cap)?;
        let name = match play.preset_name() {
            Some(preset) => format!("{preset} with {}", play.cues_name()),
            None => play.cues_name(),
        };
        frames.push(Frames::read(&name, stream.as_mut())?);
        keys.push(key);
        shown.push(frames.len() - 1);
    }
    Ok((frames, shown))
}
