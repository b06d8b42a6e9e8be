//! A prop folder: which files belong together.

use super::catalogue::CatalogueText;
use super::cues::{read_cues, CueTrace};
use super::diag::{near_miss, InputError, InputErrors, Source};
use super::file::read_with;
use super::preset::{read_preset, PresetFile, StripMap};
use super::prop::Prop;
use super::sounds::{cue_of_file, read_sound, SoundTrace};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A preset file under the name it is known by.
#[derive(Debug, Clone)]
pub struct NamedPreset {
    /// File name without its ending.
    pub name: String,
    /// What it says.
    pub file: PresetFile,
    /// The cue traces it is played with.
    pub cues: Vec<CueTrace>,
}

/// Which files to take instead of the folder's own.
#[derive(Debug, Clone, Default)]
pub struct Choice {
    /// Build file.
    pub build: Option<PathBuf>,
    /// Variant to lay over it.
    pub variant: Option<String>,
    /// Presets by name or file; all where empty.
    pub presets: Vec<String>,
    /// Cue trace for every preset.
    pub cues: Option<PathBuf>,
    /// The user's own catalogue folder.
    pub parts: Option<PathBuf>,
}

/// Largest file that is read whole, bytes. Build files, presets and cue traces are small; this bounds memory.
const LARGEST_TEXT: u64 = 64 << 20;

/// Reads a file whole, naming it as the user did.
///
/// # Errors
/// The file is missing, unreadable or too large.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, InputErrors> {
    let fail = |why: String, help: &str| fault_of(path, &why, help);
    let meta = std::fs::metadata(path).map_err(|e| {
        fail(
            format!("cannot be read: {e}"),
            &format!("check the path; {}", whereabouts(path)),
        )
    })?;
    if meta.is_dir() {
        return Err(fail("is a folder, not a file".into(), "name a file"));
    }
    let too_large = |size: String| {
        let limit = LARGEST_TEXT >> 20;
        fail(
            format!("is {size} MB, more than the {limit} MB that are read"),
            "is it the right file?",
        )
    };
    if meta.len() > LARGEST_TEXT {
        return Err(too_large((meta.len() >> 20).to_string()));
    }
    // A device or a file that grows meanwhile says less than it gives: never more than the limit is taken.
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(LARGEST_TEXT + 1).read_to_end(&mut bytes))
        .map_err(|e| fail(format!("cannot be read: {e}"), "check its permissions"))?;
    if bytes.len() as u64 > LARGEST_TEXT {
        return Err(too_large(format!("over {}", LARGEST_TEXT >> 20)));
    }
    Ok(bytes)
}

/// Where a file of its kind is found.
fn whereabouts(path: &Path) -> &'static str {
    match path.extension().and_then(|e| e.to_str()) {
        Some("lwpk") => "`lampwright pack PROP --out FILE.lwpk` writes a packed prop",
        _ => "a prop is a folder with build.toml, presets/ and cues/",
    }
}

fn fault_of(path: &Path, why: &str, help: &str) -> InputErrors {
    InputError::whole(format!("{}: {why}", path.display()))
        .help(help)
        .into()
}

/// Reads a text file, naming it as the user did.
///
/// # Errors
/// The file is missing, unreadable, too large or not UTF-8.
pub fn read_text(path: &Path) -> Result<Source, InputErrors> {
    let bytes = read_bytes(path)?;
    let bytes = bytes
        .strip_prefix(b"\xef\xbb\xbf")
        .map(<[u8]>::to_vec)
        .unwrap_or(bytes);
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Source::new(path.display().to_string(), text)),
        Err(error) => {
            let good = error.utf8_error().valid_up_to();
            let line = error
                .as_bytes()
                .get(..good)
                .unwrap_or_default()
                .iter()
                .filter(|b| **b == b'\n')
                .count()
                + 1;
            let why = format!("is not UTF-8 text: line {line} has a byte that is no character");
            Err(fault_of(path, &why, "save the file as UTF-8"))
        }
    }
}

/// Reads the prop of a folder.
///
/// # Errors
/// Every fault of the build file.
pub fn read_prop(folder: &Path, choice: &Choice) -> Result<Prop, InputErrors> {
    if choice.build.is_none() && !folder.is_dir() {
        let what = if folder.exists() {
            "is not a folder"
        } else {
            "does not exist"
        };
        let error = InputError::whole(format!("{}: {what}", folder.display()));
        return Err(error
            .help("name the folder of a prop; `lampwright new FOLDER` starts one")
            .into());
    }
    let path = choice
        .build
        .clone()
        .unwrap_or_else(|| folder.join("build.toml"));
    let source = read_text(&path)?;
    let catalogue = CatalogueText::with(Some(folder), choice.parts.as_deref())?;
    let mut prop = read_with(&source, choice.variant.as_deref(), &catalogue)?;
    prop.sound.traces = sounds(folder)?;
    Ok(prop)
}

/// The sound traces of a folder, if it has any.
fn sounds(folder: &Path) -> Result<Vec<SoundTrace>, InputErrors> {
    let mut traces = Vec::new();
    let mut errors = Vec::new();
    for path in files_in(&folder.join("sounds"), "csv") {
        let read = match cue_of_file(&path) {
            Ok(cue) => read_text(&path).and_then(|source| read_sound(&source, cue)),
            Err(error) => Err((*error).into()),
        };
        match read {
            Ok(trace) => traces.push(trace),
            Err(InputErrors(more)) => errors.extend(more),
        }
    }
    if errors.is_empty() {
        Ok(traces)
    } else {
        Err(InputErrors(errors))
    }
}

/// Reads the presets of a folder with their cue traces.
///
/// # Errors
/// Every fault of every preset and cue trace.
pub fn read_presets(
    folder: &Path,
    choice: &Choice,
    prop: &Prop,
) -> Result<Vec<NamedPreset>, InputErrors> {
    let map = StripMap::of(prop);
    each_preset(folder, choice, |path| {
        named_preset(path, folder, choice, &map)
    })
}

/// Reads the presets of a folder without their cue traces.
///
/// # Errors
/// Every fault of every preset.
pub fn read_bare_presets(
    folder: &Path,
    choice: &Choice,
    prop: &Prop,
) -> Result<Vec<NamedPreset>, InputErrors> {
    let map = StripMap::of(prop);
    each_preset(folder, choice, |path| bare_preset(path, &map))
}

fn each_preset(
    folder: &Path,
    choice: &Choice,
    read: impl Fn(&Path) -> Result<NamedPreset, InputErrors>,
) -> Result<Vec<NamedPreset>, InputErrors> {
    let mut presets = Vec::new();
    let mut errors = Vec::new();
    for path in preset_paths(folder, choice)? {
        match read(&path) {
            Ok(preset) => presets.push(preset),
            Err(InputErrors(more)) => errors.extend(more),
        }
    }
    if errors.is_empty() {
        Ok(presets)
    } else {
        Err(InputErrors(errors))
    }
}

fn named_preset(
    path: &Path,
    folder: &Path,
    choice: &Choice,
    map: &StripMap,
) -> Result<NamedPreset, InputErrors> {
    let mut preset = bare_preset(path, map)?;
    for path in cue_paths(folder, choice, &preset.file, path)? {
        preset.cues.push(read_cues(&read_text(&path)?)?);
    }
    Ok(preset)
}

fn bare_preset(path: &Path, map: &StripMap) -> Result<NamedPreset, InputErrors> {
    let name = path.file_stem();
    Ok(NamedPreset {
        file: read_preset(&read_text(path)?, map)?,
        name: name.map_or_else(String::new, |s| s.to_string_lossy().into_owned()),
        cues: Vec::new(),
    })
}

/// Reads a cue trace, or where none is named every one of the folder's `cues`.
///
/// # Errors
/// Every fault of the first faulty file, or that there is none.
pub fn read_cue_traces(folder: &Path, named: Option<&Path>) -> Result<Vec<CueTrace>, InputErrors> {
    let dir = folder.join("cues");
    let paths = match named {
        Some(path) => vec![path.to_owned()],
        None => files_in(&dir, "csv"),
    };
    if paths.is_empty() {
        let error = InputError::whole(format!("{}: holds no cue trace (*.csv)", dir.display()));
        return Err(error.help("add one, or give --cues FILE").into());
    }
    paths
        .iter()
        .map(|path| read_cues(&read_text(path)?))
        .collect()
}

/// The files of a folder with an ending, in the order of their names.
pub(super) fn files_in(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|e| e.path());
    let mut paths: Vec<PathBuf> = entries
        .filter(|p| p.extension().is_some_and(|e| e == ending) && p.is_file())
        .collect();
    paths.sort();
    paths
}

fn preset_paths(folder: &Path, choice: &Choice) -> Result<Vec<PathBuf>, InputErrors> {
    let dir = folder.join("presets");
    let known = files_in(&dir, "toml");
    if choice.presets.is_empty() {
        if known.is_empty() {
            let error = InputError::whole(format!("{}: holds no preset (*.toml)", dir.display()));
            return Err(error
                .help("add one, or give --preset FILE or --frames FILE")
                .into());
        }
        return Ok(known);
    }
    let mut out = Vec::new();
    for wanted in &choice.presets {
        let by_name = known.iter().find(|p| {
            p.file_stem()
                .is_some_and(|s| s.to_string_lossy() == wanted.as_str())
        });
        let as_file = PathBuf::from(wanted);
        match by_name {
            Some(path) => out.push(path.clone()),
            None if as_file.is_file() => out.push(as_file),
            None => {
                let names: Vec<String> = known
                    .iter()
                    .filter_map(|p| Some(p.file_stem()?.to_string_lossy().into_owned()))
                    .collect();
                let help = match near_miss(wanted, names.iter().map(String::as_str)) {
                    Some(near) => format!("did you mean \"{near}\"? Presets: {}", names.join(", ")),
                    None => format!("presets in {}: {}", dir.display(), names.join(", ")),
                };
                return Err(
                    InputError::whole(format!("there is no preset \"{wanted}\""))
                        .help(help)
                        .into(),
                );
            }
        }
    }
    Ok(out)
}

fn cue_paths(
    folder: &Path,
    choice: &Choice,
    file: &PresetFile,
    preset: &Path,
) -> Result<Vec<PathBuf>, InputErrors> {
    if let Some(path) = &choice.cues {
        return Ok(vec![path.clone()]);
    }
    let dir = folder.join("cues");
    let known = files_in(&dir, "csv");
    if file.cues.is_empty() {
        if known.is_empty() {
            let error = InputError::whole(format!("{}: holds no cue trace (*.csv)", dir.display()));
            return Err(error
                .help(format!(
                    "add one, name one in {}, or give --cues FILE",
                    preset.display()
                ))
                .into());
        }
        return Ok(known);
    }
    file.cues
        .iter()
        .map(|name| {
            let path = dir.join(name);
            if path.is_file() {
                return Ok(path);
            }
            let names: Vec<String> = known
                .iter()
                .filter_map(|p| Some(p.file_name()?.to_string_lossy().into_owned()))
                .collect();
            let near = near_miss(name, names.iter().map(String::as_str))
                .map(|n| format!("did you mean \"{n}\"? "));
            let error = InputError::whole(format!(
                "{} names the cue trace \"{name}\", which is not in {}",
                preset.display(),
                dir.display()
            ));
            Err(error
                .help(format!(
                    "{}cue traces there: {}",
                    near.unwrap_or_default(),
                    names.join(", ")
                ))
                .into())
        })
        .collect()
}
