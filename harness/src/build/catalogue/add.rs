//! Making an entry of the user's own and putting it into a catalogue folder.

use super::entry::WORDS;
use super::{check_entry, CatalogueText};
use crate::build::diag::{InputError, InputErrors, Sink, Source};
use crate::build::folder::files_in;
use crate::build::shared::set_readable;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use toml_edit::{DocumentMut, InlineTable, Item, Table, Value};

/// An entry in words: what `parts add` is told by its options.
#[derive(Debug, Clone, Default)]
pub struct NewEntry {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: Option<String>,
    /// What it is.
    pub title: Option<String>,
    /// Where the figures come from.
    pub source: Option<String>,
    /// An entry whose figures it starts from.
    pub like: Option<String>,
    /// Figures: dotted key, value.
    pub figures: Vec<(String, String)>,
}

/// What became of an entry.
#[derive(Debug, Clone)]
pub struct Added {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// The file.
    pub path: PathBuf,
    /// Whether it stands in for one that ships under the same id.
    pub shadows: bool,
}

/// The entry as the text of a file.
///
/// # Errors
/// There is no entry to start from, or a key goes through something that is no table.
pub fn entry_text(new: &NewEntry, catalogue: &CatalogueText) -> Result<String, InputErrors> {
    let mut table = match &new.like {
        Some(like) => copied(like, catalogue)?,
        None => Table::new(),
    };
    let mut word = |key: &str, value: &Option<String>| {
        if let Some(value) = value {
            table.insert(key, Item::Value(value.as_str().into()));
        }
    };
    word("kind", &new.kind);
    word("title", &new.title);
    for (key, value) in &new.figures {
        set(&mut table, key, value, new.source.as_deref())?;
    }
    let mut document = DocumentMut::new();
    document.insert(&new.id, Item::Table(table));
    Ok(document.to_string())
}

/// The table of an entry, without where it stood.
fn copied(id: &str, catalogue: &CatalogueText) -> Result<Table, InputErrors> {
    for file in &catalogue.0 {
        let document: Result<DocumentMut, _> = file.source.text.parse();
        let found = document.ok().and_then(|d| d.get(id)?.as_table().cloned());
        if let Some(mut table) = found {
            plain(&mut table);
            // What the words of the old one say about it holds for it alone.
            for key in ["title", "part-number", "note"] {
                table.remove(key);
            }
            return Ok(table);
        }
    }
    let sink = Sink::new();
    let parsed = catalogue.parse(&sink);
    let ids: Vec<String> = parsed.entries(&sink).into_iter().map(|e| e.0).collect();
    let near = crate::build::diag::near_miss(id, ids.iter().map(String::as_str));
    let help = near.map_or("`lampwright parts` lists them all".to_owned(), |n| {
        format!("did you mean \"{n}\"?")
    });
    let error = InputError::whole(format!("--like: the catalogue has no part \"{id}\""));
    Err(error.help(help).into())
}

/// Takes comments and places in the old text off a table.
fn plain(table: &mut Table) {
    table.decor_mut().clear();
    table.set_position(None);
    for (_, item) in table.iter_mut() {
        if let Item::Table(inner) = item {
            plain(inner);
        }
    }
}

/// Parts of a figure; a key that ends in one of them is of the figure before it.
const OF_A_FIGURE: [&str; 5] = ["value", "low", "high", "tolerance", "condition"];

fn set(table: &mut Table, key: &str, text: &str, source: Option<&str>) -> Result<(), InputErrors> {
    let mut steps: Vec<&str> = key.split('.').collect();
    let wrong = |why: &str| {
        let error = InputError::whole(format!("--set {key}: {why}"));
        InputErrors::from(error.help("write --set KEY=VALUE, such as --set resistance=\"20 mΩ\", --set resistance.high=\"60 mΩ\" or --set regulator.output=\"3.3 V\""))
    };
    let Some(mut last) = steps.pop().filter(|l| !l.is_empty()) else {
        return Err(wrong("is no key"));
    };
    let part = OF_A_FIGURE.contains(&last).then_some(last);
    if part.is_some() {
        last = steps.pop().ok_or_else(|| wrong("names no figure"))?;
    }
    let mut at = table;
    for step in steps {
        let item = at.entry(step).or_insert_with(|| Item::Table(Table::new()));
        at = item
            .as_table_mut()
            .ok_or_else(|| wrong(&format!("\"{step}\" is no table")))?;
    }
    let value = value_of(text);
    let old = at.get(last).and_then(Item::as_inline_table).cloned();
    let figure = matches!(&value, Value::String(_)) && source.is_some() && is_figure(last, text);
    let item = match part {
        None if !figure => value,
        None => {
            let mut table = InlineTable::new();
            table.insert("value", value);
            Value::InlineTable(table)
        }
        Some(part) => {
            let before = at.get(last).and_then(Item::as_value).cloned();
            let mut table = old.unwrap_or_default();
            if table.is_empty() {
                if let Some(value) = before {
                    table.insert("value", value);
                }
            }
            table.insert(part, value);
            Value::InlineTable(table)
        }
    };
    let item = match (item, source) {
        (Value::InlineTable(mut table), Some(source)) => {
            table.insert("source", source.into());
            Value::InlineTable(table)
        }
        (item @ Value::Array(_), Some(source)) => {
            at.insert("source", Item::Value(source.into()));
            item
        }
        (item, _) => item,
    };
    at.insert(last, Item::Value(item));
    Ok(())
}

/// Whether a text states a figure: it begins like a number, and its key is none that names something.
fn is_figure(key: &str, text: &str) -> bool {
    let bare = text.trim_start_matches(['-', '+', '−', ' ']);
    bare.starts_with(|c: char| c.is_ascii_digit()) && !WORDS.contains(&key)
}

/// Whole numbers, flags and lists as they are, all else as text.
fn value_of(text: &str) -> Value {
    let literal = text.parse::<Value>().ok();
    let kept = literal.filter(|v| v.is_integer() || v.is_bool() || v.is_array());
    kept.unwrap_or_else(|| text.into())
}

/// Checks the entry of a text and writes it into a catalogue folder, as `ID.toml`. Nothing that is there is replaced
/// unless `replace` says so: neither a file, nor, by standing in for it, an entry that ships.
///
/// # Errors
/// Everything that is wrong with the entry; one that is there already; a folder that cannot be written to.
pub fn add_entry(
    source: &Source,
    folder: &Path,
    catalogue: &CatalogueText,
    replace: bool,
) -> Result<Added, InputErrors> {
    let (id, kind) = check_entry(source, catalogue)?;
    let shipped = shipped_kind(&id);
    if let Some(other) = shipped.as_ref().filter(|other| **other != kind) {
        let error = InputError::whole(format!("\"{id}\" is the id of a {other} that ships"));
        return Err(error.help("take another id").into());
    }
    let shadows = shipped.is_some();
    if shadows && !replace {
        let error = InputError::whole(format!("\"{id}\" ships with the program"));
        let help = "take another id, or let yours stand in for it in every prop: --replace";
        return Err(error.help(help).into());
    }
    let path = folder.join(format!("{id}.toml"));
    if let Some(other) = elsewhere(folder, &id, &path) {
        let error = InputError::whole(format!("{} holds \"{id}\" already", other.display()));
        return Err(error.help("take another id, or take that entry out").into());
    }
    write(&path, &source.text, replace)?;
    Ok(Added {
        id,
        kind,
        path,
        shadows,
    })
}

fn shipped_kind(id: &str) -> Option<String> {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let parsed = texts.parse(&sink);
    let entries = parsed.entries(&sink);
    entries.into_iter().find(|e| e.0 == id).map(|e| e.1)
}

/// Another file of the folder that holds the id.
fn elsewhere(folder: &Path, id: &str, own: &Path) -> Option<PathBuf> {
    files_in(folder, "toml").into_iter().find(|path| {
        let text = std::fs::read_to_string(path).unwrap_or_default();
        let document = text.parse::<DocumentMut>();
        path != own && document.is_ok_and(|d| d.contains_key(id))
    })
}

/// Writes a file beside its place and moves it there.
pub(super) fn write(path: &Path, text: &str, replace: bool) -> Result<(), InputErrors> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let failed = |error: std::io::Error| {
        let fault = InputError::whole(format!("{} cannot be written: {error}", path.display()));
        InputErrors::from(fault.help("name a folder that you may write to"))
    };
    let there = || {
        let error = InputError::whole(format!("{} is there already", path.display()));
        InputErrors::from(error.help("nothing was written; take another id, or say --replace"))
    };
    if !replace && path.symlink_metadata().is_ok() {
        return Err(there());
    }
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut file = tempfile::Builder::new()
        .prefix(".lampwright-")
        .tempfile_in(folder)
        .map_err(failed)?;
    file.write_all(text.as_bytes()).map_err(failed)?;
    set_readable(file.path()).map_err(failed)?;
    let moved = match replace {
        true => file.persist(path).map_err(|e| e.error),
        false => file.persist_noclobber(path).map_err(|e| e.error),
    };
    match moved {
        Ok(_) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Err(there()),
        Err(e) => Err(failed(e)),
    }
}
