//! Any text as a build file gives a prop or faults, never a panic; and every fault has a place within the text, an
//! expectation and a mend.

use super::report::draw;
use super::{read, repository_file};
use proptest::prelude::*;
use proptest::sample::{select, Index};

/// Reads a text and looks over what comes out.
fn look_over(text: &str) {
    let prop = match read(text) {
        Ok(prop) => prop,
        Err(errors) => {
            assert!(!errors.0.is_empty(), "refused without a reason");
            assert!(errors.0.len() <= 101);
            for error in &errors.0 {
                assert!(!error.message.is_empty());
                assert!(error.help.is_some(), "no help: {}", error.message);
                if let Some(place) = &error.place {
                    // Panics where the span is not within the text or cuts a letter in two.
                    let _ = &place.source.text[place.span.clone()];
                }
            }
            assert!(!errors.to_string().is_empty());
            // Drawing is slow: the first is enough to meet every kind over many runs.
            assert!(!draw(&errors.0[0]).is_empty());
            return;
        }
    };
    // What is taken as good is whole: terminals lie on parts, strips follow one another.
    for wire in &prop.wires {
        assert!(wire.from.part < prop.parts.len() && wire.to.part < prop.parts.len());
    }
    let mut first = 0;
    for (_, strip) in prop.strips() {
        assert_eq!(strip.first, first);
        first += strip.pixels;
    }
}

/// Pieces that build files are made of, right and wrong.
fn piece() -> impl Strategy<Value = String> {
    let words = [
        "[prop]",
        "[parts.cell]",
        "[parts.s]",
        "[parts.k]",
        "[[wires]]",
        "[wires]",
        "[[parts]]",
        "[conditions]",
        "[sound]",
        "[pixels.own]",
        "[pixels.own.red]",
        "[parts.cell.ocv]",
        "[parts.cell.r0]",
        "[parts.\"a.b\"]",
        "kind = \"cell\"",
        "kind = \"strip\"",
        "kind = \"splice\"",
        "kind = \"board\"",
        "kind = \"connector\"",
        "kind = \"fuse\"",
        "kind = 3",
        "from = \"21700-nmc811-5ah\"",
        "from = \"strip-ws2812b-60\"",
        "from = \"board-sound-ldo\"",
        "from = \"k\"",
        "from = \"cell.plus\"",
        "from = \"s.plus@end\"",
        "to = \"s.minus@3\"",
        "to = \"k\"",
        "to = \"k.\"",
        "to = \"s.@\"",
        "name = \"x\"",
        "name = 1979-05-27",
        "pixel = \"own\"",
        "pixel = \"ws2812b\"",
        "pixels = 12",
        "pixels = 20000",
        "pixels = 0x7fffffffffffffff",
        "gauge = \"22 AWG\"",
        "gauge = \"0.5 mm²\"",
        "gauge = \"99999999999 AWG\"",
        "length = \"180 mm\"",
        "length = \"1e308 m\"",
        "length = \"-0 m\"",
        "resistance = \"0 Ω\"",
        "resistance = nan",
        "resistance = { value = \"1 Ω\", tolerance = \"1e300 %\" }",
        "resistance = { low = \"1 Ω\" }",
        "capacity = \"1e-300 Ah\"",
        "cut-off = \"2.5 V\"",
        "r0 = \"25 mΩ\"",
        "r0 = { soc = [], value = [] }",
        "r0 = { temperature = [\"0 °C\"], value = [[]] }",
        "ocv = { soc = [], voltage = [] }",
        "ocv = { soc = [\"0 %\", \"100 %\"], voltage = [\"3 V\", \"4.2 V\"] }",
        "poles = [\"plus\", \"\"]",
        "poles = []",
        "order = \"\"",
        "order = \"GRBGRB\"",
        "red = { current = \"12 mA\", off = \"3 V\", full = \"3 V\" }",
        "derating = { temperature = [], hold = [] }",
        "regulator = { kind = \"direct\" }",
        "outputs = 16",
        "regulator.dropout = [\"1 V\"]",
        "timing = { clock-max = \"0 Hz\" }",
        "logic-high = \"70 %\"",
        "soc-floor = \"99.9 %\"",
        "temperature-min = \"-273.15 °C\"",
        "cap = 255",
        "cap = -1",
        "aged-cell = true",
        "source = []",
        "condition = 1",
        "note = \"\"\"\n\"\"\"",
        "\u{feff}",
        "\r\n",
        "# remark ⟦é🔦⟧",
        "{",
        "]",
        "\"",
        "=",
        "\0",
        "a.b.c.d = 1",
        "parts.k = { kind = \"splice\" }",
        "wires = [1, { from = \"k\" }]",
    ];
    select(words.to_vec()).prop_map(str::to_owned)
}

/// A build file that is well-formed TOML: parts of every kind with any keys, then wires with any keys.
fn well_formed() -> impl Strategy<Value = String> {
    let keys = || prop::collection::btree_map(select(KEYS.to_vec()), select(VALUES.to_vec()), 0..8);
    let kinds = [
        "cell",
        "switch",
        "contact",
        "connector",
        "button",
        "fuse",
        "protection",
        "splice",
        "board",
        "strip",
        "capacitor",
        "resistor",
    ];
    let part = (select(kinds.to_vec()), keys());
    let parts = prop::collection::vec(part, 1..6);
    let wires = prop::collection::vec(keys(), 0..4);
    (parts, wires, keys()).prop_map(|(parts, wires, pixel)| {
        let lines = |keys: &std::collections::BTreeMap<&str, &str>| {
            keys.iter()
                .map(|(k, v)| format!("{k} = {v}\n"))
                .collect::<String>()
        };
        let mut text = "[prop]\nname = \"x\"\n".to_owned();
        for (i, (kind, keys)) in parts.iter().enumerate() {
            text += &format!("[parts.p{i}]\nkind = \"{kind}\"\n{}", lines(keys));
        }
        for keys in &wires {
            text += &format!("[[wires]]\n{}", lines(keys));
        }
        text + "[pixels.own]\n" + &lines(&pixel)
    })
}

/// Keys of all kinds of parts, of wires and of pixels.
const KEYS: [&str; 40] = [
    "from",
    "to",
    "name",
    "type",
    "gauge",
    "length",
    "slack",
    "resistance",
    "rating",
    "poles",
    "hold",
    "trip",
    "derating",
    "thermal-time",
    "delay",
    "capacity",
    "ocv",
    "r0",
    "r1",
    "c1",
    "cut-off",
    "ageing-capacity",
    "logic-current",
    "regulator",
    "amplifier",
    "outputs",
    "data-high",
    "pixel",
    "pixels",
    "pitch",
    "rail-plus",
    "rail-minus",
    "red",
    "green",
    "blue",
    "white",
    "dark-current",
    "dark-off",
    "timing",
    "capacitance",
];

/// Values that suit some of them.
const VALUES: [&str; 40] = [
    "[]",
    "[[]]",
    "{}",
    "0",
    "-1",
    "12",
    "1e308",
    "true",
    "1979-05-27",
    "\"\"",
    "\"own\"",
    "\"p0.plus\"",
    "\"p1.a\"",
    "\"p2\"",
    "\"p0.plus@end\"",
    "\"p1.minus@3\"",
    "\"21700-nmc811-5ah\"",
    "\"ws2812b\"",
    "\"strip-ws2812b-60\"",
    "\"switch-toggle-5a\"",
    "\"board-sound-ldo\"",
    "\"connector-pin-header\"",
    "\"fuse-resettable-2-0a\"",
    "\"wire-22awg-ptfe\"",
    "\"22 AWG\"",
    "\"1 m\"",
    "\"20 mΩ\"",
    "\"0 A\"",
    "\"5 Ah\"",
    "\"2.5 V\"",
    "\"1700 F\"",
    "\"50 %\"",
    "\"GRB\"",
    "[\"plus\", \"minus\"]",
    "[\"\"]",
    "{ value = \"20 mΩ\", tolerance = \"10 %\" }",
    "{ current = \"12 mA\", off = \"2.5 V\", full = \"3.4 V\" }",
    "{ soc = [\"0 %\", \"100 %\"], voltage = [\"3 V\", \"4.2 V\"] }",
    "{ temperature = [\"0 °C\"], value = [[\"20 mΩ\"]] }",
    "{ kind = \"direct\", output = \"3.3 V\" }",
];

/// One change to a text.
#[derive(Debug, Clone)]
enum Change {
    Delete(Index, Index),
    Repeat(Index, Index),
    Insert(Index, String),
    SwapLines(Index, Index),
    CutShort(Index),
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Change::Delete(a, b)),
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Change::Repeat(a, b)),
        (any::<Index>(), piece()).prop_map(|(a, b)| Change::Insert(a, b)),
        (any::<Index>(), "[\"'\\[\\]{}=.@,\\-0-9a-z é€\n]").prop_map(|(a, b)| Change::Insert(a, b)),
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Change::SwapLines(a, b)),
        any::<Index>().prop_map(Change::CutShort),
    ]
}

fn apply(text: &str, change: &Change) -> String {
    let letters: Vec<char> = text.chars().collect();
    // Short spans: a file cut in half says little about single keys.
    let span = |a: &Index, b: &Index| {
        let start = a.index(letters.len() + 1);
        (start, (start + b.index(24)).min(letters.len()))
    };
    let join = |pieces: &[&[char]]| pieces.concat().into_iter().collect::<String>();
    match change {
        Change::Delete(a, b) => {
            let (start, end) = span(a, b);
            join(&[&letters[..start], &letters[end..]])
        }
        Change::Repeat(a, b) => {
            let (start, end) = span(a, b);
            join(&[&letters[..end], &letters[start..]])
        }
        Change::Insert(a, piece) => {
            let at = a.index(letters.len() + 1);
            let piece: Vec<char> = piece.chars().collect();
            join(&[&letters[..at], &piece, &letters[at..]])
        }
        Change::SwapLines(a, b) => {
            let mut lines: Vec<&str> = text.lines().collect();
            if !lines.is_empty() {
                let (a, b) = (a.index(lines.len()), b.index(lines.len()));
                lines.swap(a, b);
            }
            lines.join("\n")
        }
        Change::CutShort(a) => join(&[&letters[..a.index(letters.len() + 1)]]),
    }
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in any::<String>()) {
        look_over(&text);
    }

    #[test]
    fn any_bytes_made_text_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        look_over(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn a_demo_build_with_changes_is_read_or_refused(
        torch in any::<bool>(),
        changes in prop::collection::vec(change(), 1..6),
    ) {
        let path = if torch { "traces/stage-torch/build.toml" } else { "traces/lantern-staff/build.toml" };
        let text = changes.iter().fold(repository_file(path), |text, c| apply(&text, c));
        look_over(&text);
    }

    #[test]
    fn parts_and_wires_with_any_keys_are_read_or_refused(text in well_formed()) {
        look_over(&text);
    }

    #[test]
    fn pieces_of_build_files_in_any_order_are_read_or_refused(
        pieces in prop::collection::vec(piece(), 0..24),
    ) {
        look_over(&pieces.join("\n"));
    }
}
