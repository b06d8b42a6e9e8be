//! The catalogue as text and JSON.

use crate::build::reader::{Leaf, Table};
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
}

impl Entry {
    /// Flattens a table.
    pub fn read(id: String, kind: String, table: &Table<'_>) -> Self {
        let title = table.text("title").map_or_else(|| id.clone(), |t| t.value);
        let mut values = table.leaves();
        values.retain(|l| l.key != "kind" && l.key != "title");
        Self {
            id,
            kind,
            title,
            values,
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
    let mut kind = "";
    for entry in entries {
        if entry.kind != kind {
            kind = &entry.kind;
            let _ = writeln!(out, "\n{kind}");
        }
        let _ = writeln!(out, "  {:<width$}  {}", entry.id, entry.title);
    }
    out.push_str(
        "\nlampwright parts ID shows an entry with unit, condition and source of every value\n",
    );
    out
}

fn full(out: &mut String, entry: &Entry) {
    let _ = writeln!(out, "{} ({}): {}\n", entry.id, entry.kind, entry.title);
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
        json!({ "id": e.id, "kind": e.kind, "title": e.title, "values": values })
    };
    json!({ "schema": "lampwright/parts/1", "parts": entries.iter().map(entry).collect::<Vec<_>>() })
}
