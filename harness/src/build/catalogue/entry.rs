//! Whether an entry may stand in the catalogue: everything it says can be read, and every figure has a source.

use super::CatalogueText;
use crate::build::diag::{InputError, InputErrors, Place, Sink, Source};
use crate::build::file::read_entry;
use crate::build::reader::{Document, Table};

/// Keys that name, describe or count rather than state a figure.
pub(super) const WORDS: [&str; 15] = [
    "kind",
    "core",
    "title",
    "note",
    "part-number",
    "order",
    "pixel",
    "insulation",
    "gauge",
    "outputs",
    "condition",
    "source",
    "interpolation",
    "keyed",
    "usb",
];

/// Shortest text that can say where a figure comes from.
const SHORTEST_SOURCE: usize = 6;

/// Checks the only entry of a text; `catalogue` is what it may speak of. Gives its id and kind.
///
/// # Errors
/// Everything that is wrong with it, each with its place and how to mend it.
pub fn check_entry(
    source: &Source,
    catalogue: &CatalogueText,
) -> Result<(String, String), InputErrors> {
    let sink = Sink::new();
    let document = Document::parse(source, &sink);
    if !sink.is_empty() {
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    let root = document.table(&sink);
    let ids = root.keys();
    let [id] = ids.as_slice() else {
        let error = InputError::whole(format!("{}: holds {} entries", source.name, ids.len()));
        let help = "write one entry a file: [ID] on a line of its own, and below it its keys; `lampwright parts template KIND` gives one to fill in";
        return Err(error.help(help).into());
    };
    let Some(table) = root.table(id) else {
        return sink.finish(()).and(Err(InputErrors::default()));
    };
    let open = unfilled(&table);
    if !open.is_empty() {
        // What else is wrong would be a flood that follows from this.
        for (key, place) in open {
            let message = format!("`{key}` is not filled in");
            let error = InputError::at(place, message, "still a question mark");
            sink.push(error.help("write what the data sheet says, or take the line out"));
        }
        return sink.finish(()).and(Err(InputErrors::default()));
    }
    check_id(id, &table);
    let parsed = catalogue.parse(&sink);
    let kind = read_entry(id, &table, &parsed, &sink);
    let title = table.need_text("title", "\"what it is, by its part number\"");
    if let Some(title) = title.filter(|t| t.value.trim().len() < SHORTEST_SOURCE) {
        let error = InputError::at(
            title.place,
            format!("`{id}.title` says too little"),
            "too short",
        );
        sink.push(error.help("write what it is, such as title = \"toggle switch, 5 A\""));
    }
    for place in unsourced(&table) {
        let message = format!("`{}` has no source", place.key);
        let error = InputError::at(place.place, message, "where does this come from?");
        sink.push(error.help(
            "write source = \"maker's data sheet, revision, page\" beside it or in the table around it; \
             what was not looked up says \"from memory\"",
        ));
    }
    let found = (id.clone(), kind.unwrap_or_default());
    sink.finish(found)
}

fn check_id(id: &str, table: &Table<'_>) {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if id.is_empty() || id.len() > 64 || !id.chars().all(plain) {
        let message = format!("\"{id}\" cannot be an id");
        let error = InputError::at(table.place(), message, "not a usable id");
        table
            .sink()
            .push(error.help("use up to 64 letters, digits, - and _"));
    }
}

/// Figures and texts of an entry in which a question mark of the template still stands.
fn unfilled(table: &Table<'_>) -> Vec<(String, Place)> {
    let mut out = Vec::new();
    for key in table.keys() {
        // A figure is told once; a map of figures has a list for its value, and keys of its own.
        let group = table.is_table(&key).then(|| table.table(&key)).flatten();
        match group.filter(|g| !g.has("value") || g.is_list("value")) {
            Some(group) => out.extend(unfilled(&group)),
            None => {
                let place = table.place_of(&key);
                let open = |p: &Place| {
                    let text = p.source.text.get(p.span.clone());
                    text.is_some_and(|t| t.contains("\"?"))
                };
                let name = format!("{}.{key}", table.path());
                out.extend(place.filter(open).map(|place| (name, place)));
            }
        }
    }
    out
}

/// A figure without a source.
pub(super) struct Unsourced {
    /// Its dotted key.
    pub(super) key: String,
    place: Place,
}

/// Figures of an entry that have no source of their own nor of the table around them.
pub(super) fn unsourced(entry: &Table<'_>) -> Vec<Unsourced> {
    let mut out = Vec::new();
    walk(entry, false, &mut out);
    out
}

fn walk(table: &Table<'_>, around: bool, out: &mut Vec<Unsourced>) {
    let here = match table.text_if_any("source") {
        Some(source) => source.trim().len() >= SHORTEST_SOURCE,
        None => around,
    };
    for key in table.keys() {
        // Of a figure with ends, the value alone is told.
        let end = table.has("value") && ["low", "high", "tolerance"].contains(&key.as_str());
        if end || WORDS.contains(&key.as_str()) {
            continue;
        }
        if table.is_table(&key) {
            if let Some(inner) = table.table(&key) {
                // A quantity is whole in itself; a group such as a channel hands its source down.
                walk(&inner, here && !inner.has("kind"), out);
            }
        } else if !here {
            if let Some(place) = table.place_of(&key) {
                let key = format!("{}.{key}", table.path());
                out.push(Unsourced { key, place });
            }
        }
    }
}
