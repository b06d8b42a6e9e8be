//! The catalogue: the parts that ship with the program (`harness/parts/*.toml`, built into the binary), and before them
//! the user's own.

#[cfg(feature = "command")]
mod add;
mod entry;
#[cfg(feature = "command")]
mod keep;
mod own;
mod template;
#[cfg(test)]
mod tests;

#[cfg(feature = "command")]
pub use add::{add_entry, entry_text, Added, NewEntry};
pub use entry::check_entry;
#[cfg(feature = "command")]
pub use keep::{keep, Kept};
pub use own::{OwnPart, PARTS_FOLDER};
pub use template::{template, template_kinds};

use super::diag::{near_miss, InputErrors, Sink, Source};
use super::reader::{Document, Table};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::OnceLock;

/// The shipped files.
const FILES: &[(&str, &str)] = &[
    (
        "catalogue:pixels.toml",
        include_str!("../../parts/pixels.toml"),
    ),
    (
        "catalogue:cells.toml",
        include_str!("../../parts/cells.toml"),
    ),
    (
        "catalogue:contacts.toml",
        include_str!("../../parts/contacts.toml"),
    ),
    (
        "catalogue:fuses.toml",
        include_str!("../../parts/fuses.toml"),
    ),
    (
        "catalogue:boards.toml",
        include_str!("../../parts/boards.toml"),
    ),
    (
        "catalogue:passives.toml",
        include_str!("../../parts/passives.toml"),
    ),
    (
        "catalogue:strips.toml",
        include_str!("../../parts/strips.toml"),
    ),
    (
        "catalogue:wires.toml",
        include_str!("../../parts/wires.toml"),
    ),
];

/// Whose an entry is, in the order in which they are looked up: the first that has an id wins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// The prop's own: a file of its folder `parts`.
    Prop,
    /// The user's own: a file of the user's catalogue folder.
    User,
    /// It ships with the program.
    Shipped,
}

impl Origin {
    /// The word for it in outputs.
    pub fn word(self) -> &'static str {
        match self {
            Self::Prop => "prop",
            Self::User => "user",
            Self::Shipped => "shipped",
        }
    }
}

#[derive(Clone)]
struct File {
    source: Source,
    origin: Origin,
}

/// The texts of the catalogue, first the user's own; cheap to clone. By default those that ship alone.
#[derive(Clone)]
pub struct CatalogueText(Vec<File>);

impl std::fmt::Debug for CatalogueText {
    /// Names alone: the texts would drown whatever they are part of.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list()
            .entries(self.0.iter().map(|file| &file.source.name))
            .finish()
    }
}

impl Default for CatalogueText {
    fn default() -> Self {
        // The texts are copied once; every prop holds on to them.
        static SHIPPED: OnceLock<CatalogueText> = OnceLock::new();
        let shipped = |(name, text): &(&'static str, &'static str)| File {
            source: Source::new(*name, *text),
            origin: Origin::Shipped,
        };
        let all = SHIPPED.get_or_init(|| Self(FILES.iter().map(shipped).collect()));
        all.clone()
    }
}

impl CatalogueText {
    /// The shipped files, and before them those of a prop's folder `parts` and of the user's catalogue folder. A
    /// folder that is not there holds nothing.
    ///
    /// # Errors
    /// A file that cannot be read or is no TOML; an id that stands twice in one folder.
    pub fn with(prop: Option<&Path>, user: Option<&Path>) -> Result<Self, InputErrors> {
        let mut files = Vec::new();
        let prop = prop.map(|folder| folder.join(PARTS_FOLDER));
        for (folder, origin) in [(prop.as_deref(), Origin::Prop), (user, Origin::User)] {
            let found = folder.map_or_else(|| Ok(Vec::new()), own::read_folder)?;
            files.extend(found.into_iter().map(|source| File { source, origin }));
        }
        files.extend(Self::default().0);
        Ok(Self(files))
    }

    /// The shipped files, and before them texts of a prop's own parts.
    pub fn with_texts(own: impl IntoIterator<Item = Source>) -> Self {
        let own = own.into_iter().map(|source| File {
            source,
            origin: Origin::Prop,
        });
        Self(own.chain(Self::default().0).collect())
    }

    /// Parses the files.
    pub fn parse(&self, sink: &Sink) -> Catalogue<'_> {
        let parsed = self
            .0
            .iter()
            .map(|f| (Document::parse(&f.source, sink), f.origin));
        Catalogue {
            documents: parsed.collect(),
            used: RefCell::default(),
        }
    }
}

/// The parsed catalogue. Each entry is a table named by its id, with a `kind`.
#[derive(Debug)]
pub struct Catalogue<'a> {
    documents: Vec<(Document<'a>, Origin)>,
    /// Entries that were asked for: which document, which id.
    used: RefCell<BTreeSet<(usize, String)>>,
}

/// An entry and where it stands.
#[derive(Debug)]
pub struct CatalogueEntry<'a> {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// What it says.
    pub table: Table<'a>,
    /// Whose it is.
    pub origin: Origin,
    /// The file.
    pub file: Source,
    /// Whether one of the same id and kind stands before it, so that it is never found.
    pub shadowed: bool,
}

impl<'a> Catalogue<'a> {
    /// Every entry in the order of files, also those that are shadowed.
    pub fn all_entries(&'a self, sink: &'a Sink) -> Vec<CatalogueEntry<'a>> {
        let mut out: Vec<CatalogueEntry<'a>> = Vec::new();
        let mut seen = BTreeSet::new();
        for (document, origin) in &self.documents {
            let root = document.table(sink);
            for id in root.keys() {
                let Some(table) = root.table(&id) else {
                    continue;
                };
                let kind = table.text("kind").map_or_else(String::new, |t| t.value);
                let shadowed = !seen.insert((id.clone(), kind.clone()));
                out.push(CatalogueEntry {
                    id,
                    kind,
                    table,
                    origin: *origin,
                    file: document.source.clone(),
                    shadowed,
                });
            }
        }
        out
    }

    /// Every entry that can be found, in the order of files: id, kind, table.
    pub fn entries(&'a self, sink: &'a Sink) -> Vec<(String, String, Table<'a>)> {
        let all = self.all_entries(sink).into_iter();
        all.filter(|e| !e.shadowed)
            .map(|e| (e.id, e.kind, e.table))
            .collect()
    }

    /// The entry with an id and a kind; else the ids of that kind and the nearest of them.
    ///
    /// # Errors
    /// The known ids of that kind, and the near miss if there is one.
    pub fn find(
        &'a self,
        id: &str,
        kinds: &[&str],
        sink: &'a Sink,
    ) -> Result<Table<'a>, (Vec<String>, Option<String>)> {
        let wanted = |kind: &str| kinds.contains(&kind);
        for (index, (document, _)) in self.documents.iter().enumerate() {
            let root = document.table(sink);
            let entry = root.has(id).then(|| root.table(id)).flatten();
            if let Some(table) = entry.filter(|t| t.text("kind").is_some_and(|k| wanted(&k.value)))
            {
                self.used.borrow_mut().insert((index, id.to_owned()));
                return Ok(table);
            }
        }
        let entries = self.entries(sink);
        let ids: Vec<String> = entries
            .into_iter()
            .filter(|(_, k, _)| wanted(k))
            .map(|(i, _, _)| i)
            .collect();
        let near = near_miss(id, ids.iter().map(String::as_str)).map(str::to_owned);
        Err((ids, near))
    }

    /// The entries other than those that ship which were found so far.
    pub fn own_parts_used(&'a self, sink: &'a Sink) -> Vec<OwnPart> {
        let used = self.used.borrow();
        let each = used.iter().filter_map(|(index, id)| {
            let (document, origin) = self.documents.get(*index)?;
            let table = document.table(sink).table(id)?;
            let kind = table.text("kind")?.value;
            let behind = self.documents.iter().skip(index + 1);
            let shipped = behind.filter(|(_, o)| *o == Origin::Shipped);
            let mut same = shipped.map(|(d, _)| d.table(sink).has(id));
            (*origin != Origin::Shipped).then(|| {
                OwnPart::new(
                    id,
                    &kind,
                    *origin,
                    document.source,
                    same.any(|shadowed| shadowed),
                )
            })
        });
        each.collect()
    }
}
