//! Bulk capacitors: more of one that is there, and one where there is none.

use super::changes::Add;
use crate::build::diag::Sink;
use crate::build::netlist::{Pin, Terminal};
use crate::build::parts::{Capacitor, Wire};
use crate::build::prop::{Part, PartKind, Prop};
use crate::build::rated::Rated;
use crate::units::{Quantity, Resistance};

/// The capacitor that is tried: of the catalogue, through-hole, to be had anywhere.
const TRIED: &str = "capacitor-electrolytic-1000uf";

/// Twice what is there, and one more at every strip's start and at the board.
pub(super) fn changes(prop: &Prop, add: &mut Add<'_>) {
    for (i, part) in prop.parts.iter().enumerate() {
        if let PartKind::Capacitor(one) = &part.kind {
            let two = doubled(one);
            add(format!("a second capacitor beside {}", part.name), &|p| {
                if let Some(PartKind::Capacitor(c)) = p.parts.get_mut(i).map(|p| &mut p.kind) {
                    *c = two.clone();
                }
            });
        }
    }
    let Some(tried) = catalogued(prop) else {
        return;
    };
    for (i, part) in prop.parts.iter().enumerate() {
        let (plus, minus) = match &part.kind {
            PartKind::Strip(s) if s.pixels > 1 => (Pin::RailPlus(0), Pin::RailMinus(0)),
            PartKind::Board(_) => (Pin::Supply, Pin::Ground),
            _ => continue,
        };
        add(format!("{TRIED} at {}", part.name), &|p| {
            solder(p, i, (plus, minus), &tried);
        });
    }
}

/// Two of a kind side by side.
fn doubled(one: &Capacitor) -> Capacitor {
    let mut two = one.clone();
    scale(&mut two.capacitance, 2.0);
    if let Some(ohm) = &mut two.series_resistance {
        scale(ohm, 0.5);
    }
    two
}

fn scale<Q: Quantity>(rated: &mut Rated<Q>, by: f64) {
    for q in [&mut rated.nominal, &mut rated.low, &mut rated.high] {
        *q = Q::from_si(q.si() * by);
    }
}

fn catalogued(prop: &Prop) -> Option<Capacitor> {
    let sink = Sink::new();
    let catalogue = prop.catalogue.parse(&sink);
    let entries = catalogue.entries(&sink);
    let (.., table) = entries.iter().find(|(id, ..)| id == TRIED)?;
    Capacitor::read(table)
}

/// Puts a capacitor right across two pins of a part.
fn solder(prop: &mut Prop, at: usize, pins: (Pin, Pin), capacitor: &Capacitor) {
    let Some(beside) = prop.parts.get(at) else {
        return;
    };
    let (place, own) = (beside.place.clone(), prop.parts.len());
    let name = format!("{} capacitor", beside.name);
    let text = beside.name.clone();
    for (from, to) in [(Pin::Plus, pins.0), (Pin::Minus, pins.1)] {
        let end = |part, pin, text: &str| Terminal {
            part,
            pin,
            text: text.to_owned(),
        };
        prop.wires.push(Wire::of_resistance(
            &format!("{name} {from:?}"),
            end(own, from, &name),
            end(at, to, &text),
            Resistance::from_si(0.0),
        ));
        prop.wire_places.push(place.clone());
    }
    prop.parts.push(Part {
        name,
        from: Some(TRIED.to_owned()),
        kind: PartKind::Capacitor(capacitor.clone()),
        zone: prop.parts.get(at).and_then(|p| p.zone.clone()),
        place,
        after: Vec::new(),
        note: None,
    });
}
