//! `REFERENCES.md`: each case with its source, its tolerance and how far the model is from it, as measured.

use crate::{cell, collapse, describe, ladder, profiles, pwm, statics};
use serde_json::Value;

/// A difference and what is granted.
#[derive(Debug, Clone)]
pub(crate) struct Measured {
    what: String,
    /// In µV, µA, % or mK.
    unit: Unit,
    pub(crate) off: f64,
    within: f64,
    place: String,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Unit {
    Volt,
    Ampere,
    Share,
    Kelvin,
}

impl Measured {
    pub(crate) fn volt(off: f64, within: f64) -> Self {
        Self::new("", Unit::Volt, off, within)
    }
    pub(crate) fn ampere(off: f64, within: f64) -> Self {
        Self::new("", Unit::Ampere, off, within)
    }
    pub(crate) fn kelvin(off: f64, within: f64) -> Self {
        Self::new("", Unit::Kelvin, off, within)
    }
    pub(crate) fn share(of: &str, off: f64, within: f64) -> Self {
        Self::new(of, Unit::Share, off, within)
    }
    fn new(what: &str, unit: Unit, off: f64, within: f64) -> Self {
        Self {
            what: what.to_owned(),
            unit,
            off,
            within,
            place: String::new(),
        }
    }

    /// Where the difference is, for messages.
    pub(crate) fn at(self, place: String) -> Self {
        Self { place, ..self }
    }

    fn show(&self, value: f64) -> String {
        let number = match self.unit {
            Unit::Volt => format!("{} µV", plain(value * 1e6)),
            Unit::Ampere => format!("{} µA", plain(value * 1e6)),
            Unit::Share => format!("{} %", plain(value * 100.0)),
            Unit::Kelvin => format!("{} mK", plain(value * 1e3)),
        };
        format!("{number} {}", self.what).trim_end().to_owned()
    }

    /// Rounded up to 1, 2 or 5 times a power of ten, and nothing said below a thousandth of the
    /// tolerance: so that rounding of another processor does not change the table.
    fn shown(&self) -> String {
        let floor = self.within * 1e-3;
        if self.off <= floor {
            return format!("< {}", self.show(floor));
        }
        let decade = 10f64.powf(self.off.log10().floor());
        let steps = [1.0, 2.0, 5.0, 10.0];
        let step = steps
            .iter()
            .find(|s| **s * decade >= self.off * (1.0 - 1e-9));
        format!("≤ {}", self.show(step.unwrap_or(&10.0) * decade))
    }
}

/// Up to three digits, without trailing zeros.
fn plain(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A case of the table.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    id: String,
    about: String,
    source: String,
    measured: Vec<Measured>,
}

impl Line {
    pub(crate) fn new(case: &Value, source: &str, measured: Vec<Measured>) -> Self {
        let about = case.get("about").unwrap_or(&case["description"]);
        Self {
            id: describe::text(&case["id"]).to_owned(),
            about: describe::text(about).to_owned(),
            source: source.to_owned(),
            measured,
        }
    }

    /// Every difference is within what is granted.
    pub(crate) fn assert(&self) {
        for m in &self.measured {
            assert!(
                m.off <= m.within,
                "{} ({}): off by {}, granted {}; {}",
                self.id,
                self.about,
                m.show(m.off),
                m.show(m.within),
                m.place
            );
        }
    }

    fn row(&self) -> String {
        let join = |text: Vec<String>| text.join("; ");
        format!(
            "| {} | {} | {} | {} | {} |\n",
            self.id,
            self.about,
            self.source,
            join(self.measured.iter().map(|m| m.show(m.within)).collect()),
            join(self.measured.iter().map(Measured::shown).collect()),
        )
    }
}

fn table() -> String {
    let mut text = include_str!("../../reference/references-head.md").to_owned();
    for (title, lines) in [
        ("Operating points", statics::lines()),
        ("Supply collapse", collapse::lines()),
        ("Capacitors under PWM", pwm::lines()),
        ("Strips, other pixel laws", ladder::lines()),
        ("Cell profiles", [profiles::lines(), cell::lines()].concat()),
    ] {
        text += &format!("\n## {title}\n\n| case | what | source | tolerance | measured |\n|---|---|---|---|---|\n");
        text.extend(lines.iter().map(Line::row));
    }
    text
}

/// The committed table is what this run measures. `REFERENCES_UPDATE=always` writes it.
#[test]
fn the_table_is_what_was_measured() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/REFERENCES.md");
    let found = table();
    if std::env::var("REFERENCES_UPDATE").is_ok_and(|v| v == "always") {
        std::fs::write(path, &found).unwrap();
    }
    let committed = std::fs::read_to_string(path).unwrap_or_default();
    for (k, (new, old)) in found.lines().zip(committed.lines()).enumerate() {
        assert_eq!(new, old, "REFERENCES.md line {}", k + 1);
    }
    assert_eq!(
        found, committed,
        "REFERENCES.md has lines too many or too few"
    );
}
