//! One table of a preset: values with units, each with its place kept.
//!
//! A value that cannot be read is reported and replaced by one the model finds no fault with, so
//! that reading goes on and one run names every fault.

use super::colour;
use super::places::{Places, Section, Written};
use super::value::{parse_pixels, parse_rate, parse_share, parse_speed, parse_time, Unit};
use crate::build::diag::Place;
use crate::build::reader::{At, Table};
use lampwright_model::curve::Transfer;
use lampwright_model::{Color, Length, Share};

/// What to take where a key is absent.
pub(super) enum Absent<T> {
    /// This value.
    Default(T),
    /// Nothing: the key must be there.
    Wanted,
}

/// A table being read into a section of the model.
pub(super) struct Fields<'t, 'a> {
    pub table: &'t Table<'a>,
    pub section: Section,
    pub places: &'t Places,
}

/// How a kind of value is read.
struct Kind<T> {
    unit: Unit,
    what: &'static str,
    example: &'static str,
    /// Taken where the value cannot be read; sound everywhere.
    stand_in: T,
}

impl Fields<'_, '_> {
    fn note(&self, key: &str, field: &'static str, entry: Option<u8>, unit: Unit) {
        if let Some(place) = self.table.place_of(key) {
            self.note_at(key, field, entry, unit, place);
        }
    }

    /// Keeps the place of a field that the caller has read itself.
    pub(super) fn note_at(
        &self,
        key: &str,
        field: &'static str,
        entry: Option<u8>,
        unit: Unit,
        place: Place,
    ) {
        self.places.note(Written {
            section: self.section,
            field,
            entry,
            place,
            path: join(self.table.path(), key),
            unit,
        });
    }

    fn value<T>(
        &self,
        key: &str,
        field: &'static str,
        absent: Absent<T>,
        kind: Kind<T>,
        parse: impl FnOnce(&str) -> Result<T, String>,
    ) -> T {
        // Asked for even where absent, so that a misspelt neighbour is told its name.
        if self.table.place_of(key).is_none() {
            return match absent {
                Absent::Default(value) => value,
                Absent::Wanted => {
                    self.table.missing(key, &format!("\"{}\"", kind.example));
                    kind.stand_in
                }
            };
        }
        let expected = format!("a {} such as \"{}\"", kind.what, kind.example);
        let Some(At { value, .. }) = self.table.scalar(key, &expected) else {
            return kind.stand_in;
        };
        self.note(key, field, None, kind.unit);
        parse(&value).unwrap_or_else(|why| {
            let path = join(self.table.path(), key);
            self.table.fault(
                key,
                format!("`{path}` is not a {}", kind.what),
                why,
                format!("write {key} = \"{}\"", kind.example),
            );
            kind.stand_in
        })
    }

    pub(super) fn time(&self, key: &str, field: &'static str, absent: Absent<u32>) -> u32 {
        let kind = Kind {
            unit: Unit::Time,
            what: "time",
            example: "900 ms",
            stand_in: 1000,
        };
        self.value(key, field, absent, kind, parse_time)
    }

    pub(super) fn share(&self, key: &str, field: &'static str, absent: Absent<Share>) -> Share {
        let kind = Kind {
            unit: Unit::Share,
            what: "share",
            example: "80 %",
            stand_in: Share::FULL,
        };
        self.value(key, field, absent, kind, |t| parse_share(t).map(Share))
    }

    /// A size in pixels, or as a share of a zone where its pixels are given.
    pub(super) fn pixels(
        &self,
        key: &str,
        field: &'static str,
        zone: Option<u32>,
        absent: Absent<Length>,
    ) -> Length {
        let kind = Kind {
            unit: Unit::Pixels,
            what: "size along the strip",
            example: "4 px",
            stand_in: Length::from_pixels(1),
        };
        self.value(key, field, absent, kind, |t| {
            parse_pixels(t, zone).map(Length)
        })
    }

    pub(super) fn speed(&self, key: &str, field: &'static str) -> i16 {
        let kind = Kind {
            unit: Unit::Count,
            what: "speed along the strip",
            example: "3 px/s",
            stand_in: 0,
        };
        self.value(key, field, Absent::Default(0), kind, parse_speed)
    }

    pub(super) fn rate(&self, key: &str, field: &'static str, absent: u8) -> u8 {
        let kind = Kind {
            unit: Unit::Rate,
            what: "frame rate",
            example: "60 Hz",
            stand_in: absent,
        };
        self.value(key, field, Absent::Default(absent), kind, parse_rate)
    }

    /// A small whole number, whose range the model checks.
    pub(super) fn count(&self, key: &str, field: &'static str, absent: u8) -> u8 {
        if self.table.place_of(key).is_none() {
            return absent;
        }
        let value = self.table.integer(key, 0..=255);
        self.note(key, field, None, Unit::Count);
        value.and_then(|v| u8::try_from(v).ok()).unwrap_or(absent)
    }

    pub(super) fn choice<T: Copy>(
        &self,
        key: &str,
        field: &'static str,
        names: &[(&str, T)],
        absent: T,
    ) -> T {
        let value = self.table.choice(key, names);
        self.note(key, field, None, Unit::Count);
        value.unwrap_or(absent)
    }

    /// The name under `kind`, one of `names`, and without the key the first of them if it may be
    /// absent.
    pub(super) fn kind(&self, names: &[&'static str], may_be_absent: bool) -> Option<&'static str> {
        if !self.table.has("kind") {
            if may_be_absent {
                return names.first().copied();
            }
            let example = names.first().copied().unwrap_or_default();
            self.table.missing("kind", &format!("\"{example}\""));
            return None;
        }
        let choices: Vec<_> = names.iter().map(|n| (*n, *n)).collect();
        self.table.choice("kind", &choices)
    }

    /// A colour. The place kept is that of the key.
    pub(super) fn colour(&self, key: &str, field: &'static str, transfer: Transfer) -> Color {
        self.entry_colour(key, field, None, transfer)
    }

    /// A colour that belongs to entry `entry` of a list field.
    pub(super) fn entry_colour(
        &self,
        key: &str,
        field: &'static str,
        entry: Option<u8>,
        transfer: Transfer,
    ) -> Color {
        if !self.table.has(key) {
            self.table.missing(key, "\"#ff9a3c\"");
            return Color::BLACK;
        }
        self.note(key, field, entry, Unit::Count);
        if self.table.is_table(key) {
            return self.colour_table(key, transfer);
        }
        self.hex(self.table, key, transfer)
    }

    fn hex(&self, table: &Table<'_>, key: &str, transfer: Transfer) -> Color {
        let Some(At { value, .. }) = table.scalar(key, "a colour such as \"#ff9a3c\"") else {
            return Color::BLACK;
        };
        colour::parse_hex(&value, transfer).unwrap_or_else(|why| {
            let path = join(table.path(), key);
            let help = format!(
                "write {key} = \"#ff9a3c\" (red, green, blue, two hex digits each) or {key} = {{ red = \"100 %\", green = \"60 %\", blue = \"5 %\" }}"
            );
            table.fault(key, format!("`{path}` is not a colour"), why, help);
            Color::BLACK
        })
    }

    fn colour_table(&self, key: &str, transfer: Transfer) -> Color {
        let Some(table) = self.table.table(key) else {
            return Color::BLACK;
        };
        let inner = Fields {
            table: &table,
            section: self.section,
            places: self.places,
        };
        let dark = || Absent::Default(Share::NONE);
        let mut color = if table.place_of("rgb").is_some() {
            inner.hex(&table, "rgb", transfer)
        } else {
            // `color.` keeps these apart from fields of the model that have the same names.
            let share = |key, field| inner.share(key, field, dark()).0;
            Color::rgb(
                share("red", "color.r"),
                share("green", "color.g"),
                share("blue", "color.b"),
            )
        };
        color.w = inner.share("white", "color.w", dark()).0;
        table.finish();
        color
    }
}

/// A key below a path.
pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}
