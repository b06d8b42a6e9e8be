//! What the model finds wrong with a preset, said at the place in the text it came from.
//!
//! The model names the first fault only. So the part it names is replaced by a sound one and the
//! preset checked again, until nothing is wrong: one run gives a fault of every part.

use super::layer::PLAIN;
use super::places::{Places, Section, Written};
use super::value::Unit;
use crate::build::diag::{InputError, Place, Sink};
use lampwright_model::preset::{
    Edge, Envelope, Fault, Layer, Mask, Preset, PresetError, Stop, Zone, MAX_PIXELS,
};
use lampwright_model::{Channels, State};

/// Reports every fault the model finds; `file` is the place for those of the whole.
pub(super) fn report(preset: &Preset, places: &Places, file: &Place, sink: &Sink) {
    let mut preset = preset.clone();
    // Each round mends one part of a bounded number; the bound is only there to be sure.
    for _ in 0..128 {
        let Err(fault) = preset.validate() else {
            return;
        };
        let section = mend_one(&preset, fault);
        if !places.is_tainted(section) {
            let context = Context {
                preset: &preset,
                places,
                section,
                file,
            };
            sink.push(context.error(fault));
        }
        mend(&mut preset, section, fault.field);
    }
}

/// The section a fault is in: for a layer, which of its parts.
fn mend_one(preset: &Preset, fault: PresetError) -> Section {
    let section = Section::of(fault.place);
    let Section::Layer(i) = section else {
        return section;
    };
    [Section::Paint(i), Section::Mask(i), Section::Envelope(i)]
        .into_iter()
        .find(|part| {
            let mut mended = preset.clone();
            mend(&mut mended, *part, fault.field);
            mended.validate() != Err(fault)
        })
        .unwrap_or(section)
}

/// Makes a section sound.
fn mend(preset: &mut Preset, section: Section, field: &str) {
    let sound = Preset::new("sound", preset.pixels.clamp(1, MAX_PIXELS), Channels::Rgb);
    match section {
        Section::Preset => match field {
            "name" => preset.name = sound.name,
            "pixels" => preset.pixels = sound.pixels,
            "frame_rate_hz" => preset.frame_rate_hz = sound.frame_rate_hz,
            _ => preset.zones = sound.zones,
        },
        Section::Rise => preset.rise = sound.rise,
        Section::Fall => preset.fall = sound.fall,
        Section::Zone(i) => {
            if let Some(zone) = preset.zones.get_mut(usize::from(i)) {
                // A name that files do not use.
                *zone = Zone::whole(&format!("\u{0}{i}"), 1);
            }
        }
        Section::Layer(i) => {
            with_layer(preset, i, |layer| {
                layer.zone = 0;
                layer.start = Edge::Enter(State::Rising);
            });
        }
        Section::Paint(i) => with_layer(preset, i, |layer| layer.paint = PLAIN),
        Section::Mask(i) => with_layer(preset, i, |layer| layer.mask = Mask::Whole),
        Section::Envelope(i) => {
            with_layer(preset, i, |layer| layer.envelope = Envelope::Constant);
        }
    }
}

fn with_layer(preset: &mut Preset, index: u8, change: impl FnOnce(&mut Layer)) {
    if let Some(layer) = preset.layers.get_mut(usize::from(index)) {
        change(layer);
    }
}

/// All that is needed to say what a fault is.
struct Context<'p> {
    preset: &'p Preset,
    places: &'p Places,
    section: Section,
    file: &'p Place,
}

impl Context<'_> {
    fn error(&self, fault: PresetError) -> InputError {
        let (field, entry) = self.entry_of(fault);
        let written = self.places.find(self.section, field, entry);
        let place = written.as_ref().map(|w| w.place.clone());
        let place = place
            .or_else(|| self.places.section(self.section))
            .unwrap_or_else(|| self.file.clone());
        let name = written
            .as_ref()
            .map_or_else(|| key(field).to_owned(), |w| w.path.clone());
        let (message, label, help) = words(fault.fault, field, &name, written.as_ref());
        InputError::at(place, message, label).help(help)
    }

    /// The field in the text, and which entry of it.
    fn entry_of(&self, fault: PresetError) -> (&'static str, Option<u8>) {
        match fault.fault {
            Fault::PastLastPixel { run, .. } | Fault::Overlap { run } => ("runs", Some(run)),
            Fault::OutOfOrder { stop } => ("stops", Some(stop)),
            Fault::NoWhiteChannel if fault.field == "stops" => {
                let white = self.stops().iter().position(|s| s.color.w != 0);
                ("stops.color", white.and_then(|i| u8::try_from(i).ok()))
            }
            Fault::OutOfRange { .. } if fault.field == "len" => ("runs", self.bad_run()),
            _ => (fault.field, None),
        }
    }

    fn stops(&self) -> &[Stop] {
        use lampwright_model::preset::Paint::{Embers, Gradient, Noise};
        let Section::Paint(i) = self.section else {
            return &[];
        };
        match self.preset.layers.get(usize::from(i)).map(|l| &l.paint) {
            Some(Gradient { stops, .. } | Noise { stops, .. } | Embers { stops, .. }) => stops,
            _ => &[],
        }
    }

    /// The first run whose length is out of range.
    fn bad_run(&self) -> Option<u8> {
        let Section::Zone(i) = self.section else {
            return None;
        };
        let zone = self.preset.zones.get(usize::from(i))?;
        let pixels = self.preset.pixels;
        let bad = zone
            .runs
            .iter()
            .position(|r| !(1..=pixels).contains(&r.len));
        u8::try_from(bad?).ok()
    }
}

/// Message, label and help.
fn words(
    fault: Fault,
    field: &str,
    name: &str,
    written: Option<&Written>,
) -> (String, String, String) {
    let unit = written.map_or(Unit::Count, |w| w.unit);
    match fault {
        Fault::OutOfRange { found, min, max } => out_of_range(field, name, unit, found, min, max),
        Fault::Empty => (
            format!("`{name}` must not be empty"),
            "nothing here".into(),
            match field {
                "name" => "write name = \"Quiet Harbour\"".into(),
                "stops" => "write stops = [{ at = \"0 %\", colour = \"#ff9a3c\" }]".into(),
                "zones" => "add a line such as: column = [\"column\"]".into(),
                _ => "write a list such as [\"column\"]".into(),
            },
        ),
        Fault::NameTaken => (
            "two zones have one name".into(),
            "used before".into(),
            "give each zone a name of its own".into(),
        ),
        Fault::NoSuchZone { .. } => (
            format!("`{name}` names no zone"),
            "not a zone".into(),
            "name a zone of [zones]".into(),
        ),
        Fault::PastLastPixel { end, pixels, .. } => (
            format!("`zones.{}` goes up to pixel {}, but the last pixel of the frame is {}", bare(name), end - 1, pixels.saturating_sub(1)),
            "past the last pixel".into(),
            format!("the prop's strips have {pixels} pixels together, counted from 0; make start + length at most {pixels}"),
        ),
        Fault::Overlap { .. } => (
            format!("`zones.{}` shares pixels with an earlier run of its zone", bare(name)),
            "pixels used before".into(),
            "let each pixel be in one run of a zone".into(),
        ),
        Fault::OutOfOrder { stop } => (
            format!("`{name}` lies before the stop before it"),
            format!("stop {} of the list", u32::from(stop) + 1),
            "list the stops from the lowest `at` to the highest".into(),
        ),
        Fault::NoWhiteChannel => (
            format!("`{name}` sets white, but the prop's pixels have no white channel"),
            "white is set".into(),
            "take `white` out, and mix it from red, green and blue".into(),
        ),
        Fault::NeverShows => (
            "a layer that starts on entering dark never shows".into(),
            "nothing shows in the dark".into(),
            "write start = \"rising\", another state, or a cue".into(),
        ),
        Fault::MoreThanFull { sum } => (
            format!("`rise`, `hold` and `fall` are together {:.1} % of the period", f64::from(sum) / 655.35),
            "more than 100 %".into(),
            "make them 100 % or less; what is left is the pause".into(),
        ),
    }
}

fn out_of_range(
    field: &str,
    name: &str,
    unit: Unit,
    found: u32,
    min: u32,
    max: u32,
) -> (String, String, String) {
    let [found, low, high] = [found, min, max].map(|n| unit.write(n));
    match field {
        "pixels" => (
            format!("the prop has {found} pixels or more, but a preset drives up to {high}"),
            "for this prop".into(),
            format!("take strips out of the build file until {high} pixels are left"),
        ),
        "runs" => (
            format!(
                "`zones.{}` has {found} pixels, but must have {low} to {high}",
                bare(name)
            ),
            "not a possible run".into(),
            format!("write a length from {low} to {high}"),
        ),
        "to" => (
            format!("`{name}` is {found}, which lies before `from` at {low}"),
            "before the start of the span".into(),
            format!("write a share from {low} to {high}"),
        ),
        _ => (
            format!("`{name}` is {found}, but must lie from {low} to {high}"),
            "out of range".into(),
            format!("write a value from {low} to {high}"),
        ),
    }
}

/// A path without the table it is in, which the message names itself.
fn bare(name: &str) -> &str {
    name.strip_prefix("zones.").unwrap_or(name)
}

/// The key of a field that does not stand in the text.
fn key(field: &str) -> &str {
    match field {
        "duration_ms" => "time",
        "frame_rate_hz" => "frame-rate",
        "color" => "colour",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::build::diag::Source;

    #[test]
    fn every_part_is_reported_once_and_the_rest_goes_on() {
        let mut preset = Preset::new("", 10, Channels::Rgb);
        preset.frame_rate_hz = 0;
        preset.rise.duration_ms = u32::MAX;
        preset.fall.duration_ms = u32::MAX;
        for _ in 0..2 {
            let layer = Layer {
                zone: 9,
                paint: lampwright_model::preset::Paint::Solid {
                    color: lampwright_model::Color::rgbw(0, 0, 0, 1),
                },
                mask: Mask::Front {
                    from: Default::default(),
                    duration_ms: u32::MAX,
                    soft: Default::default(),
                    returning: false,
                },
                envelope: Envelope::Periodic {
                    period_ms: 0,
                    rise: Default::default(),
                    hold: Default::default(),
                    fall: Default::default(),
                },
                blend: Default::default(),
                opacity: Default::default(),
                start: Edge::Enter(State::Dark),
                end: None,
                by_strength: false,
            };
            preset.layers.push(layer).unwrap();
        }
        let sink = Sink::new();
        let file = Place {
            source: Source::new("x.toml", ""),
            span: 0..0,
        };
        report(&preset, &Places::default(), &file, &sink);
        // Name, rate, rise, fall; for each layer zone (with its start), paint, mask, envelope.
        assert_eq!(sink.len(), 4 + 2 * 4);
    }
}
