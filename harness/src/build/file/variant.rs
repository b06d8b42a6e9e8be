//! Variants of a build: `[variant.NAME]` stands on the plain build and replaces, adds or takes out parts and wires.

use super::{Reader, SECTIONS};
use crate::build::catalogue::CatalogueText;
use crate::build::diag::{near_miss, InputError, InputErrors, Sink, Source};
use crate::build::prop::Prop;
use crate::build::reader::{Document, Table};
use std::cell::RefCell;

/// What may stand in a variant: sections of the build, and what it takes out.
const IN_A_VARIANT: [&str; 8] = [
    "prop",
    "conditions",
    "sound",
    "pixels",
    "parts",
    "wires",
    "zones",
    "enclosure",
];

/// Names of the variants that a build file holds, in the order of the file.
pub fn variant_names(source: &Source) -> Vec<String> {
    let sink = Sink::new();
    let document = Document::parse(source, &sink);
    let root = document.table(&sink);
    root.table("variant")
        .map_or_else(Vec::new, |variants| variants.keys())
}

/// Reads a build file's text, as it stands or with a variant laid over it.
///
/// # Errors
/// Every fault found, each with its place and how to mend it; a variant that the file does not hold.
pub fn read_variant(source: &Source, name: Option<&str>) -> Result<Prop, InputErrors> {
    read_with(source, name, &CatalogueText::default())
}

/// The same on a catalogue that may hold parts of the user's own.
///
/// # Errors
/// As [`read_variant`].
pub fn read_with(
    source: &Source,
    name: Option<&str>,
    texts: &CatalogueText,
) -> Result<Prop, InputErrors> {
    let sink = Sink::new();
    let catalogue = texts.parse(&sink);
    let document = Document::parse(source, &sink);
    if !sink.is_empty() {
        // A text that is not TOML would give a flood of follow-on faults.
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    let plain = document.table(&sink);
    let variant = name.and_then(|name| find(&plain, name));
    if name.is_some() && variant.is_none() {
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    let root = match &variant {
        Some(overlay) => overlay.clone().called(String::new()).on(&plain),
        None => plain,
    };
    let mut prop = Reader {
        catalogue: &catalogue,
        root,
        sink: &sink,
        broken: RefCell::default(),
        variant,
    }
    .prop();
    prop.variant = name.map(str::to_owned);
    prop.own_parts = catalogue.own_parts_used(&sink);
    prop.catalogue = texts.clone();
    sink.finish(prop)
}

fn find<'a>(plain: &Table<'a>, name: &str) -> Option<Table<'a>> {
    let variants = plain.table("variant");
    let names = variants.as_ref().map_or_else(Vec::new, Table::keys);
    if let Some(table) = variants.filter(|v| v.has(name)) {
        return table.table(name);
    }
    let help = match near_miss(name, names.iter().map(String::as_str)) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None if names.is_empty() => format!("start one: [variant.{name}]"),
        None => format!("variants in this file: {}", names.join(", ")),
    };
    let message = format!("the build file has no variant \"{name}\"");
    plain.sink().push(InputError::whole(message).help(help));
    None
}

impl<'a> Reader<'a> {
    /// Looks at the variants of the file so that none of their keys goes unseen.
    pub(super) fn look_at_variants(&self) {
        if let Some(overlay) = &self.variant {
            // Its sections were read as the build's own; what is left over is told here.
            for section in IN_A_VARIANT {
                let _ = overlay.has(section).then(|| overlay.place_of(section));
            }
            let _ = overlay.texts("remove");
            self.check_removed(overlay);
            let _ = self.root.texts("remove");
            let _ = self.root.text("note");
            overlay.finish();
        }
        let Some(variants) = self.root.table("variant") else {
            return;
        };
        for name in variants.keys() {
            let Some(table) = variants.table(&name) else {
                continue;
            };
            for section in IN_A_VARIANT {
                let _ = table.has(section).then(|| table.place_of(section));
            }
            let _ = table.has("remove").then(|| table.texts("remove"));
            table.finish();
        }
        variants.finish();
    }

    /// Whether the variant takes out a part or wire.
    pub(super) fn removed(&self, name: &str) -> bool {
        let Some(overlay) = self.variant.as_ref().filter(|t| t.has("remove")) else {
            return false;
        };
        let list = overlay.texts("remove").unwrap_or_default();
        list.iter().any(|t| t.value == name)
    }

    /// Names of the parts in frame order: those of the plain build first, then a variant's new ones.
    pub(super) fn part_names(&self, tables: &Table<'a>) -> Vec<String> {
        let all = tables.keys();
        if self.variant.is_none() {
            return all;
        }
        let plain = self.root.below().table("parts");
        let mut names = plain.map_or_else(Vec::new, |t| t.keys());
        names.extend(
            all.into_iter()
                .filter(|n| !names.contains(n))
                .collect::<Vec<_>>(),
        );
        names
    }

    /// Every name in `remove` must be one of the plain build.
    fn check_removed(&self, overlay: &Table<'a>) {
        if !overlay.has("remove") {
            return;
        }
        let mut known = self.root.table("parts").map_or_else(Vec::new, |t| t.keys());
        known.extend(self.wire_tables().into_iter().map(|(name, _)| name));
        for name in overlay.texts("remove").unwrap_or_default() {
            if known.contains(&name.value) {
                continue;
            }
            let near = near_miss(&name.value, known.iter().map(String::as_str));
            let help = near.map_or_else(
                || "name a part or a wire of the plain build".to_owned(),
                |n| format!("did you mean \"{n}\"?"),
            );
            let message = format!(
                "`remove` names \"{}\", which is neither part nor wire",
                name.value
            );
            self.sink
                .push(InputError::at(name.place, message, "not in the build").help(help));
        }
    }

    /// The wires with their names: those of the plain build, each with the variant's entry of the same name
    /// on top, then the variant's new ones.
    pub(super) fn wire_tables(&self) -> Vec<(String, Table<'a>)> {
        let named = |tables: Vec<Table<'a>>| {
            tables.into_iter().enumerate().map(|(i, table)| {
                let name = table
                    .has("name")
                    .then(|| table.text("name"))
                    .flatten()
                    .map_or_else(|| format!("w{}", i + 1), |t| t.value);
                (name, table)
            })
        };
        let Some(overlay) = &self.variant else {
            return named(self.root.tables("wires")).collect();
        };
        let mut wires: Vec<(String, Table<'a>)> =
            named(self.root.below().tables("wires")).collect();
        if overlay.has("wires") {
            for (name, table) in named(overlay.tables("wires")) {
                match wires.iter_mut().find(|(n, _)| *n == name) {
                    Some((_, plain)) => *plain = table.on(plain),
                    None => wires.push((name, table)),
                }
            }
        }
        let _ = self.root.place_of("wires");
        wires
    }
}

// Every section of a variant is one of the build's.
const _: () = assert!(IN_A_VARIANT.len() < SECTIONS.len());
