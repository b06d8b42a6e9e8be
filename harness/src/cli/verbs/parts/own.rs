//! `parts template`, `parts add`, `parts keep`: parts of the user's own.

use crate::build::catalogue::{
    add_entry, entry_text, keep, template as text_of, template_kinds, CatalogueText, NewEntry,
    PARTS_FOLDER,
};
use crate::build::diag::{near_miss, InputError, InputErrors, Source};
use crate::build::folder::{read_prop, read_text, Choice};
use crate::cli::args::{AddArgs, KeepArgs, TemplateArgs};
use crate::cli::exit::Exit;
use crate::cli::{print, VerbError};
use crate::report::output::Output;
use std::io::Write as _;
use std::path::PathBuf;

fn wrong(message: impl Into<String>, help: impl Into<String>) -> VerbError {
    InputErrors::from(InputError::whole(message).help(help)).into()
}

/// Runs `parts template`.
pub(super) fn template(args: &TemplateArgs) -> Result<Exit, VerbError> {
    let kinds = template_kinds();
    let Some(text) = text_of(&args.kind) else {
        let near = near_miss(&args.kind, kinds.iter().copied());
        let near = near.map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
        let help = format!("{near}kinds: {}", kinds.join(", "));
        return Err(wrong(
            format!("there is no kind of part \"{}\"", args.kind),
            help,
        ));
    };
    let Some(path) = &args.out else {
        print(&text)?;
        return Ok(Exit::Holds);
    };
    let name = path.display();
    if path.symlink_metadata().is_ok() {
        return Err(wrong(
            format!("{name} is there already"),
            "name another file; nothing is overwritten",
        ));
    }
    let failed = |error| VerbError::Write {
        name: name.to_string(),
        error,
    };
    let mut out = Output::create(path).map_err(failed)?;
    out.write_all(text.as_bytes()).map_err(failed)?;
    out.finish().map_err(failed)?;
    print(&format!(
        "{name}: fill in the question marks, then run: lampwright parts add {name}\n"
    ))?;
    Ok(Exit::Holds)
}

/// Runs `parts add`.
pub(super) fn add(args: &AddArgs) -> Result<Exit, VerbError> {
    let folder = match &args.prop {
        Some(prop) if !prop.is_dir() => {
            return Err(wrong(
                format!("{}: is no folder", prop.display()),
                "name the folder of a prop; `lampwright new FOLDER` starts one",
            ))
        }
        Some(prop) => prop.join(PARTS_FOLDER),
        None => args.own.place().ok_or_else(|| {
            wrong(
                "nothing says where your own parts lie",
                "name the folder: --parts DIR",
            )
        })?,
    };
    let known = CatalogueText::with(args.prop.as_deref(), Some(&folder))?;
    let source = match &args.file {
        Some(path) => read_text(path)?,
        None => Source::new("the options", entry_text(&new_entry(args)?, &known)?),
    };
    let added = add_entry(&source, &folder, &known, args.replace)?;
    let (id, path) = (&added.id, added.path.display());
    let instead = if added.shadows {
        "\nIt stands in for the one that ships under the same id, in every build that names it."
    } else {
        ""
    };
    print(&format!(
        "{} \"{id}\" is in your catalogue: {path}{instead}\nSee it: lampwright parts {id}\n",
        added.kind
    ))?;
    Ok(Exit::Holds)
}

fn new_entry(args: &AddArgs) -> Result<NewEntry, VerbError> {
    let figures = args.set.iter().map(|text| match text.split_once('=') {
        Some((key, value)) if !key.trim().is_empty() => {
            Ok((key.trim().to_owned(), value.trim().to_owned()))
        }
        _ => Err(wrong(
            format!("--set {text}: there is no = between key and value"),
            "write --set KEY=VALUE, such as --set resistance=\"20 mΩ\"",
        )),
    });
    Ok(NewEntry {
        id: args.id.clone().unwrap_or_default(),
        kind: args.kind.clone(),
        title: args.title.clone(),
        source: args.source.clone(),
        like: args.like.clone(),
        figures: figures.collect::<Result<_, _>>()?,
    })
}

/// Runs `parts keep`.
pub(super) fn keep_in_prop(args: &KeepArgs) -> Result<Exit, VerbError> {
    let choice = Choice {
        build: args.build.clone(),
        variant: args.variant.clone(),
        parts: args.own.folder()?,
        ..Choice::default()
    };
    let folder: &PathBuf = &args.prop;
    let prop = read_prop(folder, &choice)?;
    let kept = keep(folder, &prop)?;
    let mut text = String::new();
    for part in &kept {
        text.push_str(&format!(
            "{} taken from {} into {}\n",
            part.id,
            part.from,
            part.path.display()
        ));
    }
    if kept.is_empty() {
        text = "nothing to keep: the prop stands on its own parts and those that ship\n".to_owned();
    }
    print(&text)?;
    Ok(Exit::Holds)
}
