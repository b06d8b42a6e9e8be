//! `light`: what each preset gives, and how even it looks behind the diffuser.

use super::cap::refuse_pipe;
use crate::build::prop::PartKind;
use crate::cli::args::{LightArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::load;
use crate::cli::{print, VerbError};
use crate::report::light::{light_json, light_text, LightReport, PresetLight, StripRows};
use crate::study::diffuser::{distance_for_even, rows};
use crate::study::light::light_of;
use crate::units::Quantity;

/// Runs the verb.
pub(in crate::cli) fn run(args: &LightArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "light")?;
    let loaded = load(&args.prop)?;
    let prop = &loaded.prop;
    let mut presets = Vec::new();
    for play in &loaded.plays {
        presets.push(PresetLight {
            preset: play.preset_name().unwrap_or_else(|| play.cues_name()),
            light: light_of(prop, play.open(prop, loaded.cap)?.as_mut())?,
        });
    }
    let mut strips = Vec::new();
    for part in &prop.parts {
        let (PartKind::Strip(strip), Some(diffuser)) = (&part.kind, &prop.diffuser) else {
            continue;
        };
        if strip.pixels > 1 {
            strips.push(StripRows {
                strip: part.name.clone(),
                rows: rows(strip, diffuser, loaded.cap),
                even_from_m: strip.pitch.map(|p| distance_for_even(p.si())),
            });
        }
    }
    let report = LightReport {
        prop: prop.name.clone(),
        cap: loaded.cap,
        presets,
        transmission: prop.diffuser.as_ref().map(|d| d.transmission.si()),
        strips,
    };
    match args.format {
        TextFormat::Text => print(&light_text(&report))?,
        TextFormat::Json => print(&format!("{:#}\n", light_json(&report)))?,
    }
    Ok(Exit::Holds)
}
