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
        let wanted = |kind: &str| kinds.contains(&kind);
        for document in &self.documents {
            let entry = document.table(sink).table(id);
            if let Some(table) = entry.filter(|t| t.text("kind").is_some_and(|k| wanted(&k.value)))
            {
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
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;
    use crate::build::file::read_build;
    use std::collections::{BTreeMap, BTreeSet};

    /// Every entry of every shipped file: file, id, kind.
    fn entries() -> Vec<(&'static str, String, String, toml::Table)> {
        let mut out = Vec::new();
        for (file, text) in FILES {
            let root: toml::Table = toml::from_str(text).unwrap_or_else(|e| panic!("{file}: {e}"));
            for (id, value) in root {
                let table = value.as_table().expect("an entry is a table").clone();
                let kind = table["kind"].as_str().expect("kind is a text").to_owned();
                out.push((*file, id, kind, table));
            }
        }
        out
    }

    #[test]
    fn every_entry_reads_without_a_fault_as_a_part_of_a_build() {
        for (file, id, kind, _) in entries() {
            let body = match kind.as_str() {
                "pixel" => format!(
                    "[parts.p]\nkind = \"strip\"\npixel = \"{id}\"\npixels = 1\n\
                     [pixels.own]\nfrom = \"{id}\""
                ),
                "wire" => format!(
                    "[parts.a]\nkind = \"splice\"\n[parts.b]\nkind = \"splice\"\n\
                     [[wires]]\nfrom = \"a\"\nto = \"b\"\ntype = \"{id}\"\nlength = \"1 m\""
                ),
                kind => {
                    let more = match kind {
                        "connector" => "poles = [\"plus\"]",
                        "strip" => "pixels = 9",
                        _ => "",
                    };
                    format!("[parts.p]\nkind = \"{kind}\"\nfrom = \"{id}\"\n{more}")
                }
            };
            let text = format!("[prop]\nname = \"x\"\n{body}\n");
            let read = read_build(&Source::new("build.toml", text));
            assert!(read.is_ok(), "{file} {id}:\n{}", read.unwrap_err());
        }
    }

    /// Keys that name, describe or count rather than state a figure.
    const WORDS: [&str; 14] = [
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
        "from",
    ];

    /// Figures of a table that have no source of their own nor of the table around them.
    fn unsourced(path: &str, table: &toml::Table, around: bool, out: &mut Vec<String>) {
        let here = match table.get("source").and_then(toml::Value::as_str) {
            Some(source) => source.trim().len() > 5,
            None => around,
        };
        for (key, value) in table {
            let name = format!("{path}.{key}");
            match value {
                _ if WORDS.contains(&key.as_str()) => {}
                // A quantity is whole in itself; a group such as a channel hands its source down.
                toml::Value::Table(inner) => {
                    unsourced(&name, inner, here && !inner.contains_key("kind"), out);
                }
                _ if !here => out.push(name),
                _ => {}
            }
        }
    }

    #[test]
    fn every_figure_has_a_source() {
        let mut out = Vec::new();
        for (file, id, _, table) in entries() {
            unsourced(&format!("{file} {id}"), &table, false, &mut out);
        }
        assert!(out.is_empty(), "without a source:\n{}", out.join("\n"));
    }

    #[test]
    fn the_walk_sees_a_figure_without_a_source() {
        let table = toml::from_str("a = { value = \"1 V\" }\n[b]\nc = \"1 A\"").unwrap();
        let mut out = Vec::new();
        unsourced("x", &table, false, &mut out);
        assert_eq!(out, ["x.a.value", "x.b.c"]);
    }

    #[test]
    fn ids_are_unique_and_there_is_enough_of_each_kind() {
        let mut ids = BTreeSet::new();
        let mut count: BTreeMap<String, usize> = BTreeMap::new();
        for (file, id, kind, table) in entries() {
            assert!(ids.insert(id.clone()), "{file}: {id} is there twice");
            let title = table.get("title").and_then(toml::Value::as_str);
            assert!(title.is_some_and(|t| t.len() > 5), "{id} has no title");
            let kind = match table.get("gauge").and_then(toml::Value::as_str) {
                Some(gauge) if gauge.contains("AWG") => "wire, AWG".to_owned(),
                Some(_) => "wire, mm²".to_owned(),
                None if ["switch", "contact", "connector"].contains(&kind.as_str()) => {
                    "contact".to_owned()
                }
                None => kind,
            };
            *count.entry(kind).or_default() += 1;
        }
        for (kind, least) in [
            ("pixel", 12),
            ("cell", 8),
            ("wire, AWG", 10),
            ("wire, mm²", 10),
            ("contact", 12),
            ("board", 6),
            ("fuse", 4),
            ("protection", 1),
            ("strip", 4),
        ] {
            let have = count.get(kind).copied().unwrap_or(0);
            assert!(have >= least, "{have} of {kind}, {least} wanted");
        }
    }
}
