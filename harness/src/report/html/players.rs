//! Each preset: its film, which plays, and its plots.

use super::markup::{e, section};
use crate::report::film::Film;
use crate::study::verdict::CheckResult;
use base64::Engine as _;
use std::fmt::Write as _;

/// One preset with one cue trace.
#[derive(Debug)]
pub struct Played {
    /// The preset, or what the recording is called.
    pub name: String,
    /// The cue trace.
    pub cues: String,
    /// Its light.
    pub film: Film,
    /// Its plots as SVG.
    pub plot: String,
    /// What must be said of its flashes.
    pub flashes: String,
    /// Whether it flashes at all.
    pub flashing: bool,
}

/// What the flash check of a preset says, in words for those who decide whether to look; and whether it flashes.
pub fn flash_words(results: &[CheckResult]) -> (String, bool) {
    let counted = results
        .iter()
        .filter(|r| r.id == "flash-rate")
        .filter_map(|r| Some((r.worst?, r.limit?)))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match counted {
        Some((most, limit)) if most > limit => (
            format!("Warning: flashing light, up to {most:.0} flashes in a second; the limit is {limit:.0}. It can trigger seizures."),
            true,
        ),
        Some((most, limit)) if most > 0.0 => (
            format!("This flashes: up to {most:.0} in a second (limit {limit:.0})."),
            true,
        ),
        Some(_) => ("No flashes after the definition of WCAG 2.2 were found.".to_owned(), false),
        None => ("Flashes were not counted.".to_owned(), true),
    }
}

pub(super) fn write(out: &mut String, played: &[Played]) {
    section(
        out,
        "presets",
        "Presets: light, currents, voltages",
        |out| {
            out.push_str("<p class=\"note\">Nothing plays by itself. Light is true to the eye: a drive level is a share of light, shown in sRGB. Pixels run from the bottom (first) to the top of each strip.</p>\n");
            for (k, p) in played.iter().enumerate() {
                one(out, k, p);
            }
        },
    );
}

fn one(out: &mut String, k: usize, p: &Played) {
    let film = &p.film;
    let strips: Vec<String> = film
        .strips
        .iter()
        .map(|s| format!("{}:{}", s.name.replace([':', '|'], " "), s.pixels))
        .collect();
    let warn = if p.flashing { " warn" } else { "" };
    let _ = write!(
        out,
        "<article class=\"play\" id=\"play-{k}\" data-preset=\"{name}\" data-cues=\"{cues}\" data-length=\"{length}\" \
         data-columns=\"{columns}\" data-strips=\"{strips}\">\n<h3>{name} <span class=\"note\">{cues}</span></h3>\n\
         <p class=\"flash{warn}\" id=\"flash-{k}\">{flashes}</p>\n\
         <div class=\"stage\"><canvas class=\"strip\" role=\"img\" aria-label=\"The strips of {name} at the play head\"></canvas></div>\n\
         <div class=\"film\"><img alt=\"Light of every pixel over {length:.0} s\" src=\"data:image/png;base64,{png}\"><span class=\"head\"></span></div>\n\
         <div class=\"controls\"><button type=\"button\" class=\"go\" aria-describedby=\"flash-{k}\">Play</button>\
         <label>Time <input type=\"range\" class=\"time\" min=\"0\" max=\"{length}\" step=\"0.01\" value=\"0\"></label>\
         <output class=\"at\">0.00 s</output></div>\n\
         <p class=\"note\">Film: {rate:.0} pictures a second, {steps} steps a colour.</p>\n\
         <figure class=\"paper\" tabindex=\"0\" aria-label=\"Currents and voltages of {name}\">{plot}</figure>\n</article>\n",
        name = e(&p.name),
        cues = e(&p.cues),
        length = film.length_s,
        columns = film.columns,
        strips = e(&strips.join("|")),
        flashes = e(&p.flashes),
        png = base64::engine::general_purpose::STANDARD.encode(&film.png),
        rate = film.rate_hz,
        steps = film.steps,
        plot = p.plot,
    );
}
