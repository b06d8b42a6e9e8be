//! Zones of the enclosure and the order of work: `[zones.NAME]`, and `zone` and `after` of a part.

use super::Reader;
use crate::build::diag::{near_miss, InputError};
use crate::build::prop::{Part, Zone};
use crate::build::reader::Table;

/// Where a part comes in the order of work.
#[derive(Debug, Default)]
pub(super) struct Order {
    pub(super) zone: Option<String>,
    pub(super) after: Vec<String>,
    pub(super) note: Option<String>,
}

/// Reads `zone` and `after` of a part.
pub(super) fn place_in_order(table: &Table<'_>) -> Order {
    let text = |key: &str| table.has(key).then(|| table.text(key)).flatten();
    Order {
        zone: text("zone").map(|t| t.value),
        after: table
            .has("after")
            .then(|| table.texts("after"))
            .flatten()
            .unwrap_or_default()
            .into_iter()
            .map(|t| t.value)
            .collect(),
        note: text("note").map(|t| t.value),
    }
}

impl Reader<'_> {
    /// The zones, and whether `zone` and `after` name what there is.
    pub(super) fn zones(&self, parts: &[Part]) -> Vec<Zone> {
        let mut zones = Vec::new();
        if let Some(tables) = self.root.table("zones") {
            for name in tables.keys() {
                let Some(table) = tables.table(&name) else {
                    continue;
                };
                let depth = table.integer("depth", 0..=9).unwrap_or(0) as u8;
                let after = table.texts("after").unwrap_or_default();
                table.finish();
                for other in &after {
                    if !tables.has(&other.value) {
                        self.unknown_in_order(&other.value, "zone", tables.keys(), &other.place);
                    }
                }
                zones.push(Zone {
                    name,
                    depth,
                    after: after.into_iter().map(|t| t.value).collect(),
                });
            }
            tables.finish();
        }
        let known: Vec<String> = parts.iter().map(|p| p.name.clone()).collect();
        for part in parts {
            for other in part.after.iter().filter(|a| !known.contains(a)) {
                if !self.broken.borrow().contains(other) && !self.removed(other) {
                    self.unknown_in_order(other, "part", known.clone(), &part.place);
                }
            }
            // Zones need no table of their own; where tables stand, a name without one is a slip.
            if let Some(zone) = part.zone.as_ref().filter(|_| !zones.is_empty()) {
                let names: Vec<String> = zones.iter().map(|z| z.name.clone()).collect();
                if !names.contains(zone) {
                    self.unknown_in_order(zone, "zone", names, &part.place);
                }
            }
        }
        zones
    }

    fn unknown_in_order(
        &self,
        name: &str,
        what: &str,
        known: Vec<String>,
        place: &crate::build::diag::Place,
    ) {
        let help = match near_miss(name, known.iter().map(String::as_str)) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("{what}s in this build: {}", known.join(", ")),
        };
        let message = format!("no {what} is called \"{name}\"");
        self.sink
            .push(InputError::at(place.clone(), message, format!("unknown {what}")).help(help));
    }
}
