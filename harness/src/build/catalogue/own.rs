//! Parts of the user's own: files beside the shipped ones.

use super::Origin;
use crate::build::diag::{InputError, InputErrors, Sink, Source};
use crate::build::folder::{files_in, read_text};
use crate::build::reader::Document;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::path::Path;

/// The folder within a prop that holds parts of its own.
pub const PARTS_FOLDER: &str = "parts";

/// An entry that a build stands on and that does not ship with the program.
#[derive(Debug, Clone, Serialize)]
pub struct OwnPart {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Whose it is: `prop` or `user`.
    pub origin: &'static str,
    /// The file: within the prop's folder for the prop's own, else as it was found.
    pub file: String,
    /// SHA-256 of the file's text.
    pub sha256: String,
    /// Whether it stands in for one that ships under the same id.
    pub shadows: bool,
    #[serde(skip)]
    pub(super) text: Source,
}

impl OwnPart {
    pub(super) fn new(id: &str, kind: &str, origin: Origin, text: &Source, shadows: bool) -> Self {
        let name = Path::new(&*text.name).file_name();
        let name = name.map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let digest = Sha256::digest(text.text.as_bytes());
        Self {
            id: id.to_owned(),
            kind: kind.to_owned(),
            origin: origin.word(),
            file: match origin {
                Origin::Prop => format!("{PARTS_FOLDER}/{name}"),
                _ => text.name.to_string(),
            },
            sha256: digest.iter().map(|byte| format!("{byte:02x}")).collect(),
            shadows,
            text: text.clone(),
        }
    }

    /// Whether it goes with the prop's folder.
    pub fn is_in_prop(&self) -> bool {
        self.origin == Origin::Prop.word()
    }

    /// The name of its file and the text.
    pub fn file_and_text(&self) -> (String, &str) {
        let name = Path::new(&*self.text.name).file_name();
        let name = name.map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        (name, &self.text.text)
    }
}

/// The files of a folder in the order of their names; none where there is no such folder.
///
/// # Errors
/// A file that cannot be read or is no TOML, or an id that stands twice.
pub(super) fn read_folder(folder: &Path) -> Result<Vec<Source>, InputErrors> {
    let mut sources = Vec::new();
    let mut errors = Vec::new();
    for path in files_in(folder, "toml") {
        match read_text(&path) {
            Ok(source) => sources.push(source),
            Err(InputErrors(more)) => errors.extend(more),
        }
    }
    if !errors.is_empty() {
        return Err(InputErrors(errors));
    }
    let sink = Sink::new();
    let mut first: BTreeMap<String, Source> = BTreeMap::new();
    for source in &sources {
        let document = Document::parse(source, &sink);
        let root = document.table(&sink);
        for id in root.keys() {
            let before = first.insert(id.clone(), source.clone());
            let (Some(before), Some(place)) = (before, root.place_of(&id)) else {
                continue;
            };
            let message = format!("\"{id}\" stands in {} too", before.name);
            sink.push(
                InputError::at(place, message, "used before")
                    .help("give one of the two another id, or take it out"),
            );
        }
    }
    sink.finish(sources)
}
