//! `build.toml` to a validated [`Prop`].

mod conditions;
mod enclosure;
mod entry;
mod variant;
mod wires;
mod zones;

pub(crate) use entry::{entry_kinds, read_entry};
pub use variant::{read_variant, read_with, variant_names};

use super::catalogue::{Catalogue, CatalogueText};
use super::diag::{InputError, InputErrors, Sink, Source};
use super::parts::{
    Board, Capacitor, CellType, Contact, Diode, Fuse, PixelType, Protection, Resistor,
    SecondSupply, Strip,
};
use super::prop::{Part, PartKind, Prop};
use super::rated::rated_not_negative;
use super::reader::{unknown_name, At, Table};
use crate::units::{Current, Resistance, Time};
use std::cell::RefCell;
use std::collections::BTreeSet;

/// The tables and lists at the top of a build file.
const SECTIONS: [&str; 11] = [
    "prop",
    "conditions",
    "sound",
    "usage",
    "diffuser",
    "enclosure",
    "pixels",
    "parts",
    "wires",
    "zones",
    "variant",
];

/// Every kind of part.
const KINDS: [&str; 14] = [
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
    "diode",
    "supply",
];

/// Reads a build file's text as it stands, without any variant.
///
/// # Errors
/// Every fault found, each with its place and how to mend it.
pub fn read_build(source: &Source) -> Result<Prop, InputErrors> {
    read_variant(source, None)
}

pub(super) struct Reader<'a> {
    catalogue: &'a Catalogue<'a>,
    root: Table<'a>,
    sink: &'a Sink,
    /// Names of parts that could not be read: their terminals are not known.
    broken: RefCell<BTreeSet<String>>,
    /// The variant's own table, where one is read.
    variant: Option<Table<'a>>,
}

impl<'a> Reader<'a> {
    fn prop(&self) -> Prop {
        let root = &self.root;
        let head = root.table("prop");
        if head.is_none() && !root.has("prop") {
            root.missing_table("prop", "[prop]\nname = \"Parade lantern staff\"");
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
            for section in SECTIONS.iter().filter(|s| head.has(s)) {
                // What stands below [prop] belongs to it, as TOML has it; few builders expect that.
                head.fault(
                    section,
                    format!("`{section}` stands within [prop]"),
                    "belongs to the table above it",
                    format!("move it above [prop], or write it under a header of its own: [{section}.NAME]"),
                );
            }
            head.finish();
        }
        let parts = self.parts();
        let zones = self.zones(&parts);
        let (wires, wire_places) = self.wires(&parts);
        let enclosure = self.enclosure(&parts);
        let conditions = self.conditions();
        let sound = self.sound();
        let usage = self.usage();
        let diffuser = self.diffuser();
        if let Some(pixels) = root.table("pixels") {
            // Read for their own sake, so that an unused definition is checked too.
            for id in pixels.keys() {
                self.own_pixel(&pixels, &id);
            }
        }
        self.look_at_variants();
        root.finish();
        Prop {
            name: name.unwrap_or_default(),
            note,
            version,
            date,
            variant: None,
            parts,
            zones,
            wires,
            wire_places,
            enclosure,
            conditions,
            sound,
            usage,
            diffuser,
            cap,
            catalogue: CatalogueText::default(),
            own_parts: Vec::new(),
        }
    }

    fn parts(&self) -> Vec<Part> {
        if self.root.is_list("parts") {
            self.root.fault(
                "parts",
                "`parts` must be a table of parts, each under its name",
                "this is a list",
                "write [parts.NAME], with single brackets, above the keys of each part",
            );
            return Vec::new();
        }
        let Some(tables) = self.root.table("parts") else {
            if !self.root.has("parts") {
                self.root.missing_table(
                    "parts.NAME",
                    "[parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"",
                );
            }
            return Vec::new();
        };
        let mut parts: Vec<Part> = Vec::new();
        let mut first = 0;
        for name in self.part_names(&tables) {
            let Some(table) = tables.table(&name) else {
                self.broken.borrow_mut().insert(name);
                continue;
            };
            let plain = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
            if name.is_empty() || !name.chars().all(plain) {
                tables.fault(
                    &name,
                    format!("\"{name}\" cannot be a part's name"),
                    "not a usable name",
                    "use letters, digits, - and _; a dot separates part and terminal, @ a place on a strip",
                );
            }
            let place = table.place();
            if self.removed(&name) {
                continue;
            }
            let order = zones::place_in_order(&table);
            let (kind, from) = self.part(&name, table);
            let Some(mut kind) = kind else {
                self.broken.borrow_mut().insert(name);
                continue;
            };
            if let PartKind::Strip(strip) = &mut kind {
                strip.first = first;
                first += strip.pixels;
            }
            parts.push(Part {
                name,
                from,
                kind,
                place,
                zone: order.zone,
                after: order.after,
                note: order.note,
            });
        }
        tables.finish();
        parts
    }

    fn part(&self, name: &str, table: Table<'a>) -> (Option<PartKind>, Option<String>) {
        let from = table.text("from");
        if !table.has("kind") {
            let known = from.as_ref().and_then(|id| self.catalogue_kind(&id.value));
            table.missing(
                "kind",
                &format!("\"{}\"", known.as_deref().unwrap_or("cell")),
            );
        }
        let Some(kind) = table.text("kind") else {
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
                match self.catalogue_kind(&id.value) {
                    Some(other) => self.sink.push(
                        InputError::at(
                            id.place.clone(),
                            format!("\"{}\" is a {other}, not a {kind}", id.value),
                            format!("a {other} in the catalogue"),
                        )
                        .help(format!("name a {kind}, such as {}", some(&ids))),
                    ),
                    None => {
                        let names: Vec<&str> = ids.iter().map(String::as_str).collect();
                        let what = format!("the catalogue of {}", plural(kind));
                        self.sink.push(unknown_name(id, &what, &names));
                    }
                }
                None
            }
        }
    }

    /// The kind of the catalogue entry with an id.
    fn catalogue_kind(&self, id: &str) -> Option<String> {
        let entries = self.catalogue.entries(self.sink);
        entries.into_iter().find(|(i, _, _)| i == id).map(|e| e.1)
    }

    fn read_part(&self, name: &str, kind: &str, table: &Table<'a>) -> Option<PartKind> {
        Some(match kind {
            "cell" => PartKind::Cell(Box::new(CellType::read(name, table)?)),
            "switch" => PartKind::Switch(Contact::read(table)?),
            "contact" => PartKind::Contact(Contact::read(table)?),
            "connector" => {
                let poles = poles(table);
                PartKind::Connector {
                    contact: Contact::read(table)?,
                    poles: poles?,
                }
            }
            "button" => {
                // A button carries no supply current: its figures are checked, not kept.
                let _ = rated_not_negative::<Resistance>(table, "resistance");
                let _ = rated_not_negative::<Time>(table, "bounce");
                let _ = rated_not_negative::<Current>(table, "rating");
                PartKind::Button
            }
            "fuse" => PartKind::Fuse(Fuse::read(table)?),
            "protection" => PartKind::Protection(Protection::read(table)?),
            "splice" => PartKind::Splice,
            "board" => PartKind::Board(Box::new(Board::read(name, table)?)),
            "strip" => PartKind::Strip(Box::new(Strip::read(table, self.pixel_of(table))?)),
            "capacitor" => PartKind::Capacitor(Capacitor::read(table)?),
            "diode" => PartKind::Diode(Diode::read(table)?),
            "supply" => PartKind::Supply(SecondSupply::read(table)?),
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
            Ok(table) => PixelType::read(&id.value, &table),
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
}

/// The names of a connector's poles.
fn poles(table: &Table<'_>) -> Option<Vec<String>> {
    let example = "[\"plus\", \"minus\", \"data\"]";
    if !table.has("poles") {
        table.missing("poles", example);
    }
    let poles = table.texts("poles")?;
    if poles.is_empty() {
        table.fault(
            "poles",
            format!("`{}` has no pole", table.path()),
            "empty",
            format!("name each pole: poles = {example}"),
        );
        return None;
    }
    let mut names: Vec<String> = Vec::new();
    for At { value, place } in poles {
        let fault = |message: String, help: &str| {
            let error = InputError::at(place.clone(), message, "not a usable name");
            table.sink().push(error.help(help));
        };
        if names.contains(&value) {
            fault(
                format!("two poles are called \"{value}\""),
                "give each pole a name of its own",
            );
        } else if value.is_empty() || value.contains(['.', '@', ' ']) {
            fault(
                format!("\"{value}\" cannot be a pole's name"),
                "use letters, digits, - and _; its ends are written NAME.a and NAME.b",
            );
        }
        names.push(value);
    }
    Some(names)
}

fn plural(kind: &str) -> String {
    match kind {
        "switch" => "switches, contacts and connectors".to_owned(),
        "contact" | "connector" => plural("switch"),
        "fuse" => "fuses".to_owned(),
        "protection" => "protection circuits".to_owned(),
        other => format!("{other}s"),
    }
}

/// The first few of a list of names.
fn some(ids: &[String]) -> String {
    let few: Vec<String> = ids.iter().take(3).map(|id| format!("\"{id}\"")).collect();
    if few.is_empty() {
        return "one given in full in the build file".to_owned();
    }
    few.join(", ")
}
