//! `parts`: the catalogue, every value with its condition and source; and parts of the user's own.

mod own;

use crate::build::catalogue::CatalogueText;
use crate::build::diag::{near_miss, InputError, InputErrors, Sink};
use crate::cli::args::{PartsArgs, PartsTask, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};
use crate::report::parts::{parts_json, parts_text, Entry};

/// Runs the verb.
pub(in crate::cli) fn run(args: &PartsArgs) -> Result<Exit, VerbError> {
    match &args.task {
        None => list(args),
        Some(PartsTask::Template(task)) => own::template(task),
        Some(PartsTask::Add(task)) => own::add(task),
        Some(PartsTask::Keep(task)) => own::keep_in_prop(task),
    }
}

fn list(args: &PartsArgs) -> Result<Exit, VerbError> {
    let texts = CatalogueText::with(args.prop.as_deref(), args.own.folder()?.as_deref())?;
    let sink = Sink::new();
    let catalogue = texts.parse(&sink);
    let entries: Vec<Entry> = catalogue
        .all_entries(&sink)
        .iter()
        .map(Entry::read)
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
    let mut kinds: Vec<&str> = Vec::new();
    for entry in entries {
        if !kinds.contains(&entry.kind.as_str()) {
            kinds.push(&entry.kind);
        }
    }
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
