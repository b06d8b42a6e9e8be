//! A build that nothing is wrong with, and ways to change it.

use lampwright::build::diag::Source;
use lampwright::build::file::read_build;
use lampwright::build::preset::StripMap;
use lampwright::build::prop::Prop;
use lampwright::study::rules::{findings, load_findings, Finding, Severity};
use lampwright::study::steady::watch_steady;

/// One cell, one strip of ten pixels, everything the rules ask for.
pub(crate) const RIGHT: &str = r#"
[prop]
name = "Right"

[parts.cell]
kind = "cell"
from = "21700-nmc811-5ah"
keyed = true

[parts.fuse]
kind = "fuse"
from = "fuse-fast-2a"

[parts.master]
kind = "switch"
from = "switch-toggle-5a"

[parts.board]
kind = "board"
from = "board-direct"
outputs = 2

[parts.resistor]
kind = "resistor"
from = "resistor-data-330r"

[parts.plus]
kind = "splice"

[parts.minus]
kind = "splice"

[parts.bulk]
kind = "capacitor"
from = "capacitor-electrolytic-1000uf"

[parts.strip]
kind = "strip"
from = "strip-ws2812b-60"
pixels = 10

[[wires]]
name = "P1"
from = "cell.plus"
to = "fuse.a"
type = "wire-22awg-ptfe"
length = "30 mm"

[[wires]]
name = "P2"
from = "fuse.b"
to = "plus"
type = "wire-22awg-ptfe"
length = "60 mm"

[[wires]]
name = "P3"
from = "plus"
to = "strip.plus"
type = "wire-22awg-ptfe"
length = "100 mm"

[[wires]]
name = "P4"
from = "plus"
to = "board.supply"
type = "wire-24awg-ptfe"
length = "50 mm"

[[wires]]
name = "P5"
from = "plus"
to = "bulk.plus"
type = "wire-24awg-ptfe"
length = "20 mm"

[[wires]]
name = "N1"
from = "cell.minus"
to = "master.a"
type = "wire-22awg-ptfe"
length = "50 mm"

[[wires]]
name = "N2"
from = "master.b"
to = "minus"
type = "wire-22awg-ptfe"
length = "60 mm"

[[wires]]
name = "N3"
from = "minus"
to = "strip.minus"
type = "wire-22awg-ptfe"
length = "100 mm"

[[wires]]
name = "N4"
from = "minus"
to = "board.ground"
type = "wire-24awg-ptfe"
length = "50 mm"

[[wires]]
name = "N5"
from = "minus"
to = "bulk.minus"
type = "wire-24awg-ptfe"
length = "20 mm"

[[wires]]
name = "D1"
from = "board.data1"
to = "resistor.a"
type = "wire-28awg-ptfe"
length = "20 mm"

[[wires]]
name = "D2"
from = "resistor.b"
to = "strip.data-in"
type = "wire-28awg-ptfe"
length = "80 mm"
"#;

/// What is changed about it.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Edit {
    /// A text that stands there, by another.
    Swap(&'static str, &'static str),
    /// A wire by another course: name, from, to.
    Rewire(&'static str, &'static str, &'static str),
    /// A wire taken out.
    Cut(&'static str),
    /// A wire more: from, to.
    Wire(&'static str, &'static str),
    /// Text at the end.
    Add(&'static str),
}

pub(crate) fn edited(base: &str, edits: &[Edit]) -> String {
    let mut text = base.to_owned();
    for edit in edits {
        text = match edit {
            Edit::Swap(from, to) => {
                assert!(text.contains(from), "no {from:?} in the build");
                text.replace(from, to)
            }
            Edit::Rewire(name, from, to) => {
                let (before, wire, after) = wire(&text, name);
                let course = |key: &str, end: &str, wire: &str| {
                    let line = wire.lines().find(|l| l.starts_with(key)).unwrap().to_owned();
                    wire.replace(&line, &format!("{key} = \"{end}\""))
                };
                let wire = course("to", to, &course("from", from, &wire));
                format!("{before}{wire}{after}")
            }
            Edit::Cut(name) => {
                let (before, _, after) = wire(&text, name);
                format!("{before}{after}")
            }
            Edit::Wire(from, to) => format!(
                "{text}\n[[wires]]\nfrom = \"{from}\"\nto = \"{to}\"\ntype = \"wire-22awg-ptfe\"\nlength = \"50 mm\"\n"
            ),
            Edit::Add(more) => format!("{text}\n{more}\n"),
        };
    }
    text
}

/// The text before a wire's entry, the entry, and the text after it.
fn wire(text: &str, name: &str) -> (String, String, String) {
    let at = text
        .find(&format!("name = \"{name}\""))
        .unwrap_or_else(|| panic!("no wire {name}"));
    let start = text[..at].rfind("[[wires]]").unwrap();
    let end = text[at..].find("[[wires]]").map_or(text.len(), |n| at + n);
    (
        text[..start].to_owned(),
        text[start..end].to_owned(),
        text[end..].to_owned(),
    )
}

pub(crate) fn read(text: &str) -> Prop {
    read_build(&Source::new("build.toml", text.to_owned()))
        .unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// Every finding: of the drawing and, where it can be solved, of the currents with every pixel at the cap.
pub(crate) fn all_findings(prop: &Prop) -> Vec<Finding> {
    let mut found = findings(prop);
    if found.iter().all(|f| f.severity != Severity::Fault) {
        let layout = StripMap::of(prop).layout().expect("a layout");
        let checks = watch_steady(prop, layout).expect("it can be solved");
        found.extend(load_findings(prop, &checks));
    }
    found
}
