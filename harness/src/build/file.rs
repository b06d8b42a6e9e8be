//! `build.toml` to a validated [`Prop`].

use super::catalogue::{Catalogue, CatalogueText};
use super::diag::{InputError, InputErrors, Sink, Source};
use super::netlist::terminal;
use super::parts::{
    Board, Capacitor, CellType, Contact, Fuse, PixelType, Protection, Resistor, Strip, Wire,
    WireSize,
};
use super::prop::{Conditions, Part, PartKind, Prop, Sound};
use super::rated::{rated, rated_not_negative};
use super::reader::{unknown_name, At, Document, Table};
use crate::units::{
    Gauge, Length, Quantity, Ratio, Resistance, ResistancePerLength, Temperature, Time,
};

/// Reads a build file's text.
///
/// # Errors
/// Every fault found, each with its place and how to mend it.
pub fn read_build(source: &Source) -> Result<Prop, InputErrors> {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let catalogue = texts.parse(&sink);
    let document = Document::parse(source, &sink);
    if !sink.is_empty() {
        // A text that is not TOML would give a flood of follow-on faults.
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    let prop = Reader {
        catalogue: &catalogue,
        root: document.table(&sink),
        sink: &sink,
    }
    .prop();
    sink.finish(prop)
}

struct Reader<'a> {
    catalogue: &'a Catalogue<'a>,
    root: Table<'a>,
    sink: &'a Sink,
}

impl<'a> Reader<'a> {
    fn prop(&self) -> Prop {
        let root = &self.root;
        let head = root.table("prop");
        if head.is_none() && !root.has("prop") {
            root.missing("[prop]", "a table with name = \"Parade lantern staff\"");
        }
        let head_text = |key: &str| head.as_ref().and_then(|t| t.text(key)).map(|t| t.value);
        let name = head
            .as_ref()
            .and_then(|t| t.need_text("name", "\"Parade lantern staff\""))
            .map(|t| t.value);
        let (note, version, date) = (head_text("note"), head_text("version"), head_text("date"));
        let cap = head
            .as_ref()
            .and_then(|t| t.integer("cap", 0..=255))
            .unwrap_or(255) as u8;
        if let Some(head) = &head {
            head.finish();
        }
        let parts = self.parts();
        let (wires, wire_places) = self.wires(&parts);
        let conditions = self.conditions();
        let sound = self.sound();
        if let Some(pixels) = root.table("pixels") {
            // Read for their own sake, so that an unused definition is checked too.
            for id in pixels.keys() {
                self.own_pixel(&pixels, &id);
            }
        }
        root.finish();
        Prop {
            name: name.unwrap_or_default(),
            note,
            version,
            date,
            parts,
            wires,
            wire_places,
            conditions,
            sound,
            cap,
        }
    }

    fn parts(&self) -> Vec<Part> {
        let Some(tables) = self.root.table("parts") else {
            if !self.root.has("parts") {
                self.root
                    .missing("[parts.NAME]", "a table with kind = \"cell\" for each part");
            }
            return Vec::new();
        };
        let mut parts: Vec<Part> = Vec::new();
        let mut first = 0;
        for name in tables.keys() {
            let Some(table) = tables.table(&name) else {
                continue;
            };
            if name.contains(['.', '@', ' ']) || name.is_empty() {
                tables.fault(
                    &name,
                    format!("\"{name}\" cannot be a part's name"),
                    "has a dot, @ or space",
                    "use letters, digits, - and _",
                );
            }
            let place = table.place();
            let (kind, from) = self.part(&name, table);
            let Some(mut kind) = kind else { continue };
            if let PartKind::Strip(strip) = &mut kind {
                strip.first = first;
                first += strip.pixels;
            }
            parts.push(Part {
                name,
                from,
                kind,
                place,
            });
        }
        tables.finish();
        parts
    }

    fn part(&self, name: &str, table: Table<'a>) -> (Option<PartKind>, Option<String>) {
        const KINDS: [&str; 12] = [
            "cell",
            "switch",
            "contact",
            "connector",
            "button",
            "fuse",
            "protection",
            "splice",
            "board",
            "strip",
            "capacitor",
            "resistor",
        ];
        let from = table.text("from");
        let Some(kind) = table.need_text("kind", "\"cell\"") else {
            return (None, None);
        };
        if !KINDS.contains(&kind.value.as_str()) {
            self.sink.push(unknown_name(&kind, "`kind`", &KINDS));
            return (None, None);
        }
        let table = match &from {
            Some(id) => match self.base(id, &kind.value) {
                Some(base) => table.on(&base),
                None => return (None, None),
            },
            None => table,
        };
        let read = self.read_part(name, &kind.value, &table);
        for key in ["kind", "from", "title", "part-number"] {
            let _ = table.has(key).then(|| table.text(key));
        }
        table.finish();
        (read, from.map(|f| f.value))
    }

    /// The catalogue entry that a part stands on.
    fn base(&self, id: &At<String>, kind: &str) -> Option<Table<'a>> {
        let kinds: &[&str] = match kind {
            "switch" | "contact" | "connector" => &["switch", "contact", "connector"],
            other => &[other][..],
        };
        match self.catalogue.find(&id.value, kinds, self.sink) {
            Ok(table) => Some(table),
            Err((ids, _)) => {
                let names: Vec<&str> = ids.iter().map(String::as_str).collect();
                self.sink.push(unknown_name(
                    id,
                    &format!("the catalogue of {kind}s"),
                    &names,
                ));
                None
            }
        }
    }

    fn read_part(&self, name: &str, kind: &str, table: &Table<'a>) -> Option<PartKind> {
        Some(match kind {
            "cell" => PartKind::Cell(Box::new(CellType::read(name, table)?)),
            "switch" => PartKind::Switch(Contact::read(table)?),
            "contact" => PartKind::Contact(Contact::read(table)?),
            "connector" => {
                let poles = table.texts("poles");
                if poles.is_none() && !table.has("poles") {
                    table.missing("poles", "[\"plus\", \"minus\", \"data\"]");
                }
                let poles: Vec<String> = poles
                    .unwrap_or_default()
                    .into_iter()
                    .map(|p| p.value)
                    .collect();
                PartKind::Connector {
                    contact: Contact::read(table)?,
                    poles,
                }
            }
            "button" => {
                let _ = (
                    table
                        .has("resistance")
                        .then(|| rated::<Resistance>(table, "resistance")),
                    table.has("bounce").then(|| rated::<Time>(table, "bounce")),
                );
                let _ = table
                    .has("rating")
                    .then(|| rated::<crate::units::Current>(table, "rating"));
                PartKind::Button
            }
            "fuse" => PartKind::Fuse(Fuse::read(table)?),
            "protection" => PartKind::Protection(Protection::read(table)?),
            "splice" => PartKind::Splice,
            "board" => PartKind::Board(Box::new(Board::read(name, table)?)),
            "strip" => PartKind::Strip(Box::new(Strip::read(table, self.pixel_of(table))?)),
            "capacitor" => PartKind::Capacitor(Capacitor::read(table)?),
            _ => PartKind::Resistor(Resistor::read(table)?),
        })
    }

    /// The pixel type a strip names: one of the build file's own, or one of the catalogue's.
    fn pixel_of(&self, strip: &Table<'a>) -> Option<PixelType> {
        let id = strip.need_text("pixel", "\"ws2812b\"")?;
        let own = self.root.table("pixels");
        if let Some(own) = own.as_ref().filter(|t| t.has(&id.value)) {
            return self.own_pixel(own, &id.value);
        }
        match self.catalogue.find(&id.value, &["pixel"], self.sink) {
            Ok(table) => {
                let pixel = PixelType::read(&id.value, &table);
                pixel
            }
            Err((mut ids, _)) => {
                ids.extend(own.iter().flat_map(Table::keys));
                let names: Vec<&str> = ids.iter().map(String::as_str).collect();
                self.sink
                    .push(unknown_name(&id, "the catalogue of pixels", &names));
                None
            }
        }
    }

    fn own_pixel(&self, own: &Table<'a>, id: &str) -> Option<PixelType> {
        let mut table = own.table(id)?;
        if let Some(from) = table.text("from") {
            table = table.on(&self.base(&from, "pixel")?);
        }
        let before = self.sink.len();
        let pixel = PixelType::read(id, &table);
        for key in ["kind", "from", "title", "part-number"] {
            let _ = table.has(key).then(|| table.text(key));
        }
        if self.sink.len() == before {
            table.finish();
        }
        pixel
    }

    fn wires(&self, parts: &[Part]) -> (Vec<Wire>, Vec<super::diag::Place>) {
        let tables = self.root.tables("wires");
        let mut wires: Vec<Wire> = Vec::new();
        let mut places = Vec::new();
        for (i, table) in tables.iter().enumerate() {
            let place = table.place();
            let wire = self.wire(i, table, parts);
            let Some(wire) = wire else { continue };
            if wires.iter().any(|w| w.name == wire.name) {
                table.fault(
                    "name",
                    format!("two wires are called \"{}\"", wire.name),
                    "used before",
                    "give each wire a name of its own",
                );
            }
            wires.push(wire);
            places.push(place);
        }
        (wires, places)
    }

    fn wire(&self, i: usize, table: &Table<'a>, parts: &[Part]) -> Option<Wire> {
        let name = table
            .text("name")
            .map_or_else(|| format!("w{}", i + 1), |t| t.value);
        let end = |key: &str| {
            let text = table.need_text(key, "\"cell.plus\"")?;
            terminal(&text.value, &text.place, parts)
                .map_err(|e| self.sink.push(*e))
                .ok()
        };
        let (from, to) = (end("from"), end("to"));
        let layered = match table.text("type") {
            Some(id) => self.base(&id, "wire").map(|b| table.clone().on(&b)),
            None => Some(table.clone()),
        };
        let slack = rated_not_negative::<Length>(table, "slack").map(|r| r.nominal);
        let (colour, note) = (table.text("colour"), table.text("note"));
        // A type that is not known has been reported: without it, what the wire lacks is unknown too.
        let layered = layered?;
        let size = wire_size(&layered);
        let insulation = layered.text("insulation");
        let insulation_max = rated::<Temperature>(&layered, "insulation-max");
        for key in ["kind", "title"] {
            let _ = layered.has(key).then(|| layered.text(key));
        }
        layered.finish();
        let wire = Wire {
            name,
            from: from?,
            to: to?,
            size: size?,
            slack,
            colour: colour.map(|t| t.value),
            insulation: insulation.map(|t| t.value),
            insulation_max,
            note: note.map(|t| t.value),
        };
        if wire.from.part == wire.to.part && wire.from.pin == wire.to.pin {
            table.fault(
                "to",
                format!("wire \"{}\" joins {} to itself", wire.name, wire.from),
                "same terminal",
                "name two different terminals",
            );
        }
        Some(wire)
    }

    fn conditions(&self) -> Conditions {
        let mut c = Conditions::default();
        let Some(table) = self.root.table("conditions") else {
            return c;
        };
        if let Some(v) = table.quantity::<Ratio>("soc-floor") {
            if (0.0..1.0).contains(&v.value.si()) {
                c.soc_floor = v.value;
            } else {
                table.fault(
                    "soc-floor",
                    "`soc-floor` must lie from 0 % to below 100 %",
                    "out of range",
                    "write soc-floor = \"20 %\"",
                );
            }
        }
        if let Some(v) = table.quantity::<Temperature>("temperature-min") {
            c.temperature_min = v.value;
        }
        if let Some(v) = table.quantity::<Temperature>("temperature-max") {
            c.temperature_max = v.value;
        }
        if c.temperature_min.si() > c.temperature_max.si() {
            table.fault(
                "temperature-min",
                "`temperature-min` lies above `temperature-max`",
                "too high",
                "make temperature-min the colder one",
            );
        }
        c.runtime = table.quantity::<Time>("runtime").map(|a| a.value);
        c.aged = table.flag("aged-cell").unwrap_or(c.aged);
        if let Some(v) = rated_not_negative::<Ratio>(&table, "wire-length-tolerance") {
            c.wire_length_tolerance = v.nominal;
        }
        table.finish();
        c
    }

    fn sound(&self) -> Sound {
        let mut s = Sound::default();
        let Some(table) = self.root.table("sound") else {
            return s;
        };
        let level = |key: &str| {
            let v = table.quantity::<Ratio>(key)?;
            if (0.0..=1.0).contains(&v.value.si()) {
                return Some(v.value);
            }
            table.fault(
                key,
                format!("`sound.{key}` must lie from 0 % to 100 %"),
                "out of range",
                format!("write {key} = \"25 %\""),
            );
            None
        };
        s.lit = level("lit").unwrap_or(s.lit);
        s.cue = level("cue").unwrap_or(s.cue);
        if let Some(v) = table.quantity::<Time>("cue-time") {
            s.cue_time = v.value;
        }
        table.finish();
        s
    }
}

fn wire_size(table: &Table<'_>) -> Option<WireSize> {
    if table.has("resistance") {
        // What is stated besides is for the cut list; the resistance counts.
        let _ = (
            table.text("gauge"),
            table.quantity::<Length>("length"),
            rated::<ResistancePerLength>(table, "resistance-per-length"),
        );
        return rated_not_negative::<Resistance>(table, "resistance").map(WireSize::Resistance);
    }
    let per_length = rated_not_negative::<ResistancePerLength>(table, "resistance-per-length");
    let text = table.need_text("gauge", "\"22 AWG\"");
    let length = table.need_quantity::<Length>("length");
    let text = text?;
    let gauge = match Gauge::parse(&text.value) {
        Ok(gauge) => gauge,
        Err(error) => {
            table.sink().push(
                InputError::at(text.place, error.to_string(), "not a wire gauge")
                    .help("write gauge = \"22 AWG\" or gauge = \"0.5 mm²\""),
            );
            return None;
        }
    };
    let length = length?;
    if length.value.si() < 0.0 {
        table.fault(
            "length",
            "a wire's length must not be negative",
            "negative",
            "write length = \"180 mm\"",
        );
        return None;
    }
    Some(WireSize::Gauge {
        gauge,
        length: length.value,
        per_length,
    })
}
