//! The parts that ship with the program: `harness/parts/*.toml`, built into the binary.

use super::diag::{near_miss, Sink, Source};
use super::reader::{Document, Table};

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
        "catalogue:wires.toml",
        include_str!("../../parts/wires.toml"),
    ),
];

/// The texts of the shipped files, kept for messages.
#[derive(Debug)]
pub struct CatalogueText(Vec<Source>);

impl Default for CatalogueText {
    fn default() -> Self {
        Self(
            FILES
                .iter()
                .map(|(name, text)| Source::new(*name, *text))
                .collect(),
        )
    }
}

impl CatalogueText {
    /// Parses the shipped files.
    pub fn parse(&self, sink: &Sink) -> Catalogue<'_> {
        Catalogue {
            documents: self.0.iter().map(|s| Document::parse(s, sink)).collect(),
        }
    }
}

/// The parsed catalogue. Each entry is a table named by its id, with a `kind`.
#[derive(Debug)]
pub struct Catalogue<'a> {
    documents: Vec<Document<'a>>,
}

impl<'a> Catalogue<'a> {
    /// Every entry in file order: id, kind, table.
    pub fn entries(&'a self, sink: &'a Sink) -> Vec<(String, String, Table<'a>)> {
        let mut out = Vec::new();
        for document in &self.documents {
            let root = document.table(sink);
            for id in root.keys() {
                let Some(table) = root.table(&id) else {
                    continue;
                };
                let kind = table.text("kind").map_or_else(String::new, |t| t.value);
                out.push((id, kind, table));
            }
        }
        out
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
        let entries = self.entries(sink);
        if let Some((_, _, table)) = entries
            .iter()
            .find(|(i, k, _)| i == id && kinds.contains(&k.as_str()))
        {
            return Ok(table.clone());
        }
        let ids: Vec<String> = entries
            .into_iter()
            .filter(|(_, k, _)| kinds.contains(&k.as_str()))
            .map(|(i, _, _)| i)
            .collect();
        let near = near_miss(id, ids.iter().map(String::as_str)).map(str::to_owned);
        Err((ids, near))
    }
}
