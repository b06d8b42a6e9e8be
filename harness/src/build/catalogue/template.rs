//! Entries to fill in: one commented text a kind, a question mark for every figure.

use crate::build::file::entry_kinds;

/// The texts; `contact` serves every sort of contact.
const TEMPLATES: [(&str, &str); 12] = [
    ("pixel", include_str!("../../../templates/parts/pixel.toml")),
    ("wire", include_str!("../../../templates/parts/wire.toml")),
    ("cell", include_str!("../../../templates/parts/cell.toml")),
    (
        "button",
        include_str!("../../../templates/parts/button.toml"),
    ),
    ("fuse", include_str!("../../../templates/parts/fuse.toml")),
    (
        "protection",
        include_str!("../../../templates/parts/protection.toml"),
    ),
    ("board", include_str!("../../../templates/parts/board.toml")),
    ("strip", include_str!("../../../templates/parts/strip.toml")),
    (
        "capacitor",
        include_str!("../../../templates/parts/capacitor.toml"),
    ),
    (
        "resistor",
        include_str!("../../../templates/parts/resistor.toml"),
    ),
    ("diode", include_str!("../../../templates/parts/diode.toml")),
    (
        "supply",
        include_str!("../../../templates/parts/supply.toml"),
    ),
];
const CONTACT: &str = include_str!("../../../templates/parts/contact.toml");

/// The kinds that have one.
pub fn template_kinds() -> Vec<&'static str> {
    entry_kinds()
}

/// The text to fill in for a kind; `None` where there is no such kind.
pub fn template(kind: &str) -> Option<String> {
    let own = TEMPLATES.iter().find(|(k, _)| *k == kind);
    match kind {
        "switch" | "contact" | "connector" => Some(CONTACT.replace("KIND", kind)),
        _ => own.map(|(_, text)| (*text).to_owned()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;
    use crate::build::catalogue::{check_entry, CatalogueText};
    use crate::build::diag::Source;

    /// Rising numbers in place of the question marks: low ends come before their values, and those before high ends.
    fn filled(text: &str) -> String {
        let text = text.replace("\"?\"", "\"data sheet, page 1\"");
        let mut number = 10;
        let mut whole = String::new();
        for piece in text.split_inclusive('?') {
            match piece.strip_suffix('?') {
                Some(before) => {
                    number += 1;
                    whole.push_str(&format!("{before}{number}"));
                }
                None => whole.push_str(piece),
            }
        }
        whole
    }

    #[test]
    fn every_kind_has_one_that_reads_once_it_is_filled_in() {
        let texts = CatalogueText::default();
        for kind in template_kinds() {
            let text = template(kind).unwrap_or_else(|| panic!("{kind} has none"));
            let text = filled(&text);
            let read = check_entry(&Source::new(kind, text.clone()), &texts);
            let (id, read_kind) = read.unwrap_or_else(|e| panic!("{kind}:\n{e}\n{text}"));
            assert_eq!((id, read_kind), (format!("my-{kind}"), kind.to_owned()));
        }
    }

    #[test]
    fn none_passes_as_it_stands_and_each_figure_left_is_told_with_its_line() {
        let texts = CatalogueText::default();
        for kind in template_kinds() {
            let text = template(kind).unwrap();
            let source = Source::new(kind, text.clone());
            let faults = check_entry(&source, &texts).expect_err(kind).0;
            for (number, line) in text.lines().enumerate() {
                // A list is told once, at its first figure.
                if line.starts_with('#') || !line.contains(" = {") || !line.contains('?') {
                    continue;
                }
                let here = |e: &crate::build::diag::InputError| {
                    e.location().is_some_and(|(_, l, _)| l == number + 1)
                };
                assert!(faults.iter().any(here), "{kind}: nothing told of {line}");
            }
            assert!(faults.iter().all(|e| e.help.is_some()), "{kind}");
        }
    }
}
