//! Bad build files. The place that a fault must point at is marked in the text with `⟦` and `⟧`; what
//! stands between them is what must be underlined. Marks may nest.

use super::read;

/// A bad text, and for each mark in it the message and a piece of the help.
struct Case {
    text: &'static str,
    faults: &'static [(&'static str, &'static str)],
}

/// Takes the marks out: the plain text, and per mark line, column and the marked text.
fn unmark(text: &str) -> (String, Vec<(usize, usize, String)>) {
    let (mut plain, mut marks) = (String::new(), Vec::new());
    let mut open = Vec::new();
    let (mut line, mut column) = (1, 1);
    for c in text.chars() {
        match c {
            '⟦' => open.push((plain.len(), line, column)),
            '⟧' => {
                let (start, line, column) = open.pop().expect("a mark is opened");
                marks.push((start, (line, column, plain[start..].to_owned())));
            }
            c => {
                plain.push(c);
                column += 1;
                if c == '\n' {
                    (line, column) = (line + 1, 1);
                }
            }
        }
    }
    assert!(open.is_empty(), "a mark is closed");
    // Faults come in the order of the text, and so do marks, the outer before the inner.
    marks.sort_by_key(|(start, _)| *start);
    let marks = marks.into_iter().map(|(_, mark)| mark).collect();
    (plain, marks)
}

fn check(name: &str, case: &Case) {
    let (text, marks) = unmark(case.text);
    assert_eq!(
        marks.len(),
        case.faults.len(),
        "{name}: a mark for each fault"
    );
    let errors = match read(&text) {
        Ok(_) => panic!("{name}: was taken as good"),
        Err(errors) => errors.0,
    };
    let told: Vec<String> = errors
        .iter()
        .map(|e| format!("{:?} {e}", e.location()))
        .collect();
    assert_eq!(errors.len(), marks.len(), "{name}: {told:#?}");
    for ((error, mark), (message, help)) in errors.iter().zip(&marks).zip(case.faults) {
        let (file, line, column) = error.location().expect("a fault in a file has a place");
        assert_eq!(&*file, "build.toml", "{name}: {error}");
        assert_eq!((line, column), (mark.0, mark.1), "{name}: {error}");
        let place = error.place.as_ref().expect("a place");
        assert_eq!(text[place.span.clone()], mark.2, "{name}: {error}");
        assert_eq!(error.message, *message, "{name}");
        let told = error.help.as_deref().unwrap_or_default();
        assert!(
            told.contains(help),
            "{name}: help is {told:?}, not {help:?}"
        );
    }
}

macro_rules! bad {
    ($($name:ident: $text:expr, [$($message:literal => $help:literal),+ $(,)?];)+) => {
        $(#[test]
        fn $name() {
            check(stringify!($name), &Case { text: $text, faults: &[$(($message, $help)),+] });
        })+
    };
}

/// The head that every case needs.
macro_rules! with_head {
    ($text:literal) => {
        concat!("[prop]\nname = \"x\"\n", $text)
    };
}

/// A head, two splices and the wire under test.
macro_rules! wire {
    ($text:literal) => {
        concat!(
            "[prop]\nname = \"x\"\n[parts.a]\nkind = \"splice\"\n[parts.b]\nkind = \"splice\"\n",
            $text
        )
    };
}

/// A head and a strip of twelve pixels called s, a splice called k.
macro_rules! strip {
    ($text:literal) => {
        concat!(
            "[prop]\nname = \"x\"\n[parts.s]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = 12\n",
            "[parts.k]\nkind = \"splice\"\n",
            $text
        )
    };
}

// ---- the file as a whole ------------------------------------------------------------------------------------------
bad! {
    empty_file: "⟦⟧⟦⟧", [
        "the file lacks the table [prop]" => "[prop]\nname = ",
        "the file lacks the table [parts.NAME]" => "[parts.cell]\nkind = \"cell\"\nfrom = ",
    ];
    unclosed_header: with_head!("[parts.cell⟦⟧\nkind = \"cell\"\n"), [
        "not well-formed TOML: unclosed table, expected `]`" => "close it",
    ];
    text_without_quotes: with_head!("[parts.a]\nkind = ⟦splice⟧\n"), [
        "not well-formed TOML: string values must be quoted, expected literal string" => "put the text in quotes",
    ];
    same_key_twice: with_head!("[parts.a]\nkind = \"splice\"\n⟦kind⟧ = \"cell\"\n"), [
        "not well-formed TOML: duplicate key" => "only once",
    ];
    accented_name_without_quotes: with_head!("[parts.⟦é⟧]\nkind = \"splice\"\n"), [
        "not well-formed TOML: invalid unquoted key, expected letters, numbers, `-`, `_`" => "stands in quotes",
    ];
    sections_of_the_wrong_kind: "prop = ⟦3⟧\nparts = ⟦\"x\"⟧\nwires = ⟦4⟧\nconditions = ⟦[]⟧\n", [
        "`prop` must be a table" => "write [prop] on a line of its own",
        "`parts` must be a table" => "write [parts] on a line",
        "`wires` must be a list of tables" => "write [[wires]], with two brackets",
        "`conditions` must be a table" => "write [conditions]",
    ];
    parts_as_a_list: with_head!("⟦[[parts]]⟧\nkind = \"splice\"\n"), [
        "`parts` must be a table of parts, each under its name" => "write [parts.NAME], with single brackets",
    ];
    wires_as_a_table: wire!("⟦[wires]⟧\nfrom = \"a\"\nto = \"b\"\n"), [
        "`wires` must be a list of tables" => "write [[wires]], with two brackets",
    ];
    unknown_section_with_a_near_miss: wire!("[⟦wire⟧]\n"), [
        "the file has no key `wire`" => "did you mean `wires`?",
    ];
    part_written_below_prop: "⟦⟧[prop]\nname = \"x\"\n⟦parts⟧.a.kind = \"splice\"\n", [
        "the file lacks the table [parts.NAME]" => "[parts.cell]",
        "`parts` stands within [prop]" => "header of its own: [parts.NAME]",
    ];
    prop_without_a_name: "⟦[prop]⟧\nversion = \"1\"\n[parts.a]\nkind = \"splice\"\n", [
        "`prop` lacks `name`" => "name = \"Parade lantern staff\"",
    ];
    cap_out_of_range: "[prop]\nname = \"x\"\ncap = ⟦256⟧\n[parts.a]\nkind = \"splice\"\n", [
        "`prop.cap` is 256, but must be a whole number from 0 to 255" => "from 0 to 255",
    ];
    carriage_returns_and_a_byte_order_mark: "\u{feff}[prop]\r\nname = \"ä € x\"\r\n[parts.a]\r\nkind = ⟦\"splise\"⟧\r\n", [
        "`kind` does not know \"splise\"" => "did you mean \"splice\"?",
    ];
    columns_count_letters_not_bytes: "[prop]\nname = \"x\"\n[parts]\nb = { note = \"äöü€🔦\", kind = ⟦\"spl\"⟧ }\n", [
        "`kind` does not know \"spl\"" => "\"splice\"",
    ];
}

// ---- parts --------------------------------------------------------------------------------------------------------
bad! {
    part_without_a_kind: with_head!("⟦[parts.c]⟧\nfrom = \"switch-toggle-5a\"\n"), [
        "`parts.c` lacks `kind`" => "kind = \"switch\"",
    ];
    kind_that_does_not_exist: with_head!("[parts.c]\nkind = ⟦\"spring\"⟧\n"), [
        "`kind` does not know \"spring\"" => "use one of: cell, switch, contact",
    ];
    near_miss_in_the_catalogue: with_head!("[parts.c]\nkind = \"cell\"\nfrom = ⟦\"21700-nmc11-5ah\"⟧\n"), [
        "the catalogue of cells does not know \"21700-nmc11-5ah\"" => "did you mean \"21700-nmc811-5ah\"?",
    ];
    catalogue_entry_of_another_kind: with_head!("[parts.c]\nkind = \"switch\"\nfrom = ⟦\"button-tactile-6mm\"⟧\n"), [
        "\"button-tactile-6mm\" is a button, not a switch" => "\"switch-slide-300ma\"",
    ];
    part_as_a_text: with_head!("[parts]\ncell = ⟦\"21700\"⟧\n"), [
        "`parts.cell` must be a table" => "[parts.cell] on a line of its own",
    ];
    part_name_with_a_dot: with_head!("⟦[parts.\"a.b\"]⟧\nkind = \"splice\"\n"), [
        "\"a.b\" cannot be a part's name" => "letters, digits, - and _",
    ];
    unknown_key_with_a_near_miss: with_head!("[parts.c]\nkind = \"switch\"\nresistance = \"9 mohm\"\n⟦ratting⟧ = \"1 A\"\n"), [
        "`parts.c` has no key `ratting`" => "did you mean `rating`?",
    ];
    unit_of_the_wrong_kind: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦\"20 mV\"⟧\n"), [
        "`parts.c.resistance` is not a resistance" => "write resistance = \"35 mΩ\"",
    ];
    number_without_a_unit: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦20⟧\n"), [
        "`parts.c.resistance` is not a resistance" => "write resistance = \"35 mΩ\"",
    ];
    unknown_unit: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦\"20 smiles\"⟧\n"), [
        "`parts.c.resistance` is not a resistance" => "write resistance = \"35 mΩ\"",
    ];
    infinite_value: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦\"1e999 ohm\"⟧\nrating = ⟦nan⟧\n"), [
        "`parts.c.resistance` is not a resistance" => "write resistance",
        "`parts.c.rating` is not a current" => "write rating",
    ];
    negative_resistance: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦\"−5 mΩ\"⟧\n"), [
        "`parts.c.resistance` must not be negative" => "zero or more",
    ];
    value_outside_its_spread: with_head!("[parts.c]\nkind = \"switch\"\nresistance = { value = ⟦\"20 mΩ\"⟧, low = \"30 mΩ\" }\n"), [
        "`parts.c.resistance` does not lie between its low and high ends" => "low ≤ value ≤ high",
    ];
    negative_tolerance: with_head!("[parts.c]\nkind = \"switch\"\nresistance = { value = \"20 mΩ\", tolerance = ⟦\"-5 %\"⟧ }\n"), [
        "`parts.c.resistance.tolerance` must not be negative" => "\"10 %\"",
    ];
    misspelt_key_within_a_value: with_head!("[parts.c]\nkind = \"switch\"\nresistance = ⟦{ ⟦valeu⟧ = \"20 mΩ\" }⟧\n"), [
        "`parts.c.resistance` lacks `value`" => "value = \"35 mΩ\"",
        "`parts.c.resistance` has no key `valeu`" => "did you mean `value`?",
    ];
    connector_without_poles: with_head!("[parts.c]\nkind = \"connector\"\nfrom = \"connector-pin-header\"\npoles = ⟦[]⟧\n"), [
        "`parts.c` has no pole" => "name each pole: poles = [\"plus\"",
    ];
    connector_poles: with_head!("[parts.c]\nkind = \"connector\"\nfrom = \"connector-pin-header\"\npoles = [\"plus\", ⟦\"plus\"⟧, ⟦\"a.b\"⟧]\n⟦[parts.d]⟧\nkind = \"connector\"\nfrom = \"connector-pin-header\"\n"), [
        "two poles are called \"plus\"" => "a name of its own",
        "\"a.b\" cannot be a pole's name" => "NAME.a and NAME.b",
        "`parts.d` lacks `poles`" => "poles = [\"plus\", \"minus\", \"data\"]",
    ];
}

// ---- cells, boards, strips, pixels ----------------------------------------------------------------------------------
bad! {
    cell_in_full_with_nothing_in_it: with_head!("⟦⟦⟦⟦[parts.c]⟧⟧⟧⟧\nkind = \"cell\"\n"), [
        "`parts.c` lacks `capacity`" => "capacity = \"5 Ah\"",
        "`parts.c` lacks `ocv`" => "ocv = { soc = [",
        "`parts.c` lacks `r0`" => "r0 = \"25 mΩ\"",
        "`parts.c` lacks `cut-off`" => "cut-off = \"2.5 V\"",
    ];
    half_of_a_pair: with_head!("[parts.c]\nkind = \"cell\"\nfrom = \"18650-lfp-1-5ah\"\nr2 = ⟦\"1 mΩ\"⟧\n"), [
        "`parts.c` has r2 but lacks `c2`" => "add c2 = \"1700 F\"",
    ];
    open_circuit_table_that_falls: with_head!("[parts.c]\nkind = \"cell\"\nfrom = \"18650-lfp-1-5ah\"\nocv = { soc = [\"0 %\", \"50 %\", \"100 %\"], voltage = ⟦[\"3 V\", \"2.9 V\", \"4 V\"]⟧ }\n"), [
        "`parts.c.ocv.voltage` must not fall as the state of charge rises" => "rising positive voltages",
    ];
    resistance_map_that_does_not_fit: with_head!("[parts.c]\nkind = \"cell\"\nfrom = \"18650-lfp-1-5ah\"\nr0 = { temperature = [\"0 °C\", \"25 °C\"], soc = [\"10 %\", \"50 %\"], value = ⟦[[\"30 mΩ\", \"25 mΩ\"]]⟧ }\n"), [
        "`parts.c.r0.value` must hold 2 rows (one for each temperature) of 2 values (one for each state of charge), none negative" => "for two temperatures",
    ];
    regulator_kind: with_head!("[parts.b]\nkind = \"board\"\nfrom = \"board-plain-ldo\"\nregulator = { kind = ⟦\"liner\"⟧ }\n"), [
        "`parts.b.regulator.kind` does not know \"liner\"" => "did you mean \"linear\"?",
    ];
    core_of_an_unknown_kind: with_head!("[parts.b]\nkind = \"board\"\nfrom = \"board-plain-ldo\"\ncore = ⟦\"cortex-m44\"⟧\nclock = \"48 MHz\"\n"), [
        "`parts.b.core` does not know \"cortex-m44\"" => "did you mean \"cortex-m4\"?",
    ];
    core_without_a_clock: with_head!("⟦[parts.b]⟧\nkind = \"board\"\nfrom = \"board-plain-ldo\"\ncore = \"cortex-m0\"\n"), [
        "`parts.b` lacks `clock`" => "clock = \"48 MHz\"",
    ];
    clock_without_a_core: with_head!("⟦[parts.b]⟧\nkind = \"board\"\nfrom = \"board-plain-ldo\"\nclock = \"48 MHz\"\n"), [
        "`parts.b` lacks `core`" => "core = \"cortex-m4\"",
    ];
    clock_that_stands_still: with_head!("[parts.b]\nkind = \"board\"\nfrom = \"board-plain-ldo\"\ncore = \"cortex-m0\"\nclock = ⟦\"0 MHz\"⟧\n"), [
        "`parts.b.clock` must be above zero" => "write a positive frequency",
    ];
    linear_regulator_without_a_dropout: with_head!("[parts.b]\nkind = \"board\"\nlogic-current = \"40 mA\"\nregulator = ⟦{ kind = \"linear\", output = \"3.3 V\" }⟧\n"), [
        "`parts.b.regulator` lacks `dropout`" => "dropout = \"250 mV\"",
    ];
    dropout_lists_that_do_not_pair_up: with_head!("[parts.b]\nkind = \"board\"\nlogic-current = \"40 mA\"\nregulator = { kind = \"linear\", output = \"3.3 V\", dropout = ⟦[\"50 mV\"]⟧, dropout-current = [\"0.1 A\", \"0.6 A\"] }\n"), [
        "`parts.b.regulator.dropout` and `dropout-current` must pair up, currents rising, none negative" => "write dropout = [",
    ];
    an_override_that_clashes_with_the_catalogue_is_what_is_pointed_at: with_head!("[parts.s]\nkind = \"strip\"\npixel = \"own\"\npixels = 1\n[pixels.own]\nfrom = \"ws2812b\"\nred = { off = ⟦\"2.4 V\"⟧ }\n"), [
        "`pixels.own.red.full` must be above `off`, also at the ends of their spreads" => "make full the higher one",
    ];
    amplifier_better_than_perfect: with_head!("[parts.b]\nkind = \"board\"\nfrom = \"board-sound-ldo\"\namplifier = { efficiency = ⟦\"120 %\"⟧ }\n"), [
        "`parts.b.amplifier.efficiency` must lie above 0 % and up to 100 %" => "efficiency = \"90 %\"",
    ];
    strip_of_no_pixels: with_head!("[parts.s]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = ⟦0⟧\n"), [
        "`parts.s.pixels` is 0, but must be a whole number from 1 to 20000" => "from 1 to 20000",
    ];
    pixels_in_quotes: with_head!("[parts.s]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = ⟦\"96\"⟧\n"), [
        "`parts.s.pixels` must be a whole number from 1 to 20000" => "pixels = 96, without quotes",
    ];
    pixel_type_near_miss: with_head!("[parts.s]\nkind = \"strip\"\npixels = 1\npixel = ⟦\"sk6812rgwb\"⟧\n"), [
        "the catalogue of pixels does not know \"sk6812rgwb\"" => "did you mean \"sk6812rgbw\"?",
    ];
    own_pixel_type: with_head!("[parts.s]\nkind = \"strip\"\npixels = 1\npixel = \"own\"\n[pixels.own]\nfrom = \"ws2812b\"\norder = ⟦\"RGX\"⟧\nred = { current = \"12 mA\", off = \"2 V\", full = ⟦\"1 V\"⟧ }\n"), [
        "`pixels.own.order` must name each channel once" => "order = \"GRB\"",
        "`pixels.own.red.full` must be above `off`, also at the ends of their spreads" => "make full the higher one",
    ];
}

// ---- wires and terminals --------------------------------------------------------------------------------------------
bad! {
    wire_to_an_unknown_part: strip!("[[wires]]\nfrom = ⟦\"kk.plus\"⟧\nto = \"s.plus\"\nresistance = \"1 mΩ\"\n"), [
        "no part is called \"kk\"" => "did you mean \"k\"?",
    ];
    wire_to_an_unknown_terminal: strip!("[[wires]]\nfrom = ⟦\"s.plsu\"⟧\nto = \"k\"\nresistance = \"1 mΩ\"\n"), [
        "\"s.plsu\" is not a terminal: there is no \"plsu\"" => "did you mean \"s.plus\"?",
    ];
    wire_to_a_pixel_past_the_end: strip!("[[wires]]\nfrom = ⟦\"s.plus@12\"⟧\nto = \"k\"\nresistance = \"1 mΩ\"\n"), [
        "\"s.plus@12\" is not a terminal: `@12` is not a pixel of the strip; write @start, @end or @0 to @11" => "plus@end",
    ];
    wire_to_a_part_without_a_terminal: strip!("[[wires]]\nfrom = ⟦\"s\"⟧\nto = ⟦\"k.a\"⟧\nresistance = \"1 mΩ\"\n"), [
        "\"s\" is not a terminal: it needs a terminal name after a dot" => "terminals of \"s\": plus, minus",
        "\"k.a\" is not a terminal: a splice has no terminals of its own; write its bare name" => "(the bare name)",
    ];
    wire_to_itself: wire!("[[wires]]\nfrom = \"a\"\nto = ⟦\"a\"⟧\nresistance = \"1 mΩ\"\n"), [
        "wire \"w1\" joins a to itself" => "two different terminals",
    ];
    gauge_without_a_system: wire!("[[wires]]\nname = \"P1\"\nfrom = \"a\"\nto = \"b\"\ngauge = ⟦\"22\"⟧\nlength = ⟦\"-1 m\"⟧\n"), [
        "`wires.P1.gauge` is not a wire gauge" => "gauge = \"22 AWG\"",
        "`wires.P1.length` must not be negative" => "\"180 mm\"",
    ];
    misspelt_length: wire!("⟦[[wires]]⟧\nname = \"P1\"\nfrom = \"a\"\nto = \"b\"\ngauge = \"22 AWG\"\n⟦lenght⟧ = \"1 m\"\n"), [
        "`wires.P1` lacks `length`" => "length = \"180 mm\"",
        "`wires.P1` has no key `lenght`" => "did you mean `length`?",
    ];
    unknown_wire_type: wire!("[[wires]]\nfrom = \"a\"\nto = \"b\"\ntype = ⟦\"wire-22awg-ptef\"⟧\n"), [
        "the catalogue of wires does not know \"wire-22awg-ptef\"" => "did you mean \"wire-22awg-ptfe\"?",
    ];
    two_wires_of_one_name: wire!("[[wires]]\nname = \"P\"\nfrom = \"a\"\nto = \"b\"\nresistance = \"1 mΩ\"\n[[wires]]\nname = ⟦\"P\"⟧\nfrom = \"a\"\nto = \"b\"\nresistance = \"1 mΩ\"\n"), [
        "two wires are called \"P\"" => "a name of its own",
    ];
    a_broken_part_is_told_once_and_not_again_at_its_wires: wire!("[parts.c]\nkind = \"cell\"\nfrom = ⟦\"nothing\"⟧\n[[wires]]\nfrom = \"c.plus\"\nto = \"a\"\nresistance = \"1 mΩ\"\n"), [
        "the catalogue of cells does not know \"nothing\"" => "use one of: 21700-nmc811-5ah",
    ];
}

// ---- conditions and sound -------------------------------------------------------------------------------------------
bad! {
    conditions_out_of_range: wire!("[conditions]\nsoc-floor = ⟦\"120 %\"⟧\ntemperature-min = ⟦\"50 °C\"⟧\naged-cell = ⟦\"yes\"⟧\nwire-length-tolerance = ⟦\"-5 %\"⟧\nruntime = ⟦\"0 h\"⟧\n"), [
        "`conditions.soc-floor` must lie from 0 % to below 100 %" => "soc-floor = \"20 %\"",
        "`conditions.temperature-min` 50.0 °C lies above `temperature-max` 40.0 °C" => "state both",
        "`conditions.aged-cell` must be true or false" => "aged-cell = true or aged-cell = false",
        "`conditions.wire-length-tolerance` must not be negative" => "zero or more",
        "`conditions.runtime` must be above zero" => "positive time",
    ];
    sound_out_of_range: wire!("[sound]\nlit = ⟦\"200 %\"⟧\ncue-time = ⟦\"-1 s\"⟧\n⟦vol⟧ = 3\n"), [
        "`sound.lit` must lie from 0 % to 100 %" => "lit = \"25 %\"",
        "`sound.cue-time` must not be negative" => "zero or more",
        "`sound` has no key `vol`" => "known keys here: cue, cue-time, lit",
    ];
}
