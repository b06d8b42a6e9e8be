//! The catalogue as text and JSON.

use crate::build::catalogue::{CatalogueEntry, Origin};
use crate::build::reader::Leaf;
use serde_json::{json, Map, Value};
use std::fmt::Write as _;

/// A catalogue entry, flattened to lines.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Every value.
    pub values: Vec<Leaf>,
    /// Whose it is.
    pub origin: Origin,
    /// The file it stands in, where it does not ship.
    pub file: Option<String>,
    /// Whether another of the same id and kind is found before it.
    pub shadowed: bool,
}

impl Entry {
    /// Flattens an entry.
    pub fn read(entry: &CatalogueEntry<'_>) -> Self {
        let title = entry.table.text("title");
        let mut values = entry.table.leaves();
        values.retain(|l| l.key != "kind" && l.key != "title");
        let own = entry.origin != Origin::Shipped;
        Self {
            id: entry.id.clone(),
            kind: entry.kind.clone(),
            title: title.map_or_else(|| entry.id.clone(), |t| t.value),
            values,
            origin: entry.origin,
            file: own.then(|| entry.file.name.to_string()),
            shadowed: entry.shadowed,
        }
    }

    /// Where it comes from, where that is worth a word.
    fn whence(&self) -> String {
        let mut words = Vec::new();
        if let Some(file) = &self.file {
            let whose = match self.origin {
                Origin::Prop => "the prop's",
                _ => "yours",
            };
            words.push(format!("{whose}: {file}"));
        }
        if self.shadowed {
            words.push("not used: one of the same id comes before it".to_owned());
        }
        match words.is_empty() {
            true => String::new(),
            false => format!(" ({})", words.join("; ")),
        }
    }
}

/// A list of entries, or one entry in full.
pub fn parts_text(entries: &[&Entry], in_full: bool) -> String {
    let mut out = String::new();
    if in_full {
        for entry in entries {
            full(&mut out, entry);
        }
        return out;
    }
    let width = entries.iter().map(|e| e.id.len()).max().unwrap_or(0);
    let mut kinds: Vec<&str> = Vec::new();
    // In the order of those that ship, whatever kinds stand before them.
    let shipped = entries.iter().filter(|e| e.origin == Origin::Shipped);
    for entry in shipped.chain(entries) {
        if !kinds.contains(&entry.kind.as_str()) {
            kinds.push(&entry.kind);
        }
    }
    for kind in kinds {
        let _ = writeln!(out, "\n{kind}");
        for entry in entries.iter().filter(|e| e.kind == kind) {
            let _ = writeln!(
                out,
                "  {:<width$}  {}{}",
                entry.id,
                entry.title,
                entry.whence()
            );
        }
    }
    out.push_str(
        "\nlampwright parts ID shows an entry with unit, condition and source of every value\n",
    );
    out
}

fn full(out: &mut String, entry: &Entry) {
    let _ = writeln!(
        out,
        "{} ({}): {}{}\n",
        entry.id,
        entry.kind,
        entry.title,
        entry.whence()
    );
    let width = entry.values.iter().map(|l| l.key.len()).max().unwrap_or(0);
    for leaf in &entry.values {
        let spread = leaf
            .spread
            .as_ref()
            .map(|s| format!(" ({s})"))
            .unwrap_or_default();
        let _ = writeln!(out, "  {:<width$}  {}{spread}", leaf.key, leaf.value);
        for (word, text) in [("condition", &leaf.condition), ("source", &leaf.source)] {
            if let Some(text) = text {
                let _ = writeln!(out, "  {:<width$}    {word}: {text}", "");
            }
        }
    }
    out.push('\n');
}

/// The entries as JSON.
pub fn parts_json(entries: &[&Entry]) -> Value {
    let entry = |e: &&Entry| {
        let mut values = Map::new();
        for l in &e.values {
            let value = json!({ "value": l.value, "spread": l.spread, "condition": l.condition, "source": l.source });
            values.insert(l.key.clone(), value);
        }
        json!({
            "id": e.id, "kind": e.kind, "title": e.title, "origin": e.origin.word(), "file": e.file,
            "shadowed": e.shadowed, "values": values,
        })
    };
    json!({ "schema": "lampwright/parts/1", "parts": entries.iter().map(entry).collect::<Vec<_>>() })
}
