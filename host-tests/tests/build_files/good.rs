//! Good build files say what was drawn.

use super::{read, repository_file};
use lampwright::build::netlist::Pin;
use lampwright::build::parts::{DataTiming, Wire, WireSize};
use lampwright::build::prop::{Part, PartKind, Prop};
use lampwright::units::{Gauge, Quantity};

fn demo(name: &str) -> Prop {
    let text = repository_file(&format!("traces/{name}/build.toml"));
    read(&text).unwrap_or_else(|e| panic!("{name}:\n{e}"))
}

fn part<'a>(prop: &'a Prop, name: &str) -> &'a Part {
    let found = prop.parts.iter().find(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no part {name}"))
}

fn wire<'a>(prop: &'a Prop, name: &str) -> &'a Wire {
    let found = prop.wires.iter().find(|w| w.name == name);
    found.unwrap_or_else(|| panic!("no wire {name}"))
}

/// Every terminal that carries current or data is on some wire.
fn loose_terminals(prop: &Prop) -> Vec<String> {
    let mut loose = Vec::new();
    for (index, part) in prop.parts.iter().enumerate() {
        let wanted: Vec<Pin> = match &part.kind {
            PartKind::Cell(_) | PartKind::Capacitor(_) => vec![Pin::Plus, Pin::Minus],
            PartKind::Connector { poles, .. } => (0..poles.len() as u16)
                .flat_map(|n| [Pin::A(n), Pin::B(n)])
                .collect(),
            PartKind::Splice => vec![Pin::Joint],
            PartKind::Board(_) => vec![Pin::Supply, Pin::Ground, Pin::Input, Pin::Data(1)],
            PartKind::Strip(_) => vec![Pin::RailPlus(0), Pin::RailMinus(0), Pin::DataIn],
            _ => vec![Pin::A(0), Pin::B(0)],
        };
        for pin in wanted {
            let here = |t: &lampwright::build::netlist::Terminal| t.part == index && t.pin == pin;
            if !prop.wires.iter().any(|w| here(&w.from) || here(&w.to)) {
                loose.push(format!("{} {pin:?}", part.name));
            }
        }
    }
    loose
}

#[test]
fn the_lantern_staff_is_as_drawn() {
    let prop = demo("lantern-staff");
    assert_eq!(prop.name, "Parade lantern staff");
    let strips: Vec<_> = prop
        .strips()
        .map(|(i, s)| (prop.parts[i].name.as_str(), s.first, s.pixels))
        .collect();
    assert_eq!(
        strips,
        [("column", 0, 96), ("collar", 96, 12), ("status", 108, 1)]
    );
    assert_eq!(prop.pixels(), 109);
    assert_eq!(
        prop.board().expect("a board").1.outputs,
        2,
        "overridden in place"
    );
    assert!(prop.note.as_deref().is_some_and(|n| n.contains("Invented")));
    let WireSize::Gauge {
        gauge,
        length,
        per_length,
    } = &wire(&prop, "P3").size
    else {
        panic!("P3 has a gauge")
    };
    assert_eq!(*gauge, Gauge::Awg(18));
    assert!((length.si() - 0.64).abs() < 1e-12);
    assert!((per_length.as_ref().expect("of its type").si() - 0.0213).abs() < 1e-12);
    assert_eq!(loose_terminals(&prop), Vec::<String>::new());
}

#[test]
fn the_lantern_staff_has_its_master_switch_in_the_negative_leg() {
    let prop = demo("lantern-staff");
    // From the cell's minus, part after part, to the ground of the board.
    let mut passed = Vec::new();
    let mut at = ("cell".to_owned(), Pin::Minus);
    while at.0 != "grip-minus" {
        let joined = prop.wires.iter().find_map(|w| {
            let name =
                |t: &lampwright::build::netlist::Terminal| (prop.parts[t.part].name.clone(), t.pin);
            let (a, b) = (name(&w.from), name(&w.to));
            (a == at).then(|| b.clone()).or((b == at).then_some(a))
        });
        let (name, pin) = joined.expect("the leg goes on");
        passed.push(name.clone());
        // Through the part to its other end.
        at = (
            name,
            if pin == Pin::A(0) {
                Pin::B(0)
            } else {
                Pin::A(0)
            },
        );
    }
    assert_eq!(
        passed,
        ["holder-tail", "protection", "master", "grip-minus"]
    );
}

#[test]
fn the_stage_torch_is_as_drawn() {
    let prop = demo("stage-torch");
    assert_eq!(
        (prop.pixels(), prop.frame_channels(), prop.cap),
        (96, 4, 160)
    );
    for (_, strip) in prop.strips() {
        assert_eq!(strip.pixel.id, "rgbw-measured");
        assert!(strip.pixel.has_white());
    }
    for (strip, end) in [("front", 47), ("back", 47)] {
        let index = prop
            .parts
            .iter()
            .position(|p| p.name == strip)
            .expect("the strip");
        for pin in [
            Pin::RailPlus(0),
            Pin::RailMinus(0),
            Pin::RailPlus(end),
            Pin::RailMinus(end),
        ] {
            let fed = prop
                .wires
                .iter()
                .any(|w| w.to.part == index && w.to.pin == pin);
            assert!(fed, "{strip} is fed at {pin:?}");
        }
    }
    assert_eq!(loose_terminals(&prop), Vec::<String>::new());
}

#[test]
fn an_overridden_figure_brings_its_own_source_and_spread() {
    let prop = demo("stage-torch");
    let cell = prop.cell().expect("a cell").1;
    let limit = cell.continuous.as_ref().expect("a limit");
    assert!((limit.si() - 10.0).abs() < 1e-12);
    assert_eq!(limit.source.as_deref(), Some("builder's own limit"));
    // What is not overridden keeps the catalogue's.
    assert!(cell
        .ocv_source
        .as_deref()
        .is_some_and(|s| s.contains("Prada2013")));
    let (_, strip) = prop.strips().next().expect("a strip");
    let dark = &strip.pixel.dark;
    assert!((dark.si() - 0.31e-3).abs() < 1e-12);
    assert!(
        (dark.low.si() - 0.279e-3).abs() < 1e-12,
        "its own tolerance, not the catalogue's"
    );
    let PartKind::Strip(own) = &part(&prop, "front").kind else {
        panic!("a strip")
    };
    assert!(matches!(own.pixel.timing, Some(DataTiming::OneWire { .. })));
}

#[test]
fn a_plain_override_loses_the_catalogues_source() {
    let text = "[prop]\nname = \"x\"\n[parts.m]\nkind = \"switch\"\nfrom = \"switch-toggle-5a\"\nresistance = \"17 mohm\"\n";
    let prop = read(text).expect("good");
    let PartKind::Switch(contact) = &part(&prop, "m").kind else {
        panic!("a switch")
    };
    assert!((contact.resistance.si() - 0.017).abs() < 1e-15);
    assert!(!contact.resistance.has_spread());
    assert_eq!(contact.resistance.source, None);
    let rating = contact.rating.as_ref().expect("from the catalogue");
    assert!(rating
        .source
        .as_deref()
        .is_some_and(|s| s.contains("A2*0-T01")));
}

#[test]
fn a_source_beside_a_figure_holds_for_it_too() {
    let text = "[prop]\nname = \"x\"\n[parts.m]\nkind = \"switch\"\nresistance = \"17 mΩ\"\nsource = \"my meter\"\n";
    let prop = read(text).expect("good");
    let PartKind::Switch(contact) = &part(&prop, "m").kind else {
        panic!("a switch")
    };
    assert_eq!(contact.resistance.source.as_deref(), Some("my meter"));
}

#[test]
fn line_ends_a_byte_order_mark_and_ascii_units_change_nothing() {
    let text = repository_file("traces/lantern-staff/build.toml");
    let plain = read(&text).expect("good");
    let ascii = text
        .replace('°', "deg")
        .replace("mΩ", "mohm")
        .replace('−', "-");
    assert_ne!(ascii, text);
    for other in [text.replace('\n', "\r\n"), format!("\u{feff}{text}"), ascii] {
        let prop = read(&other).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(prop.wires, plain.wires);
        assert_eq!(prop.conditions, plain.conditions);
        let kinds = |p: &Prop| p.parts.iter().map(|p| p.kind.clone()).collect::<Vec<_>>();
        assert_eq!(kinds(&prop), kinds(&plain));
    }
}

/// The text blocks of FORMATS.md that are whole build files.
fn documented() -> Vec<String> {
    let guide = repository_file("harness/FORMATS.md");
    let blocks = guide.split("```toml build.toml\n").skip(1);
    blocks
        .map(|b| b.split("```").next().unwrap_or_default().to_owned())
        .collect()
}

#[test]
fn every_build_file_of_the_documentation_reads() {
    let blocks = documented();
    assert!(blocks.len() >= 2, "{} blocks found", blocks.len());
    for block in blocks {
        if let Err(errors) = read(&block) {
            panic!("{errors}\nin\n{block}");
        }
    }
}

#[test]
fn the_documented_circuit_is_typed_in_exactly() {
    let text = documented()
        .into_iter()
        .find(|b| b.contains("Typed-in circuit"))
        .expect("the worked example");
    let prop = read(&text).expect("good");
    let cell = prop.cell().expect("a cell").1;
    assert_eq!(cell.ocv_soc, [0.0, 0.5, 1.0]);
    assert_eq!(cell.ocv_v, [3.0, 3.6, 4.2]);
    assert!(cell.ocv_linear);
    assert_eq!(cell.r0.value, [[0.025]]);
    assert_eq!(cell.rc.len(), 2);
    assert!((cell.rc[0].capacitance.si() - 2000.0).abs() < 1e-9);
    let (_, strip) = prop.strips().next().expect("a strip");
    assert_eq!(strip.pixels, 60);
    assert!((strip.rail_plus.si() - 3.1e-3).abs() < 1e-15);
    assert!((strip.pixel.channels[1].full.si() - 3.3).abs() < 1e-12);
    assert!((strip.pixel.dark_full.si() - 2.8).abs() < 1e-12);
    for w in &prop.wires {
        assert!(
            matches!(w.size, WireSize::Resistance(_)),
            "{} has a resistance",
            w.name
        );
    }
}
