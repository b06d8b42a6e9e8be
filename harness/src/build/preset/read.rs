//! From the text of a preset to the model's data.

use super::faults::report;
use super::fields::{Absent, Fields};
use super::layer::LayerReader;
use super::names::{cue_kinds, EASINGS, ORIGINS, TRANSFERS};
use super::places::{Places, Section};
use super::value::Unit;
use super::{PresetFile, StripMap};
use crate::build::diag::{InputError, InputErrors, Place, Sink, Source};
use crate::build::reader::{unknown_name, At, Document, Item, Table};
use lampwright_model::preset::{
    Easing, Layer, Origin, Preset, Run, Transition, TransitionStyle, Zone, MAX_LAYERS, MAX_NAME,
    MAX_RUNS, MAX_ZONES,
};
use lampwright_model::{Length, Share};

/// Reads a preset's text for the strips of a prop.
///
/// # Errors
/// Every fault found, each with its place and how to mend it.
pub fn read_preset(source: &Source, layout: &StripMap) -> Result<PresetFile, InputErrors> {
    let sink = Sink::new();
    let document = Document::parse(source, &sink);
    if !sink.is_empty() {
        // A text that is not TOML would give a flood of follow-on faults.
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    let places = Places::default();
    let root = document.table(&sink);
    let file = Reader {
        root: &root,
        layout,
        places: &places,
        sink: &sink,
    }
    .file();
    report(&file.0, &places, &root.place(), &sink);
    let (preset, cues) = file;
    let (cues, cue_places) = cues.into_iter().map(|c| (c.value, c.place)).unzip();
    sink.finish(PresetFile {
        preset,
        cues,
        cue_places,
        places,
    })
}

struct Reader<'t, 'a> {
    root: &'t Table<'a>,
    layout: &'t StripMap,
    places: &'t Places,
    sink: &'t Sink,
}

impl<'a> Reader<'_, 'a> {
    fn file(&self) -> (Preset, Vec<At<String>>) {
        let pixels = u16::try_from(self.layout.pixels).unwrap_or(u16::MAX);
        let mut preset = Preset::new("", pixels, self.layout.channels);
        let cues = self.head(&mut preset);
        preset.rise = self.transition("rise", Section::Rise, preset.rise);
        preset.fall = self.transition("fall", Section::Fall, preset.fall);
        if let Some(table) = self.root.table("controls") {
            let fields = self.fields(&table, Section::Preset);
            let kinds = cue_kinds();
            preset.rise_on = fields.choice("rise-on", "rise_on", &kinds, preset.rise_on);
            preset.fall_on = fields.choice("fall-on", "fall_on", &kinds, preset.fall_on);
            table.finish();
        }
        preset.zones.clear();
        self.zones(&mut preset);
        let layers = self.layers(&preset);
        for layer in layers {
            // As many as fit were read.
            let _ = preset.layers.push(layer);
        }
        self.root.finish();
        (preset, cues)
    }

    fn fields<'f>(&'f self, table: &'f Table<'a>, section: Section) -> Fields<'f, 'a> {
        Fields {
            table,
            section,
            places: self.places,
        }
    }

    fn head(&self, preset: &mut Preset) -> Vec<At<String>> {
        let Some(table) = self.root.table("preset") else {
            if !self.root.has("preset") {
                let lines = "[preset]\nname = \"Quiet Harbour\"";
                self.root.missing_table("preset", lines);
            }
            self.places.taint(Section::Preset);
            return Vec::new();
        };
        self.places.note_section(Section::Preset, table.place());
        let before = self.sink.len();
        let fields = self.fields(&table, Section::Preset);
        if let Some(name) = table.need_text("name", "\"Quiet Harbour\"") {
            fields.note_at("name", "name", None, Unit::Count, name.place.clone());
            self.fits(&name.value, &name.place, "a preset's name");
            preset.name = Zone::whole(&name.value, 1).name;
        }
        if let Some(seed) = table.integer("seed", 0..=i64::from(u32::MAX)) {
            preset.seed = u32::try_from(seed).unwrap_or(0);
        }
        preset.frame_rate_hz = fields.rate("frame-rate", "frame_rate_hz", preset.frame_rate_hz);
        preset.transfer = fields.choice("transfer", "transfer", TRANSFERS, preset.transfer);
        preset.dither = table.flag("dither").unwrap_or(preset.dither);
        preset.white_extraction = fields.share(
            "white-share",
            "white_extraction",
            Absent::Default(Share::FULL),
        );
        let cues = self.cues(&table);
        // A remark for the reader of the file.
        let _ = table.has("note").then(|| table.text("note"));
        table.finish();
        if self.sink.len() > before {
            self.places.taint(Section::Preset);
        }
        cues
    }

    /// Reports a name that is too long for the board.
    fn fits(&self, name: &str, place: &Place, what: &str) {
        if name.len() > MAX_NAME {
            let message = format!(
                "{what} takes up to {MAX_NAME} bytes, this one {}",
                name.len()
            );
            self.sink.push(
                InputError::at(place.clone(), message, "too long").help("write a shorter name"),
            );
        }
    }

    fn cues(&self, table: &Table<'_>) -> Vec<At<String>> {
        let cues = if table.has("cues") {
            table.texts("cues").unwrap_or_default()
        } else {
            Vec::new()
        };
        for cue in &cues {
            if cue.value.is_empty() || cue.value.contains(['/', '\\']) {
                let message = format!("\"{}\" is not the name of a cue trace", cue.value);
                self.sink.push(
                    InputError::at(cue.place.clone(), message, "a file name alone")
                        .help("name a file of the prop's cues folder, such as \"evening.csv\""),
                );
            }
        }
        cues
    }

    fn transition(&self, key: &str, section: Section, absent: Transition) -> Transition {
        let Some(table) = self.root.table(key) else {
            return absent;
        };
        self.places.note_section(section, table.place());
        let before = self.sink.len();
        let fields = self.fields(&table, section);
        let duration_ms = fields.time("time", "duration_ms", Absent::Wanted);
        let easing = fields.choice("easing", "easing", EASINGS, Easing::Linear);
        let before_style = self.sink.len();
        let styles = [("fade", false), ("sweep", true)];
        let sweeps = fields.choice("style", "style", &styles, false);
        let unknown = self.sink.len() > before_style;
        let style = if sweeps {
            let edge = Absent::Default(Length::default());
            TransitionStyle::Sweep {
                from: fields.choice("from", "from", ORIGINS, Origin::Start),
                soft: fields.pixels("edge", "soft", None, edge),
            }
        } else {
            for key in ["from", "edge"] {
                if table.place_of(key).is_some() && !unknown {
                    let message = format!("a fade has no `{key}`");
                    let help = "write style = \"sweep\", or take the line out";
                    table.fault(key, message, "of no effect", help);
                }
            }
            TransitionStyle::Fade
        };
        table.finish();
        if self.sink.len() > before {
            self.places.taint(section);
        }
        Transition {
            duration_ms,
            style,
            easing,
        }
    }

    fn zones(&self, preset: &mut Preset) {
        let strip = self.layout.strips.first();
        let example = strip.map_or("column", |s| s.name.as_str());
        let Some(table) = self.root.table("zones") else {
            if !self.root.has("zones") {
                let lines = format!("[zones]\n{example} = [\"{example}\"]");
                self.root.missing_table("zones", &lines);
            }
            self.places.taint(Section::Preset);
            return;
        };
        for (i, name) in table.keys().iter().enumerate() {
            let section = Section::Zone(u8::try_from(i).unwrap_or(u8::MAX));
            let Some(place) = table.place_of(name) else {
                continue;
            };
            self.places.note_section(section, place.clone());
            let before = self.sink.len();
            self.fits(name, &place, "a zone's name");
            let mut zone = Zone::whole(name, 1);
            zone.runs.clear();
            self.runs(&table, name, section, &mut zone);
            if preset.zones.push(zone).is_err() {
                table.fault(
                    name,
                    format!("`zones.{name}` is one zone too many"),
                    "does not fit",
                    format!("a preset has up to {MAX_ZONES} zones"),
                );
                break;
            }
            if self.sink.len() > before {
                self.places.taint(section);
            }
        }
    }

    fn runs(&self, zones: &Table<'_>, name: &str, section: Section, zone: &mut Zone) {
        let expected = "a list such as [\"column\"] or [{ strip = \"column\", from = 0, to = 9 }]";
        let Some(items) = zones.items(name, expected) else {
            return;
        };
        if let Some(place) = zones.place_of(name) {
            let fields = self.fields(zones, section);
            fields.note_at(name, "runs", None, Unit::Count, place);
        }
        for (i, item) in items.iter().enumerate() {
            let place = match item {
                Item::Text(text) => text.place.clone(),
                Item::Table(table) => table.place(),
            };
            let run = match item {
                Item::Text(text) => self.strip(text).map(|(start, len)| Run {
                    start,
                    len,
                    reversed: false,
                }),
                Item::Table(table) => self.run(table),
            };
            // One that could not be read is reported and left out.
            let Some(run) = run else { continue };
            let fields = self.fields(zones, section);
            let entry = u8::try_from(zone.runs.len()).ok();
            let key = format!("{name}[{i}]");
            fields.note_at(&key, "runs", entry, Unit::Count, place.clone());
            if zone.runs.push(run).is_err() {
                let message = format!("`zones.{key}` is one run too many");
                let help = format!("a zone has up to {MAX_RUNS} runs; join neighbouring ones");
                self.sink
                    .push(InputError::at(place, message, "does not fit").help(help));
                break;
            }
        }
    }

    /// First pixel and length of a whole strip.
    fn strip(&self, name: &At<String>) -> Option<(u16, u16)> {
        let Some(strip) = self.layout.find(&name.value) else {
            let names: Vec<&str> = self.layout.strips.iter().map(|s| s.name.as_str()).collect();
            self.sink.push(unknown_name(
                name,
                "the list of strips in the build file",
                &names,
            ));
            return None;
        };
        // A frame too long to count is a fault of its own.
        let short = |n: u32| u16::try_from(n).unwrap_or(u16::MAX);
        Some((short(strip.first), short(strip.pixels)))
    }

    /// `{ strip = "column", from = 88, to = 95 }` or `{ start = 0, length = 96 }`.
    fn run(&self, table: &Table<'_>) -> Option<Run> {
        let reversed = table.flag("reversed").unwrap_or(false);
        let (start, len) = if table.has("strip") || !table.has("start") {
            self.part_of_strip(table)?
        } else {
            let number = |key: &str, example: &str| {
                if !table.has(key) {
                    table.missing(key, example);
                }
                let value = table.integer(key, 0..=i64::from(u16::MAX))?;
                u16::try_from(value).ok()
            };
            let (start, len) = (number("start", "0"), number("length", "96"));
            (start?, len?)
        };
        table.finish();
        Some(Run {
            start,
            len,
            reversed,
        })
    }

    fn part_of_strip(&self, table: &Table<'_>) -> Option<(u16, u16)> {
        let strip = self.strip(&table.need_text("strip", "\"column\"")?);
        let (first, pixels) = strip?;
        let last = i64::from(pixels) - 1;
        let pixel = |key: &str, absent: i64| match table.has(key) {
            true => table.integer(key, 0..=last),
            false => Some(absent),
        };
        let (from, to) = (pixel("from", 0), pixel("to", last));
        let (from, to) = (from?, to?);
        if from > to {
            table.fault(
                "to",
                format!("the run goes from pixel {from} back to pixel {to}"),
                "lies before `from`",
                format!("write from = {to}, to = {from}, reversed = true"),
            );
            return None;
        }
        let start = u16::try_from(i64::from(first) + from).ok()?;
        let len = u16::try_from(to - from + 1).ok()?;
        Some((start, len))
    }

    fn layers(&self, preset: &Preset) -> Vec<Layer> {
        let reader = LayerReader {
            preset,
            places: self.places,
        };
        let tables = self.root.tables("layers");
        let mut layers = Vec::new();
        for (i, table) in tables.iter().enumerate() {
            if i >= MAX_LAYERS {
                let message = format!("`{}` is one layer too many", table.path());
                let help = format!("a preset has up to {MAX_LAYERS} layers");
                self.sink
                    .push(InputError::at(table.place(), message, "does not fit").help(help));
                break;
            }
            layers.push(reader.layer(u8::try_from(i).unwrap_or(u8::MAX), table));
        }
        layers
    }
}
