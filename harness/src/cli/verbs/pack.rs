//! `pack` and `unpack`: what is flashed, and back to text.

use crate::build::diag::{near_miss, InputError, InputErrors};
use crate::build::folder::{read_bare_presets, read_bytes, read_prop, Choice};
use crate::build::pack::{check_names, read_packed, rust_constants, PackedPreset, PackedProp};
use crate::build::preset::StripMap;
use crate::cli::args::{PackArgs, TextFormat, UnpackArgs};
use crate::cli::exit::Exit;
use crate::cli::own_parts::tell;
use crate::cli::{print, VerbError};
use crate::profile::board_data::board_data;
use crate::report::output::Output;
use crate::report::packed::{packed_json, packed_text};
use crate::units::{parse, Current, Quantity};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Runs `pack`.
pub(in crate::cli) fn run(args: &PackArgs) -> Result<Exit, VerbError> {
    let packed = gather(args)?;
    let bytes = packed.to_bytes().map_err(|e| {
        let error = InputError::whole(format!("{} cannot be packed: {e}", args.prop.display()));
        InputErrors::from(error.help("see the limits under \"Packed props\" in FORMATS.md"))
    })?;
    // Both files are opened before either is put in its place.
    let out = args.out.as_deref().map(|p| staged(p, &bytes)).transpose()?;
    let source = rust_constants(&packed, &bytes);
    let rust = args.rust.as_deref();
    let rust = rust.map(|p| staged(p, source.as_bytes())).transpose()?;
    for (path, file) in out.into_iter().chain(rust) {
        file.finish().map_err(|error| cannot_write(path, error))?;
    }
    report(&packed, bytes.len(), args.format)?;
    if args.format == TextFormat::Text {
        let prop = args.prop.display();
        print(&format!(
            "Before flashing: lampwright check {prop} --cap {}\n",
            packed.cap
        ))?;
    }
    Ok(Exit::Holds)
}

fn gather(args: &PackArgs) -> Result<PackedProp, VerbError> {
    let budget_ua = args.budget.as_deref().map(budget).transpose()?;
    let choice = Choice {
        build: args.build.clone(),
        variant: args.variant.clone(),
        presets: args.preset.clone(),
        cues: None,
        parts: args.own.folder()?,
    };
    let prop = read_prop(&args.prop, &choice)?;
    tell(&prop, &args.prop);
    let presets: Vec<PackedPreset> = read_bare_presets(&args.prop, &choice, &prop)?
        .into_iter()
        .map(|p| PackedPreset {
            name: p.name,
            preset: p.file.preset,
            cues: p.file.cues,
        })
        .collect();
    check_names(&presets).map_err(|why| {
        InputErrors::from(InputError::whole(why).help("rename the file, or name each preset once"))
    })?;
    let board =
        board_data(&prop).map_err(|e| InputErrors::from(InputError::whole(e.to_string())))?;
    Ok(PackedProp {
        channels: StripMap::of(&prop).channels,
        cap: args.cap.unwrap_or(prop.cap),
        prop: prop.name,
        budget_ua,
        board,
        presets,
    })
}

/// A budget as typed, in µA, rounded down.
fn budget(text: &str) -> Result<u32, InputErrors> {
    let fail =
        |why: String| InputErrors::from(InputError::whole(why).help("write --budget \"1.2 A\""));
    let amps = parse::<Current>(text)
        .map_err(|e| fail(format!("--budget: {e}")))?
        .si();
    // The product of a decimal and a million may come out a hair below a whole number.
    let ua = (amps * 1e6 + 1e-6).floor();
    if !(1.0..=f64::from(u32::MAX)).contains(&ua) {
        return Err(fail(format!(
            "--budget is {text}, but must lie from 1 µA to 4294 A"
        )));
    }
    Ok(ua as u32)
}

/// A file written beside its place.
fn staged<'p>(path: &'p Path, bytes: &[u8]) -> Result<(&'p Path, Output), VerbError> {
    let mut file = Output::create(path).map_err(|e| cannot_write(path, e))?;
    file.write_all(bytes).map_err(|e| cannot_write(path, e))?;
    Ok((path, file))
}

fn cannot_write(path: &Path, error: std::io::Error) -> VerbError {
    VerbError::Write {
        name: path.display().to_string(),
        error,
    }
}

fn report(packed: &PackedProp, bytes: usize, format: TextFormat) -> Result<(), VerbError> {
    match format {
        TextFormat::Text => print(&packed_text(packed, bytes)),
        TextFormat::Json => print(&format!("{:#}\n", packed_json(packed, bytes))),
    }
}

/// Runs `unpack`.
pub(in crate::cli) fn unpack(args: &UnpackArgs) -> Result<Exit, VerbError> {
    let bytes = read_bytes(&args.file)?;
    let packed = read_packed(&args.file.display().to_string(), &bytes)?;
    let chosen: Vec<&PackedPreset> = match args.preset.as_deref() {
        None => packed.presets.iter().collect(),
        Some(name) => vec![find(&packed, name)?],
    };
    match (&args.out, args.preset.is_some()) {
        (Some(folder), _) => {
            let written = write_presets(&packed, &chosen, folder)?;
            report(&packed, bytes.len(), args.format)?;
            if args.format == TextFormat::Text {
                for path in written {
                    print(&format!("wrote       {}\n", path.display()))?;
                }
            }
        }
        (None, true) => {
            for preset in chosen {
                print(&packed.preset_text(preset))?;
            }
        }
        (None, false) => report(&packed, bytes.len(), args.format)?,
    }
    Ok(Exit::Holds)
}

fn find<'p>(packed: &'p PackedProp, name: &str) -> Result<&'p PackedPreset, InputErrors> {
    let found = packed.presets.iter().find(|p| p.name == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = packed.presets.iter().map(|p| p.name.as_str()).collect();
        let near = near_miss(name, names.iter().copied())
            .map(|n| format!("did you mean \"{n}\"? "))
            .unwrap_or_default();
        let error = InputError::whole(format!("no preset \"{name}\" is packed"));
        error
            .help(format!("{near}packed are: {}", names.join(", ")))
            .into()
    })
}

/// Writes presets as text, all or none.
fn write_presets(
    packed: &PackedProp,
    presets: &[&PackedPreset],
    folder: &Path,
) -> Result<Vec<PathBuf>, VerbError> {
    let path = |p: &PackedPreset| folder.join(format!("{}.toml", p.name));
    let paths: Vec<PathBuf> = presets.iter().map(|p| path(p)).collect();
    if let Some(there) = paths.iter().find(|p| p.exists()) {
        let error = InputError::whole(format!("{} is there already", there.display()));
        let help = "name another folder with --out, or move the file away";
        return Err(InputErrors::from(error.help(help)).into());
    }
    std::fs::create_dir_all(folder).map_err(|e| cannot_write(folder, e))?;
    let mut files = Vec::new();
    for (preset, path) in presets.iter().zip(&paths) {
        files.push(staged(path, packed.preset_text(preset).as_bytes())?);
    }
    for (path, file) in files {
        file.finish().map_err(|e| cannot_write(path, e))?;
    }
    Ok(paths)
}
