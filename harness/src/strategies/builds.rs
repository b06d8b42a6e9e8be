//! Build files that hold together: a cell, what protects and switches it, a board and strips, all of
//! them from the catalogue, wired as one would.

use crate::build::catalogue::CatalogueText;
use crate::build::diag::{InputErrors, Sink, Source};
use crate::build::file::read_variant;
use crate::build::prop::Prop;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use std::fmt::{self, Write as _};

/// How large a build may be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BuildRanges {
    /// Most strips.
    pub strips: usize,
    /// Most pixels of a strip.
    pub pixels: u32,
    /// Longest wire, mm.
    pub wire_mm: u32,
}

impl Default for BuildRanges {
    fn default() -> Self {
        Self {
            strips: 3,
            pixels: 48,
            wire_mm: 400,
        }
    }
}

/// The text of a build file. Its debug form is the text itself, to be pasted.
#[derive(Clone, PartialEq, Eq)]
pub struct Build(pub String);

impl Build {
    /// The prop it says.
    ///
    /// # Errors
    /// None for a build that [`build`] drew: that is tested.
    pub fn prop(&self) -> Result<Prop, InputErrors> {
        read_variant(&Source::new("build.toml".to_owned(), self.0.clone()), None)
    }
}

impl fmt::Debug for Build {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\n# build.toml\n{}", self.0)
    }
}

/// A strip of a build.
#[derive(Debug, Clone)]
struct RawStrip {
    from: String,
    pixels: u32,
    /// Whether its far end is fed too.
    both_ends: bool,
    lead_mm: u32,
}

/// Ids of the catalogue's entries of a kind; the strategies draw from them.
fn ids(kind: &str) -> Vec<String> {
    let texts = CatalogueText::default();
    let sink = Sink::new();
    let catalogue = texts.parse(&sink);
    let entries = catalogue.entries(&sink).into_iter();
    entries
        .filter(|(_, k, _)| *k == kind)
        .map(|(id, _, _)| id.to_owned())
        .collect()
}

/// Any build within the ranges.
pub fn build(ranges: &BuildRanges) -> impl Strategy<Value = Build> {
    let of = |kind: &str| select(ids(kind));
    let mm = 10..=ranges.wire_mm.max(10);
    let strip = (
        of("strip"),
        1..=ranges.pixels.max(1),
        any::<bool>(),
        mm.clone(),
    );
    let strip = strip.prop_map(|(from, pixels, both_ends, lead_mm)| RawStrip {
        from,
        pixels,
        both_ends,
        lead_mm,
    });
    let leg = (
        of("cell"),
        option::of(of("fuse")),
        option::of(of("protection")),
        option::of(of("switch")),
    );
    let rest = (
        option::of(of("board")),
        vec(strip, 1..=ranges.strips.max(1)),
        select(&[18u8, 20, 22, 24, 26][..]),
        mm,
        any::<u8>(),
    );
    (leg, rest).prop_map(|(leg, (board, strips, awg, main_mm, cap))| {
        let mut text = Text {
            out: format!("[prop]\nname = \"made up\"\ncap = {cap}\n"),
            wires: String::new(),
            awg,
        };
        text.mains(&leg, main_mm);
        if let Some(board) = &board {
            text.part("board", "board", Some(board), "");
            text.wire("plus", "board.supply", 60);
            text.wire("minus", "board.ground", 60);
        }
        for (i, strip) in strips.iter().enumerate() {
            text.strip(i, strip, board.is_some());
        }
        Build(text.out + &text.wires)
    })
}

struct Text {
    out: String,
    wires: String,
    awg: u8,
}

type Leg = (String, Option<String>, Option<String>, Option<String>);

impl Text {
    // Writing to a String cannot fail.
    fn part(&mut self, name: &str, kind: &str, from: Option<&String>, more: &str) {
        let _ = write!(self.out, "\n[parts.{name}]\nkind = \"{kind}\"\n");
        if let Some(from) = from {
            let _ = writeln!(self.out, "from = \"{from}\"");
        }
        self.out.push_str(more);
    }

    fn wire(&mut self, from: &str, to: &str, mm: u32) {
        let _ = write!(
            self.wires,
            "\n[[wires]]\nfrom = \"{from}\"\nto = \"{to}\"\ngauge = \"{} AWG\"\nlength = \"{mm} mm\"\n",
            self.awg
        );
    }

    /// Cell, fuse and switch in the positive leg, protection in the negative one, a splice at each end.
    fn mains(&mut self, (cell, fuse, protection, switch): &Leg, mm: u32) {
        self.part("cell", "cell", Some(cell), "");
        self.part("plus", "splice", None, "");
        self.part("minus", "splice", None, "");
        let mut last = "cell.plus".to_owned();
        for (kind, from) in [("fuse", fuse), ("switch", switch)] {
            if from.is_some() {
                self.part(kind, kind, from.as_ref(), "");
                self.wire(&last, &format!("{kind}.a"), mm);
                last = format!("{kind}.b");
            }
        }
        self.wire(&last, "plus", mm);
        match protection {
            Some(_) => {
                self.part("protection", "protection", protection.as_ref(), "");
                self.wire("cell.minus", "protection.a", mm);
                self.wire("protection.b", "minus", mm);
            }
            None => self.wire("cell.minus", "minus", mm),
        }
    }

    fn strip(&mut self, i: usize, strip: &RawStrip, board: bool) {
        let name = format!("strip{i}");
        let pixels = format!("pixels = {}\n", strip.pixels);
        self.part(&name, "strip", Some(&strip.from), &pixels);
        let mut ends = vec![""];
        if strip.both_ends && strip.pixels > 1 {
            ends.push("@end");
        }
        for end in ends {
            self.wire("plus", &format!("{name}.plus{end}"), strip.lead_mm);
            self.wire("minus", &format!("{name}.minus{end}"), strip.lead_mm);
        }
        let data = match i {
            0 if !board => return,
            0 => "board.data1".to_owned(),
            _ => format!("strip{}.data-out", i - 1),
        };
        self.wire(&data, &format!("{name}.data-in"), 80);
    }
}
