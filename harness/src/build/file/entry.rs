//! Reading a catalogue entry by itself, as a build would read it.

use super::{Reader, KINDS};
use crate::build::catalogue::Catalogue;
use crate::build::diag::{Sink, Source};
use crate::build::parts::PixelType;
use crate::build::rated::rated;
use crate::build::reader::{unknown_name, Document, Table};
use crate::units::Temperature;
use std::cell::RefCell;

/// Kinds of entry that are no kinds of part.
const MORE_KINDS: [&str; 2] = ["pixel", "wire"];

/// Every kind that an entry may have.
pub(crate) fn entry_kinds() -> Vec<&'static str> {
    let parts = KINDS.iter().filter(|k| **k != "splice");
    MORE_KINDS.iter().chain(parts).copied().collect()
}

/// What a prop adds to an entry of a kind, and an entry therefore leaves out.
fn left_out(kind: &str) -> &'static str {
    match kind {
        "connector" => "poles = [\"plus\"]",
        "strip" => "pixels = 9",
        "wire" => "length = \"1 m\"",
        _ => "",
    }
}

/// Reads an entry; its faults go to `sink`. Gives its kind where that is known.
pub(crate) fn read_entry(
    id: &str,
    entry: &Table<'_>,
    catalogue: &Catalogue<'_>,
    sink: &Sink,
) -> Option<String> {
    let kinds = entry_kinds();
    let kind = entry.need_text("kind", "\"cell\"")?;
    if !kinds.contains(&kind.value.as_str()) {
        sink.push(unknown_name(&kind, "`kind`", &kinds));
        return None;
    }
    let nothing = Source::new("", "");
    let nothing = Document::parse(&nothing, sink);
    let added = Source::new("", left_out(&kind.value));
    let added = Document::parse(&added, sink);
    let table = entry.clone().on(&added.table(sink));
    let reader = Reader {
        catalogue,
        root: nothing.table(sink),
        sink,
        broken: RefCell::default(),
        variant: None,
    };
    let before = sink.len();
    match kind.value.as_str() {
        "pixel" => drop(PixelType::read(id, &table)),
        "wire" => {
            let _ = super::wires::size(&table);
            let _ = table.text("insulation");
            let _ = rated::<Temperature>(&table, "insulation-max");
        }
        part => drop(reader.read_part(id, part, &table)),
    }
    for key in ["kind", "title", "part-number"] {
        let _ = table.has(key).then(|| table.text(key));
    }
    // With faults, keys may not have been asked for that are known very well.
    if sink.len() == before {
        table.finish();
    }
    Some(kind.value)
}
