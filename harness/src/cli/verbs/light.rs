//! `light`: what each preset gives, and how even it looks behind the diffuser.

use super::cap::refuse_pipe;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::PartKind;
use crate::cli::args::{LightArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::load;
use crate::cli::{picture, print, VerbError};
use crate::report::light::{light_json, light_text, LightReport, PresetLight, StripRows};
use crate::report::light_picture::light_picture;
use crate::study::diffuser::{distance_for_even, rows};
use crate::study::light::light_of;
use crate::units::Quantity;

/// Runs the verb.
pub(in crate::cli) fn run(args: &LightArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "light")?;
    picture::check_ending(args.picture.as_deref())?;
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
                uncapped: rows(strip, diffuser, u8::MAX)
                    .and_then(|r| r.into_iter().next())
                    .filter(|_| loaded.cap < u8::MAX),
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
    if let Some(path) = &args.picture {
        let Some(drawn) = light_picture(&report) else {
            let error = InputError::whole("there is no row of pixels behind a diffuser to draw");
            let help =
                "write [diffuser] with transmission and distance, and a pitch for the strips";
            return Err(InputErrors::from(error.help(help)).into());
        };
        picture::write(path, &drawn.to_svg())?;
    }
    match args.format {
        TextFormat::Text => print(&light_text(&report))?,
        TextFormat::Json => print(&format!("{:#}\n", light_json(&report)))?,
    }
    Ok(Exit::Holds)
}
