//! Layers: paint, mask, envelope, and what starts and ends them.

use super::fields::{Absent, Fields};
use super::names::{
    edges, name_of, BLENDS, DIRECTIONS, ENVELOPES, MASKS, ORIGINS, PAINTS, PLACEMENTS, SHAPES,
    SIDES,
};
use super::places::{Places, Section};
use super::value::Unit;
use crate::build::reader::{unknown_name, At, Table};
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Blend, Direction, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Preset, Shape, Side,
    Stop, Stops, MAX_STOPS,
};
use lampwright_model::{Color, Length, Share, State};

/// What stands in for a paint that could not be read.
pub(super) const PLAIN: Paint = Paint::Solid {
    color: Color::BLACK,
};

/// Reads layers of one preset.
pub(super) struct LayerReader<'t> {
    /// The preset with its zones and transfer already read.
    pub preset: &'t Preset,
    pub places: &'t Places,
}

impl LayerReader<'_> {
    /// Reads layer `index`.
    pub(super) fn layer(&self, index: u8, table: &Table<'_>) -> Layer {
        let section = Section::Layer(index);
        self.places.note_section(section, table.place());
        let before = table.sink().len();
        let fields = self.fields(table, section);
        let zone = self.zone(&fields);
        let start = self.edge(&fields, "start");
        let layer = Layer {
            zone,
            blend: fields.choice("blend", "blend", BLENDS, Blend::Over),
            opacity: fields.share("opacity", "opacity", Absent::Default(Share::FULL)),
            start: start.unwrap_or(Edge::Enter(State::Rising)),
            end: self.edge(&fields, "end"),
            by_strength: table.flag("by-strength").unwrap_or(false),
            paint: PLAIN,
            mask: Mask::Whole,
            envelope: Envelope::Constant,
        };
        if table.sink().len() > before {
            self.places.taint(section);
        }
        let zone = self.preset.zones.get(usize::from(zone));
        let zone = zone.map_or(0, lampwright_model::preset::Zone::len);
        if !table.has("paint") {
            table.missing("paint", "{ kind = \"solid\", colour = \"#ff9a3c\" }");
            self.places.taint(Section::Paint(index));
        }
        let layer = Layer {
            paint: self.part(table, "paint", Section::Paint(index), PLAIN, |f| {
                self.paint(f, zone)
            }),
            mask: self.part(table, "mask", Section::Mask(index), Mask::Whole, |f| {
                mask(f, zone)
            }),
            envelope: self.part(
                table,
                "envelope",
                Section::Envelope(index),
                Envelope::Constant,
                envelope,
            ),
            ..layer
        };
        table.finish();
        layer
    }

    fn fields<'f, 'a>(&'f self, table: &'f Table<'a>, section: Section) -> Fields<'f, 'a> {
        Fields {
            table,
            section,
            places: self.places,
        }
    }

    /// A table within the layer, read whole.
    fn part<T>(
        &self,
        layer: &Table<'_>,
        key: &str,
        section: Section,
        absent: T,
        read: impl FnOnce(&Fields<'_, '_>) -> Option<T>,
    ) -> T {
        let before = layer.sink().len();
        let Some(table) = layer.table(key) else {
            if layer.sink().len() > before {
                self.places.taint(section);
            }
            return absent;
        };
        self.places.note_section(section, table.place());
        let value = read(&self.fields(&table, section));
        if value.is_some() {
            // Without a known kind nothing can be said about the other keys.
            table.finish();
        }
        if layer.sink().len() > before {
            self.places.taint(section);
        }
        value.unwrap_or(absent)
    }

    fn zone(&self, fields: &Fields<'_, '_>) -> u8 {
        let names: Vec<&str> = self.preset.zones.iter().map(|z| z.name.as_str()).collect();
        let example = names.first().copied().unwrap_or("column");
        let text = fields.table.need_text("zone", &format!("\"{example}\""));
        let Some(text) = text else { return 0 };
        fields.note_at("zone", "zone", None, Unit::Count, text.place.clone());
        match names.iter().position(|n| *n == text.value) {
            Some(index) => u8::try_from(index).unwrap_or(0),
            None => {
                let sink = fields.table.sink();
                sink.push(unknown_name(&text, "`zones`", &names));
                0
            }
        }
    }

    fn edge(&self, fields: &Fields<'_, '_>, key: &'static str) -> Option<Edge> {
        let edges = edges();
        let text: At<String> = fields.table.text(key)?;
        fields.note_at(key, key, None, Unit::Count, text.place.clone());
        let hit = edges.iter().find(|(name, _)| *name == text.value);
        if hit.is_none() {
            let names: Vec<&str> = edges.iter().map(|(name, _)| *name).collect();
            let what = format!("`{}.{key}`", fields.table.path());
            fields.table.sink().push(unknown_name(&text, &what, &names));
        }
        hit.map(|(_, edge)| *edge)
    }

    fn paint(&self, f: &Fields<'_, '_>, zone: u32) -> Option<Paint> {
        let transfer = self.preset.transfer;
        let colour = |key, field| f.colour(key, field, transfer);
        let still = || Absent::Default(0);
        let size = |key, field| f.pixels(key, field, Some(zone), Absent::Wanted);
        let direction = || f.choice("direction", "direction", DIRECTIONS, Direction::TowardsEnd);
        Some(match f.kind(PAINTS, false)? {
            "solid" => Paint::Solid {
                color: colour("colour", "color"),
            },
            "gradient" => Paint::Gradient {
                stops: stops(f, transfer),
                scroll_ms: f.time("scroll", "scroll_ms", still()),
                direction: direction(),
            },
            "wave" => Paint::Wave {
                low: colour("low", "low"),
                high: colour("high", "high"),
                wavelength: size("wavelength", "wavelength"),
                period_ms: f.time("period", "period_ms", still()),
                direction: direction(),
                shape: f.choice("shape", "shape", SHAPES, Shape::Sine),
            },
            "noise" => Paint::Noise {
                stops: stops(f, transfer),
                grain: size("grain", "grain"),
                period_ms: f.time("period", "period_ms", still()),
                octaves: f.count("octaves", "octaves", 1),
            },
            "sparks" => Paint::Sparks {
                color: colour("colour", "color"),
                chance_every_ms: f.time("every", "chance_every_ms", Absent::Wanted),
                chance: f.share("chance", "chance", Absent::Wanted),
                decay: f.share("decay", "decay", Absent::Default(Share::FULL)),
            },
            "embers" => Paint::Embers {
                stops: stops(f, transfer),
                patch: size("patch", "patch"),
                kick_every_ms: f.time("every", "kick_every_ms", Absent::Wanted),
                cooling: f.share("cooling", "cooling", Absent::Default(Share::FULL)),
                base: f.share("base", "base", Absent::Default(Share::NONE)),
                drift: f.speed("drift", "drift"),
            },
            _ => Paint::Breathing {
                low: colour("low", "low"),
                high: colour("high", "high"),
                period_ms: f.time("period", "period_ms", Absent::Wanted),
            },
        })
    }
}

/// Reads `stops = [{ at = "0 %", colour = "#..." }, ...]`.
fn stops(f: &Fields<'_, '_>, transfer: Transfer) -> Stops {
    let mut stops = Stops::new();
    if !f.table.has("stops") {
        f.table
            .missing("stops", "[{ at = \"0 %\", colour = \"#ff9a3c\" }]");
    }
    if let Some(place) = f.table.place_of("stops") {
        f.note_at("stops", "stops", None, Unit::Count, place);
    }
    let tables = f.table.tables("stops");
    for (i, table) in tables.iter().enumerate() {
        let entry = u8::try_from(i).ok();
        let inner = Fields { table, ..*f };
        let at = inner.share("at", "stops.at", Absent::Wanted);
        if let Some(place) = table.place_of("at") {
            inner.note_at("at", "stops", entry, Unit::Share, place);
        }
        let color = inner.entry_colour("colour", "stops.color", entry, transfer);
        table.finish();
        if stops.push(Stop { at, color }).is_err() {
            table.fault(
                "",
                format!("`{}` is one stop too many", table.path()),
                "does not fit",
                format!("a paint has up to {MAX_STOPS} stops"),
            );
            break;
        }
    }
    stops
}

fn mask(f: &Fields<'_, '_>, zone: u32) -> Option<Mask> {
    let soft = || {
        f.pixels(
            "soft",
            "soft",
            Some(zone),
            Absent::Default(Length::default()),
        )
    };
    Some(match f.kind(MASKS, true)? {
        "whole" => Mask::Whole,
        "span" => Mask::Span {
            from: f.share("from", "from", Absent::Default(Share::NONE)),
            to: f.share("to", "to", Absent::Default(Share::FULL)),
            soft: soft(),
        },
        "front" => Mask::Front {
            from: f.choice("from", "from", ORIGINS, Origin::Start),
            duration_ms: f.time("time", "duration_ms", Absent::Wanted),
            soft: soft(),
            returning: f.table.flag("returning").unwrap_or(false),
        },
        "taper" => Mask::Taper {
            towards: f.choice("towards", "towards", SIDES, Side::End),
            length: f.share("length", "length", Absent::Wanted),
            power: f.count("power", "power", 1),
        },
        _ => Mask::Spot {
            placement: f.choice("placement", "placement", PLACEMENTS, Placement::Fixed),
            centre: f.share("centre", "centre", Absent::Default(Share::HALF)),
            radius: f.pixels("radius", "radius", Some(zone), Absent::Wanted),
            soft: soft(),
        },
    })
}

fn envelope(f: &Fields<'_, '_>) -> Option<Envelope> {
    let time = |key, field| f.time(key, field, Absent::Default(0));
    let share = |key, field, absent| f.share(key, field, Absent::Default(absent));
    Some(match f.kind(ENVELOPES, true)? {
        "constant" => Envelope::Constant,
        "adsr" => Envelope::Adsr {
            attack_ms: time("attack", "attack_ms"),
            decay_ms: time("decay", "decay_ms"),
            sustain: share("sustain", "sustain", Share::FULL),
            release_ms: time("release", "release_ms"),
        },
        "one-shot" => Envelope::OneShot {
            attack_ms: time("attack", "attack_ms"),
            hold_ms: time("hold", "hold_ms"),
            release_ms: time("release", "release_ms"),
        },
        _ => Envelope::Periodic {
            period_ms: f.time("period", "period_ms", Absent::Wanted),
            rise: share("rise", "rise", Share::NONE),
            hold: share("hold", "hold", Share::NONE),
            fall: share("fall", "fall", Share::NONE),
        },
    })
}

/// The name of what starts or ends a layer.
pub(super) fn edge_name(edge: Edge) -> &'static str {
    name_of(&edges(), &edge)
}
