//! What `light` prints: light of each preset, and how uneven the rows look behind the diffuser.

use super::cautions::CAUTIONS;
use super::text::{cautions, number, BOLD};
use crate::study::diffuser::{Row, JUST_SEEN};
use crate::study::light::LightOutput;
use crate::units::light::lightness;
use serde::Serialize;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `light` document. 1: first form.
pub const LIGHT_SCHEMA: &str = "lampwright/light/1";

/// Light of a preset.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PresetLight {
    /// The preset, or the recording.
    pub preset: String,
    /// Its light before the diffuser; null where a pixel type states no intensity.
    pub light: Option<LightOutput>,
}

/// The rows of a strip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StripRows {
    /// The strip.
    pub strip: String,
    /// As drawn, and denser with the same light; null without a pitch.
    pub rows: Option<Vec<Row>>,
    /// As drawn without a cap: what the cap costs; null where there is none.
    pub uncapped: Option<Row>,
    /// Distance of a single layer at which its dots are just no longer seen, metres; null without a pitch.
    pub even_from_m: Option<f64>,
}

/// Everything that `light` found.
#[derive(Debug, Clone)]
pub struct LightReport {
    /// The prop's name.
    pub prop: String,
    /// Brightness cap.
    pub cap: u8,
    /// Each preset.
    pub presets: Vec<PresetLight>,
    /// Share of the light that passes the diffuser, where the build states one.
    pub transmission: Option<f64>,
    /// Each strip of more than one pixel, where the build states a diffuser.
    pub strips: Vec<StripRows>,
}

/// The document of `light`.
pub fn light_json(r: &LightReport) -> Value {
    json!({
        "schema": LIGHT_SCHEMA,
        "prop": r.prop,
        "cap": r.cap,
        "presets": r.presets,
        "transmission": r.transmission,
        "strips": r.strips,
        "cautions": CAUTIONS,
    })
}

/// The report as text.
pub fn light_text(r: &LightReport) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · cap {} · light along the pixels' axes, from the data sheets\n",
        r.prop, r.cap
    );
    for p in &r.presets {
        match &p.light {
            Some(l) => {
                let behind = r.transmission.map_or(String::new(), |t| {
                    format!(", behind the diffuser {} cd", number(l.mean_cd * t))
                });
                let _ = writeln!(
                    out,
                    "{BOLD}{:<20}{BOLD:#} {} cd while lit{behind} · brightest frame {} cd · lit {:.0} % of the time",
                    p.preset, number(l.mean_cd), number(l.brightest_cd), l.lit_share * 100.0
                );
            }
            None => {
                let _ = writeln!(
                    out,
                    "{:<20} not known: a pixel type states no intensity",
                    p.preset
                );
            }
        }
    }
    if r.transmission.is_none() {
        let _ = writeln!(out, "\nNo diffuser is stated; write [diffuser] with transmission and distance to see how even the light is.");
    }
    for s in &r.strips {
        strip(&mut out, s);
    }
    cautions(&mut out);
    out
}

fn strip(out: &mut String, s: &StripRows) {
    let (Some(rows), Some(even)) = (&s.rows, s.even_from_m) else {
        let _ = writeln!(out, "\n{BOLD}{}{BOLD:#}: states no pitch", s.strip);
        return;
    };
    let _ = writeln!(
        out,
        "\n{BOLD}{}{BOLD:#}: dots are just no longer seen behind one layer {:.0} mm away (unevenness {:.0} %)",
        s.strip, even * 1e3, JUST_SEEN * 100.0
    );
    let named = rows.iter().enumerate().map(|(k, row)| match k {
        0 => ("as drawn".to_owned(), row),
        _ => (format!("{} times the pixels, same light", k + 1), row),
    });
    let uncapped = s
        .uncapped
        .iter()
        .map(|row| ("as drawn, uncapped".to_owned(), row));
    for (what, row) in uncapped.chain(named) {
        let light = row.light_cd_per_m.map_or("?".to_owned(), number);
        let _ = writeln!(
            out,
            "    {what:<32} pitch {:>5.1} mm · unevenness {:>5.1} % · cap {:>3.0} · full white {} cd/m for {} A/m, dark {} A/m",
            row.pitch_m * 1e3,
            row.unevenness * 100.0,
            row.cap_for_same_light,
            light,
            number(row.white_a_per_m),
            number(row.dark_a_per_m)
        );
    }
    if let (Some(full), Some(row)) = (&s.uncapped, rows.first()) {
        let share = row.cap_for_same_light / full.cap_for_same_light;
        let _ = writeln!(
            out,
            "    the cap leaves {:.0} % of the light, CIE lightness {:.0} of 100",
            share * 100.0,
            lightness(share)
        );
    }
}
