//! Conditions and sound levels of a build file: `[conditions]`, `[sound]`.

use super::Reader;
use crate::build::prop::{Conditions, Diffuser, Sound};
use crate::build::rated::{need_positive, rated_not_negative};
use crate::build::reader::Table;
use crate::units::{Length, Quantity, Ratio, Temperature, Time};

impl Reader<'_> {
    pub(super) fn conditions(&self) -> Conditions {
        let mut c = Conditions::default();
        let Some(table) = self.root.table("conditions") else {
            return c;
        };
        if let Some(v) = table.quantity::<Ratio>("soc-floor") {
            if (0.0..1.0).contains(&v.value.si()) {
                c.soc_floor = v.value;
            } else {
                table.fault(
                    "soc-floor",
                    "`conditions.soc-floor` must lie from 0 % to below 100 %",
                    "out of range",
                    "write soc-floor = \"20 %\"",
                );
            }
        }
        temperatures(&table, &mut c);
        if table.has("runtime") {
            c.runtime = need_positive::<Time>(&table, "runtime").map(|r| r.nominal);
        }
        c.aged = table.flag("aged-cell").unwrap_or(c.aged);
        if let Some(v) = rated_not_negative::<Ratio>(&table, "wire-length-tolerance") {
            c.wire_length_tolerance = v.nominal;
        }
        table.finish();
        c
    }

    pub(super) fn sound(&self) -> Sound {
        let mut s = Sound::default();
        let Some(table) = self.root.table("sound") else {
            return s;
        };
        let level = |key: &str| {
            let v = table.quantity::<Ratio>(key)?;
            if (0.0..=1.0).contains(&v.value.si()) {
                return Some(v.value);
            }
            table.fault(
                key,
                format!("`sound.{key}` must lie from 0 % to 100 %"),
                "out of range",
                format!("write {key} = \"25 %\""),
            );
            None
        };
        s.lit = level("lit").unwrap_or(s.lit);
        s.cue = level("cue").unwrap_or(s.cue);
        if let Some(v) = rated_not_negative::<Time>(&table, "cue-time") {
            s.cue_time = v.nominal;
        }
        table.finish();
        s
    }

    pub(super) fn diffuser(&self) -> Option<Diffuser> {
        let table = self.root.table("diffuser")?;
        let transmission = table.need_quantity::<Ratio>("transmission");
        let distance = table.need_quantity::<Length>("distance");
        let second = table.quantity::<Length>("second-distance");
        let width = rated_not_negative::<Length>(&table, "width").map(|w| w.nominal);
        table.finish();
        let (transmission, distance) = (transmission?.value, distance?.value);
        if !(0.0..=1.0).contains(&transmission.si()) {
            table.fault(
                "transmission",
                "`diffuser.transmission` must lie from 0 % to 100 %",
                "out of range",
                "write transmission = \"60 %\"",
            );
        }
        let distances: Vec<Length> = std::iter::once(distance)
            .chain(second.map(|s| s.value))
            .collect();
        if distances.iter().any(|d| d.si() <= 0.0) {
            table.fault(
                table.own_key(&["distance", "second-distance"]),
                "a diffusing layer must be some way from what lights it",
                "not above zero",
                "write distance = \"12 mm\"",
            );
            return None;
        }
        Some(Diffuser {
            transmission,
            distances,
            width: width.filter(|w| w.si() > 0.0),
        })
    }

    /// Shares of time; they need not make a whole, what is left over is `off`.
    pub(super) fn usage(&self) -> Vec<(String, Ratio)> {
        let mut out = Vec::new();
        let Some(table) = self.root.table("usage") else {
            return out;
        };
        let mut sum = 0.0;
        for name in table.keys() {
            let Some(share) = table.quantity::<Ratio>(&name) else {
                continue;
            };
            sum += share.value.si();
            if share.value.si() < 0.0 || sum > 1.0 + 1e-9 {
                table.fault(
                    &name,
                    format!("`usage.{name}` brings the shares of time to {:.0} %", sum * 100.0),
                    "not a share of the time",
                    "give each preset its share; together at most 100 %, what is left counts as off",
                );
            }
            out.push((name, share.value));
        }
        table.finish();
        out
    }
}

fn temperatures(table: &Table<'_>, c: &mut Conditions) {
    if let Some(v) = table.quantity::<Temperature>("temperature-min") {
        c.temperature_min = v.value;
    }
    if let Some(v) = table.quantity::<Temperature>("temperature-max") {
        c.temperature_max = v.value;
    }
    if c.temperature_min.si() <= c.temperature_max.si() {
        return;
    }
    let celsius = |t: Temperature| t.si() - Temperature::OFFSET;
    // The one that is stated is the one to underline.
    let (key, other) = if table.has("temperature-min") {
        ("temperature-min", "temperature-max")
    } else {
        ("temperature-max", "temperature-min")
    };
    let default = if table.has(other) {
        ""
    } else {
        " (taken where none is stated)"
    };
    table.fault(
        key,
        format!(
            "`conditions.temperature-min` {:.1} °C lies above `temperature-max` {:.1} °C",
            celsius(c.temperature_min),
            celsius(c.temperature_max)
        ),
        format!("does not go with {other}{default}"),
        "make temperature-min the colder one, and state both",
    );
}
