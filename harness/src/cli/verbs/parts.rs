//! `parts`: the catalogue, every value with its condition and source.

use crate::build::catalogue::CatalogueText;
use crate::build::diag::{near_miss, InputError, InputErrors, Sink};
use crate::cli::args::{PartsArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};
use crate::report::parts::{parts_json, parts_text, Entry};

/// Runs the verb.
pub(in crate::cli) fn run(args: &PartsArgs) -> Result<Exit, VerbError> {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let catalogue = texts.parse(&sink);
    let entries: Vec<Entry> = catalogue
        .entries(&sink)
        .into_iter()
        .map(|(id, kind, table)| Entry::read(id, kind, &table))
        .collect();
    let chosen: Vec<&Entry> = match args.what.as_deref() {
        None => entries.iter().collect(),
        Some(what) => entries
            .iter()
            .filter(|e| e.kind == what || e.id == what)
            .collect(),
    };
    if let (Some(what), true) = (&args.what, chosen.is_empty()) {
        return Err(unknown(what, &entries).into());
    }
    let single = args
        .what
        .as_deref()
        .is_some_and(|w| entries.iter().any(|e| e.id == w));
    match args.format {
        TextFormat::Text => print(&parts_text(&chosen, single))?,
        TextFormat::Json => print(&format!("{:#}\n", parts_json(&chosen)))?,
    }
    Ok(Exit::Holds)
}

fn unknown(what: &str, entries: &[Entry]) -> InputErrors {
    let mut kinds: Vec<&str> = entries.iter().map(|e| e.kind.as_str()).collect();
    kinds.dedup();
    let names = entries
        .iter()
        .map(|e| e.id.as_str())
        .chain(kinds.iter().copied());
    let near = near_miss(what, names)
        .map(|n| format!("did you mean \"{n}\"? "))
        .unwrap_or_default();
    let error = InputError::whole(format!("the catalogue has no kind and no part \"{what}\""));
    error
        .help(format!("{near}kinds: {}", kinds.join(", ")))
        .into()
}
