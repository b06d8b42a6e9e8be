//! Wires of a build file: `[[wires]]`.

use super::Reader;
use crate::build::diag::{InputError, Place};
use crate::build::netlist::{terminal, Terminal};
use crate::build::parts::{Wire, WireSize};
use crate::build::prop::Part;
use crate::build::rated::{need_not_negative, rated, rated_not_negative};
use crate::build::reader::{At, Table};
use crate::units::{Gauge, GaugeError, Length, Resistance, ResistancePerLength, Temperature};

impl<'a> Reader<'a> {
    pub(super) fn wires(&self, parts: &[Part]) -> (Vec<Wire>, Vec<Place>) {
        let mut wires: Vec<Wire> = Vec::new();
        let mut places = Vec::new();
        for (name, table) in self.wire_tables() {
            let ends =
                ["from", "to"].map(|key| table.text(key).map_or_else(String::new, |t| t.value));
            let gone = |end: &String| self.removed(end.split('.').next().unwrap_or_default());
            // A wire to a part that the variant takes out goes with it.
            if self.removed(&name) || ends.iter().any(gone) {
                continue;
            }
            let table = table.called(format!("wires.{name}"));
            let place = table.place();
            let Some(wire) = self.wire(name, &table, parts) else {
                continue;
            };
            if wires.iter().any(|w| w.name == wire.name) {
                table.fault(
                    "name",
                    format!("two wires are called \"{}\"", wire.name),
                    "used before",
                    "give each wire a name of its own; one without a name is called w1, w2 ... by its place",
                );
            }
            wires.push(wire);
            places.push(place);
        }
        (wires, places)
    }

    fn wire(&self, name: String, table: &Table<'a>, parts: &[Part]) -> Option<Wire> {
        let (from, to) = (self.end(table, "from", parts), self.end(table, "to", parts));
        let layered = match table.text("type") {
            Some(id) => self.base(&id, "wire").map(|b| table.clone().on(&b)),
            None => Some(table.clone()),
        };
        let slack = rated_not_negative::<Length>(table, "slack").map(|r| r.nominal);
        let strip_length = rated_not_negative::<Length>(table, "strip-length").map(|r| r.nominal);
        let (colour, note) = (table.text("colour"), table.text("note"));
        // A type that is not known has been reported: without it, what the wire lacks is unknown too.
        let layered = layered?;
        let size = size(&layered);
        let insulation = layered.text("insulation");
        let insulation_max = rated::<Temperature>(&layered, "insulation-max");
        for key in ["kind", "title"] {
            let _ = layered.has(key).then(|| layered.text(key));
        }
        layered.finish();
        let wire = Wire {
            name,
            from: from?,
            to: to?,
            size: size?,
            slack,
            strip_length,
            colour: colour.map(|t| t.value),
            insulation: insulation.map(|t| t.value),
            insulation_max,
            note: note.map(|t| t.value),
        };
        if wire.from.part == wire.to.part && wire.from.pin == wire.to.pin {
            table.fault(
                "to",
                format!("wire \"{}\" joins {} to itself", wire.name, wire.from),
                "same terminal",
                "name two different terminals",
            );
        }
        Some(wire)
    }

    fn end(&self, table: &Table<'a>, key: &str, parts: &[Part]) -> Option<Terminal> {
        let text = table.need_text(key, "\"cell.plus\"")?;
        let part = text.value.trim().split('.').next().unwrap_or_default();
        if self.broken.borrow().contains(part) {
            // Its own faults have been reported; which terminals it has is not known.
            return None;
        }
        terminal(&text.value, &text.place, parts, &self.broken.borrow())
            .map_err(|e| self.sink.push(*e))
            .ok()
    }
}

/// What makes the wire's resistance: its gauge and length, or a resistance that was typed in.
pub(super) fn size(table: &Table<'_>) -> Option<WireSize> {
    let per_length = rated_not_negative::<ResistancePerLength>(table, "resistance-per-length");
    if table.has("resistance") {
        // What is stated besides is for the cut list; the resistance counts.
        let _ = (
            table.text("gauge").map(|text| gauge(table, &text)),
            rated_not_negative::<Length>(table, "length"),
        );
        return rated_not_negative::<Resistance>(table, "resistance").map(WireSize::Resistance);
    }
    let gauge = table
        .need_text("gauge", "\"22 AWG\"")
        .and_then(|text| gauge(table, &text));
    let length = need_not_negative::<Length>(table, "length");
    Some(WireSize::Gauge {
        gauge: gauge?,
        length: length?.nominal,
        per_length,
    })
}

fn gauge(table: &Table<'_>, text: &At<String>) -> Option<Gauge> {
    let error = match Gauge::parse(&text.value) {
        Ok(gauge) => return Some(gauge),
        Err(error) => error,
    };
    let typed = text.value.trim();
    let label = match error {
        GaugeError::Number(_) => "a gauge is a whole number from 0 to 40",
        GaugeError::Area(_) => "a cross-section lies from 0.01 mm² to 50 mm²",
        GaugeError::Neither { .. } => "neither AWG nor mm²",
    };
    let awg = typed.parse::<i32>().ok().filter(|n| (0..=40).contains(n));
    let help = match awg {
        Some(n) => format!("write gauge = \"{n} AWG\""),
        None => "write gauge = \"22 AWG\" or gauge = \"0.5 mm²\"".to_owned(),
    };
    let message = format!("`{}.gauge` is not a wire gauge", table.path());
    table
        .sink()
        .push(InputError::at(text.place.clone(), message, label).help(help));
    None
}
