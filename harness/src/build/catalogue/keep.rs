//! Taking what a prop stands on into its own folder, so that it reads the same on another machine.

use super::add::write;
use super::own::PARTS_FOLDER;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use std::path::{Path, PathBuf};
use toml_edit::DocumentMut;

/// An entry that was taken into the prop.
#[derive(Debug, Clone)]
pub struct Kept {
    /// Its id.
    pub id: String,
    /// Where it came from.
    pub from: String,
    /// Where it is now.
    pub path: PathBuf,
}

/// Copies every entry of the user's folder that the prop stands on into the prop's `parts`. The copies are found first
/// from then on.
///
/// # Errors
/// A file of that name is there already, or the folder cannot be written to.
pub fn keep(folder: &Path, prop: &Prop) -> Result<Vec<Kept>, InputErrors> {
    let mut kept = Vec::new();
    for part in prop.own_parts.iter().filter(|p| !p.is_in_prop()) {
        let path = folder.join(PARTS_FOLDER).join(format!("{}.toml", part.id));
        write(&path, &alone(&part.id, &part.text.text)?, false)?;
        kept.push(Kept {
            id: part.id.clone(),
            from: part.file.clone(),
            path,
        });
    }
    Ok(kept)
}

/// The text of one entry: the whole text where it holds no other.
fn alone(id: &str, text: &str) -> Result<String, InputErrors> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|e: toml_edit::TomlError| InputError::whole(e.to_string()))?;
    let others = document.iter().map(|(key, _)| key.to_owned());
    let others: Vec<String> = others.filter(|key| key != id).collect();
    if others.is_empty() {
        return Ok(text.to_owned());
    }
    for other in &others {
        document.remove(other);
    }
    Ok(document.to_string().trim_start().to_owned())
}
