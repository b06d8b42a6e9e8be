//! Where the user's own parts lie, and what is said when a prop stands on them.

use super::args::OwnPartsArgs;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use std::io::Write as _;
use std::path::PathBuf;
use std::sync::Once;

/// The variable that names the folder; set but empty it means none.
const VARIABLE: &str = "LAMPWRIGHT_PARTS";

impl OwnPartsArgs {
    /// The folder that would be written to; `None` where nothing says where.
    pub(super) fn place(&self) -> Option<PathBuf> {
        if let Some(folder) = &self.parts {
            return Some(folder.clone());
        }
        if let Some(folder) = std::env::var_os(VARIABLE) {
            return (!folder.is_empty()).then(|| folder.into());
        }
        // The XDG base directory specification: what is not absolute is not to be used.
        let set = |name: &str| std::env::var_os(name).map(PathBuf::from);
        let absolute = |folder: Option<PathBuf>| folder.filter(|f| f.is_absolute());
        let data = absolute(set("XDG_DATA_HOME"))
            .or_else(|| absolute(set("HOME")).map(|home| home.join(".local/share")));
        data.map(|folder| folder.join("lampwright/parts"))
    }

    /// The folder to read, if there is one.
    ///
    /// # Errors
    /// A folder that was named is not there.
    pub(super) fn folder(&self) -> Result<Option<PathBuf>, InputErrors> {
        let named = match (&self.parts, std::env::var_os(VARIABLE)) {
            (Some(_), _) => Some("--parts"),
            (None, Some(folder)) if !folder.is_empty() => Some(VARIABLE),
            _ => None,
        };
        let place = self.place();
        match (named, place) {
            (Some(by), Some(place)) if !place.is_dir() => {
                let error =
                    InputError::whole(format!("{by}: there is no folder {}", place.display()));
                let help = "name the folder that holds your parts; `lampwright parts add` makes it";
                Err(error.help(help).into())
            }
            (_, place) => Ok(place.filter(|p| p.is_dir())),
        }
    }
}

/// Says once what the prop stands on that does not go with its folder.
pub(super) fn tell(prop: &Prop, folder: &std::path::Path) {
    static ONCE: Once = Once::new();
    let outside: Vec<_> = prop.own_parts.iter().filter(|p| !p.is_in_prop()).collect();
    if outside.is_empty() {
        return;
    }
    ONCE.call_once(|| {
        let mut err = anstream::stderr();
        for part in outside {
            let instead = if part.shadows {
                ", in place of the one that ships"
            } else {
                ""
            };
            let _ = writeln!(err, "note: {} \"{}\" is your own: {}{instead}", part.kind, part.id, part.file);
        }
        let folder = folder.display();
        let _ = writeln!(
            err,
            "note: elsewhere this prop reads the same only with them: lampwright parts keep {folder}"
        );
    });
}
