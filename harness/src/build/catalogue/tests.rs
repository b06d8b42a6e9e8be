//! The shipped catalogue: every entry reads, every figure has a source, there is enough of each kind.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
use super::entry::unsourced;
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

#[test]
fn every_figure_has_a_source() {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let parsed = texts.parse(&sink);
    let mut figures = 0;
    let mut out = Vec::new();
    for entry in parsed.all_entries(&sink) {
        figures += entry.table.leaves().len();
        let without = unsourced(&entry.table).into_iter();
        out.extend(without.map(|u| format!("{}: {}", entry.file.name, u.key)));
    }
    assert!(figures > 1000, "{figures} figures seen");
    assert!(out.is_empty(), "without a source:\n{}", out.join("\n"));
}

#[test]
fn the_walk_sees_a_figure_without_a_source() {
    let text = "[x]\na = { value = \"1 V\", low = \"0 V\" }\nc = { value = \"1 V\", source = \"page 1\" }\n[x.b]\nc = \"1 A\"\n\
                [x.d]\nsource = \"page 1\"\ne = \"1 A\"\n[x.d.f]\nkind = \"linear\"\ng = \"1 V\"\n[x.h]\nsource = \"?\"\ni = \"1 A\"";
    let source = Source::new("own", text);
    let sink = Sink::new();
    let document = Document::parse(&source, &sink);
    let entry = document.table(&sink).table("x").unwrap();
    let keys: Vec<String> = unsourced(&entry).into_iter().map(|u| u.key).collect();
    assert_eq!(keys, ["x.a.value", "x.b.c", "x.d.f.g", "x.h.i"]);
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
