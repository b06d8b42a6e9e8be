//! A preset as text, without loss.

use super::colour;
use super::layer::edge_name;
use super::names::{
    name_of, BLENDS, DIRECTIONS, EASINGS, ORIGINS, PLACEMENTS, SHAPES, SIDES, TRANSFERS,
};
use super::value::{pixels, share, speed, time};
use super::StripMap;
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Envelope, Layer, Mask, Paint, Preset, Run, Stops, Transition, TransitionStyle, Zone,
};
use lampwright_model::{Color, Length, Share};
use std::fmt::Write as _;
use toml_writer::{TomlKeyBuilder, TomlStringBuilder, WriteTomlKey, WriteTomlValue};

/// The text of a preset. Reading it for the same strips gives the same preset, for every preset
/// that the model finds sound.
///
/// `cues` are the names of the cue traces meant for it.
pub fn write_preset(preset: &Preset, layout: &StripMap, cues: &[String]) -> String {
    let mut out = Out {
        text: String::new(),
        transfer: preset.transfer,
    };
    out.head(preset, cues);
    out.transition("rise", &preset.rise);
    out.transition("fall", &preset.fall);
    out.table("controls");
    out.word("rise-on", preset.rise_on.name());
    out.word("fall-on", preset.fall_on.name());
    out.table("zones");
    for zone in &preset.zones {
        out.zone(zone, layout);
    }
    for layer in &preset.layers {
        let zone = preset.zones.get(usize::from(layer.zone));
        out.layer(layer, zone.map_or("", |z| z.name.as_str()));
    }
    out.text
}

struct Out {
    text: String,
    transfer: Transfer,
}

impl Out {
    fn table(&mut self, name: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.text += &format!("[{name}]\n");
    }

    fn line(&mut self, key: &str, value: impl std::fmt::Display) {
        // Writing to a String cannot fail.
        let _ = writeln!(self.text, "{key} = {value}");
    }

    fn word(&mut self, key: &str, word: &str) {
        self.line(key, format_args!("\"{word}\""));
    }

    fn time(&mut self, key: &str, ms: u32) {
        self.word(key, &time(ms));
    }

    fn share(&mut self, key: &str, value: Share) {
        self.word(key, &share(value.0));
    }

    fn pixels(&mut self, key: &str, value: Length) {
        self.word(key, &pixels(u32::from(value.0)));
    }

    fn colour(&mut self, key: &str, value: Color) {
        self.line(key, colour::write(value, self.transfer));
    }

    fn head(&mut self, preset: &Preset, cues: &[String]) {
        self.table("preset");
        self.line("name", string(&preset.name));
        self.line("seed", preset.seed);
        self.word("frame-rate", &format!("{} Hz", preset.frame_rate_hz));
        self.word("transfer", name_of(TRANSFERS, &preset.transfer));
        self.line("dither", preset.dither);
        self.share("white-share", preset.white_extraction);
        if !cues.is_empty() {
            let cues: Vec<String> = cues.iter().map(|c| string(c)).collect();
            self.line("cues", format_args!("[{}]", cues.join(", ")));
        }
    }

    fn transition(&mut self, key: &str, transition: &Transition) {
        self.table(key);
        self.time("time", transition.duration_ms);
        match transition.style {
            TransitionStyle::Fade => self.word("style", "fade"),
            TransitionStyle::Sweep { from, soft } => {
                self.word("style", "sweep");
                self.word("from", name_of(ORIGINS, &from));
                self.pixels("edge", soft);
            }
        }
        self.word("easing", name_of(EASINGS, &transition.easing));
    }

    fn zone(&mut self, zone: &Zone, layout: &StripMap) {
        let runs: Vec<String> = zone.runs.iter().map(|r| run(*r, layout)).collect();
        let mut key = String::new();
        let _ = TomlKeyBuilder::new(&zone.name)
            .as_default()
            .write_toml_key(&mut key);
        self.line(&key, format_args!("[{}]", runs.join(", ")));
    }

    fn layer(&mut self, layer: &Layer, zone: &str) {
        self.text.push('\n');
        self.text.push_str("[[layers]]\n");
        self.line("zone", string(zone));
        self.word("blend", name_of(BLENDS, &layer.blend));
        self.share("opacity", layer.opacity);
        self.word("start", edge_name(layer.start));
        if let Some(end) = layer.end {
            self.word("end", edge_name(end));
        }
        if layer.by_strength {
            self.line("by-strength", true);
        }
        self.text.push_str("[layers.paint]\n");
        self.paint(&layer.paint);
        if layer.mask != Mask::Whole {
            self.text.push_str("[layers.mask]\n");
            self.mask(&layer.mask);
        }
        if layer.envelope != Envelope::Constant {
            self.text.push_str("[layers.envelope]\n");
            self.envelope(&layer.envelope);
        }
    }

    fn stops(&mut self, stops: &Stops) {
        self.text.push_str("stops = [\n");
        for stop in stops {
            let (at, colour) = (share(stop.at.0), colour::write(stop.color, self.transfer));
            let _ = writeln!(self.text, "  {{ at = \"{at}\", colour = {colour} }},");
        }
        self.text.push_str("]\n");
    }

    fn paint(&mut self, paint: &Paint) {
        match paint {
            Paint::Solid { color } => {
                self.word("kind", "solid");
                self.colour("colour", *color);
            }
            Paint::Gradient {
                stops,
                scroll_ms,
                direction,
            } => {
                self.word("kind", "gradient");
                self.stops(stops);
                self.time("scroll", *scroll_ms);
                self.word("direction", name_of(DIRECTIONS, direction));
            }
            Paint::Wave {
                low,
                high,
                wavelength,
                period_ms,
                direction,
                shape,
            } => {
                self.word("kind", "wave");
                self.colour("low", *low);
                self.colour("high", *high);
                self.pixels("wavelength", *wavelength);
                self.time("period", *period_ms);
                self.word("direction", name_of(DIRECTIONS, direction));
                self.word("shape", name_of(SHAPES, shape));
            }
            Paint::Noise {
                stops,
                grain,
                period_ms,
                octaves,
            } => {
                self.word("kind", "noise");
                self.stops(stops);
                self.pixels("grain", *grain);
                self.time("period", *period_ms);
                self.line("octaves", octaves);
            }
            Paint::Sparks {
                color,
                chance_every_ms,
                chance,
                decay,
            } => {
                self.word("kind", "sparks");
                self.colour("colour", *color);
                self.time("every", *chance_every_ms);
                self.share("chance", *chance);
                self.share("decay", *decay);
            }
            Paint::Embers {
                stops,
                patch,
                kick_every_ms,
                cooling,
                base,
                drift,
            } => {
                self.word("kind", "embers");
                self.stops(stops);
                self.pixels("patch", *patch);
                self.time("every", *kick_every_ms);
                self.share("cooling", *cooling);
                self.share("base", *base);
                self.word("drift", &speed(*drift));
            }
            Paint::Breathing {
                low,
                high,
                period_ms,
            } => {
                self.word("kind", "breathing");
                self.colour("low", *low);
                self.colour("high", *high);
                self.time("period", *period_ms);
            }
        }
    }

    fn mask(&mut self, mask: &Mask) {
        match *mask {
            Mask::Whole => self.word("kind", "whole"),
            Mask::Span { from, to, soft } => {
                self.word("kind", "span");
                self.share("from", from);
                self.share("to", to);
                self.pixels("soft", soft);
            }
            Mask::Front {
                from,
                duration_ms,
                soft,
                returning,
            } => {
                self.word("kind", "front");
                self.word("from", name_of(ORIGINS, &from));
                self.time("time", duration_ms);
                self.pixels("soft", soft);
                self.line("returning", returning);
            }
            Mask::Taper {
                towards,
                length,
                power,
            } => {
                self.word("kind", "taper");
                self.word("towards", name_of(SIDES, &towards));
                self.share("length", length);
                self.line("power", power);
            }
            Mask::Spot {
                centre,
                radius,
                soft,
                placement,
            } => {
                self.word("kind", "spot");
                self.word("placement", name_of(PLACEMENTS, &placement));
                self.share("centre", centre);
                self.pixels("radius", radius);
                self.pixels("soft", soft);
            }
        }
    }

    fn envelope(&mut self, envelope: &Envelope) {
        match *envelope {
            Envelope::Constant => self.word("kind", "constant"),
            Envelope::Adsr {
                attack_ms,
                decay_ms,
                sustain,
                release_ms,
            } => {
                self.word("kind", "adsr");
                self.time("attack", attack_ms);
                self.time("decay", decay_ms);
                self.share("sustain", sustain);
                self.time("release", release_ms);
            }
            Envelope::OneShot {
                attack_ms,
                hold_ms,
                release_ms,
            } => {
                self.word("kind", "one-shot");
                self.time("attack", attack_ms);
                self.time("hold", hold_ms);
                self.time("release", release_ms);
            }
            Envelope::Periodic {
                period_ms,
                rise,
                hold,
                fall,
            } => {
                self.word("kind", "periodic");
                self.time("period", period_ms);
                self.share("rise", rise);
                self.share("hold", hold);
                self.share("fall", fall);
            }
        }
    }
}

/// A run by its strip where it lies in one, else by its pixels in the frame.
fn run(run: Run, layout: &StripMap) -> String {
    let (start, end) = (u32::from(run.start), run.end());
    let inside = layout
        .strips
        .iter()
        .find(|s| s.first <= start && end <= s.first.saturating_add(s.pixels));
    let reversed = if run.reversed {
        ", reversed = true"
    } else {
        ""
    };
    match inside {
        Some(strip) => {
            let name = string(&strip.name);
            let (from, to) = (start - strip.first, (end - strip.first).saturating_sub(1));
            match (from == 0 && to + 1 == strip.pixels, run.reversed) {
                (true, false) => name,
                (true, true) => format!("{{ strip = {name}{reversed} }}"),
                _ => format!("{{ strip = {name}, from = {from}, to = {to}{reversed} }}"),
            }
        }
        None => format!("{{ start = {start}, length = {}{reversed} }}", run.len),
    }
}

/// A text as a TOML string on one line.
fn string(text: &str) -> String {
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = TomlStringBuilder::new(text)
        .as_basic()
        .write_toml_value(&mut out);
    out
}
