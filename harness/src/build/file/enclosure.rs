//! The closed tubes around the parts: `[enclosure.NAME]`.

use super::Reader;
use crate::build::diag::{near_miss, InputError};
use crate::build::parts::{Material, Touch, Tube, MATERIALS};
use crate::build::prop::Part;
use crate::build::rated::{need_positive, rated_not_negative};
use crate::build::reader::{At, Table};
use crate::units::{Length, Ratio};

const EXAMPLE: &str = "[enclosure.shaft]\nmaterial = \"polycarbonate\"\nouter-diameter = \"32 mm\"\nwall = \"2 mm\"\nlength = \"300 mm\"\ntouch = \"held\"";

impl Reader<'_> {
    /// The tubes, in file order. Parts that no tube names lie in the first.
    pub(super) fn enclosure(&self, parts: &[Part]) -> Vec<Tube> {
        let Some(tables) = self.root.table("enclosure") else {
            return Vec::new();
        };
        let mut tubes: Vec<Tube> = Vec::new();
        let mut placed: Vec<Option<String>> = vec![None; parts.len()];
        let mut whole = true;
        for name in tables.keys() {
            let plain = !tables.is_table(&name);
            if plain {
                // Keys right under [enclosure]: the tube lacks its name.
                tables.fault(
                    &name,
                    format!("`enclosure.{name}` stands right under [enclosure]"),
                    "belongs to a tube",
                    format!("give each tube a name: {}", EXAMPLE.replace('\n', "; ")),
                );
                whole = false;
                continue;
            }
            let Some(table) = tables.table(&name) else {
                continue;
            };
            match self.tube(&name, &table, parts, &mut placed) {
                Some(tube) => tubes.push(tube),
                None => whole = false,
            }
        }
        if whole {
            tables.finish();
        }
        if let Some(first) = tubes.first_mut() {
            let loose = (0..parts.len()).filter(|i| placed.get(*i).is_some_and(Option::is_none));
            first.holds.extend(loose);
        }
        tubes
    }

    fn tube(
        &self,
        name: &str,
        table: &Table<'_>,
        parts: &[Part],
        placed: &mut [Option<String>],
    ) -> Option<Tube> {
        if !table.has("material") {
            table.missing("material", "\"polycarbonate\"");
        }
        let choices: Vec<(&str, Material)> = MATERIALS.iter().map(|m| (m.name, *m)).collect();
        let material = table.choice("material", &choices);
        let outer = need_positive::<Length>(table, "outer-diameter");
        let wall = need_positive::<Length>(table, "wall");
        let length = need_positive::<Length>(table, "length");
        let emissivity = rated_not_negative::<Ratio>(table, "emissivity");
        if emissivity
            .as_ref()
            .is_some_and(|e| e.low_si() <= 0.0 || e.high_si() > 1.0)
        {
            table.fault(
                "emissivity",
                format!(
                    "`{}.emissivity` must lie above 0 % and up to 100 %",
                    table.path()
                ),
                "out of range",
                "write emissivity = \"90 %\"",
            );
        }
        if !table.has("touch") {
            table.missing("touch", "\"held\"");
        }
        let touch = table.choice("touch", &Touch::NAMES);
        let mut holds = Vec::new();
        for part in table.texts("holds").unwrap_or_default() {
            match parts.iter().position(|p| p.name == part.value) {
                Some(index) => {
                    self.place_once(name, index, &part, placed);
                    holds.push(index);
                }
                None => self.unknown_part(&part, parts),
            }
        }
        table.finish();
        let (outer, wall) = (outer?, wall?);
        if 2.0 * wall.high_si() >= outer.low_si() {
            table.fault(
                "wall",
                format!("`{}.wall` leaves no bore", table.path()),
                "twice the wall is not below the outer diameter",
                "write wall = \"2 mm\"",
            );
            return None;
        }
        Some(Tube {
            name: name.to_owned(),
            material: material?,
            outer,
            wall,
            length: length?,
            emissivity,
            touch: touch?,
            holds,
        })
    }

    fn place_once(
        &self,
        tube: &str,
        index: usize,
        part: &At<String>,
        placed: &mut [Option<String>],
    ) {
        let Some(slot) = placed.get_mut(index) else {
            return;
        };
        if let Some(other) = slot {
            let message = format!(
                "\"{}\" lies in two tubes, `{other}` and `{tube}`",
                part.value
            );
            let error = InputError::at(part.place.clone(), message, "named before");
            self.sink.push(error.help("leave it in one of them"));
        }
        *slot = Some(tube.to_owned());
    }

    fn unknown_part(&self, part: &At<String>, parts: &[Part]) {
        if self.broken.borrow().contains(&part.value) || self.removed(&part.value) {
            return;
        }
        let names: Vec<&str> = parts.iter().map(|p| p.name.as_str()).collect();
        let help = match near_miss(&part.value, names.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("parts in this build: {}", names.join(", ")),
        };
        let message = format!("no part is called \"{}\"", part.value);
        self.sink
            .push(InputError::at(part.place.clone(), message, "unknown part").help(help));
    }
}
