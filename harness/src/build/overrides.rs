//! Figures written over those of a build file's text, which keeps its comments and its order.

use super::diag::{InputError, InputErrors};
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// A figure with its spread and where it comes from, SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Value.
    pub value: f64,
    /// Low end of its spread.
    pub low: f64,
    /// High end of its spread.
    pub high: f64,
    /// Unit: "A", "V" or "Ω".
    pub unit: &'static str,
    /// Where it comes from.
    pub source: String,
}

/// One thing to write over.
#[derive(Debug, Clone, PartialEq)]
pub enum Override {
    /// Full current of a channel ("red") of a pixel type.
    Channel {
        /// Id of the pixel type.
        pixel: String,
        /// Name of the channel.
        channel: &'static str,
        /// Its current.
        current: Figure,
    },
    /// Dark current of a pixel type.
    Dark {
        /// Id of the pixel type.
        pixel: String,
        /// The current.
        current: Figure,
    },
    /// Resistance of a switch, contact or connector.
    Contact {
        /// Name of the part.
        part: String,
        /// Resistance of one pole.
        resistance: Figure,
    },
    /// Series resistance of a cell.
    SeriesResistance {
        /// Name of the part.
        part: String,
        /// Kelvin, rising; one row each.
        temperature_k: Vec<f64>,
        /// State of charge, 0..1; one column each.
        soc: Vec<f64>,
        /// Ohms.
        ohm: Vec<Vec<f64>>,
        /// Where it comes from.
        source: String,
    },
    /// Open-circuit voltage of a cell.
    OpenCircuit {
        /// Name of the part.
        part: String,
        /// State of charge, 0..1.
        soc: Vec<f64>,
        /// Volts.
        volts: Vec<f64>,
        /// Whether straight lines join the points.
        linear: bool,
        /// Where it comes from.
        source: String,
    },
}

/// The text of a build file with figures written over, under a heading of remark lines.
///
/// # Errors
/// The text is not TOML, or has something else where a table belongs.
pub fn with_overrides(
    text: &str,
    heading: &str,
    overrides: &[Override],
) -> Result<String, InputErrors> {
    let mut document: DocumentMut = text.parse().map_err(|e: toml_edit::TomlError| {
        InputErrors::from(InputError::whole(format!(
            "the build file is not TOML: {e}"
        )))
    })?;
    for one in overrides {
        write(document.as_table_mut(), one).map_err(|path| {
            InputErrors::from(
                InputError::whole(format!(
                    "`{path}` is not a table, so nothing can be written into it"
                ))
                .help("write it as a table of its own"),
            )
        })?;
    }
    let remarks: String = heading.lines().map(|l| format!("# {l}\n")).collect();
    Ok(format!("{remarks}\n{document}"))
}

/// The path at which no table stands comes back as the error.
fn write(root: &mut Table, one: &Override) -> Result<(), String> {
    match one {
        Override::Channel {
            pixel,
            channel,
            current,
        } => {
            let own = pixel_table(root, pixel)?;
            let item = own
                .entry(channel)
                .or_insert(Item::Value(Value::InlineTable(InlineTable::new())));
            let inner = item
                .as_table_like_mut()
                .ok_or_else(|| format!("pixels.{pixel}.{channel}"))?;
            inner.insert("current", figure(current));
        }
        Override::Dark { pixel, current } => {
            pixel_table(root, pixel)?.insert("dark-current", figure(current));
        }
        Override::Contact { part, resistance } => {
            part_table(root, part)?.insert("resistance", figure(resistance));
        }
        Override::SeriesResistance {
            part,
            temperature_k,
            soc,
            ohm,
            source,
        } => {
            let mut map = InlineTable::new();
            if temperature_k.len() == 1 && soc.len() == 1 {
                let only = ohm.first().and_then(|r| r.first()).copied().unwrap_or(0.0);
                map.insert("value", scaled(only, "Ω").into());
            } else {
                let celsius = temperature_k
                    .iter()
                    .map(|k| format!("{:.2} °C", k - 273.15));
                map.insert("temperature", Value::Array(celsius.collect::<Array>()));
                map.insert("soc", Value::Array(shares(soc)));
                let rows = ohm.iter().map(|row| {
                    Value::Array(row.iter().map(|r| scaled(*r, "Ω")).collect::<Array>())
                });
                map.insert("value", Value::Array(rows.collect::<Array>()));
            }
            map.insert("source", source.as_str().into());
            part_table(root, part)?.insert("r0", Item::Value(Value::InlineTable(map)));
        }
        Override::OpenCircuit {
            part,
            soc,
            volts,
            linear,
            source,
        } => {
            let mut map = InlineTable::new();
            map.insert("soc", Value::Array(shares(soc)));
            let volts = volts.iter().map(|v| format!("{v:.4} V"));
            map.insert("voltage", Value::Array(volts.collect::<Array>()));
            map.insert(
                "interpolation",
                if *linear { "linear" } else { "monotone" }.into(),
            );
            map.insert("source", source.as_str().into());
            part_table(root, part)?.insert("ocv", Item::Value(Value::InlineTable(map)));
        }
    }
    Ok(())
}

fn shares(soc: &[f64]) -> Array {
    soc.iter()
        .map(|s| format!("{} %", round(s * 100.0, 8)))
        .collect()
}

/// The build's own table of a pixel type; one of the catalogue is stood on.
fn pixel_table<'a>(root: &'a mut Table, pixel: &str) -> Result<&'a mut dyn TableLike, String> {
    let mut all = Table::new();
    all.set_implicit(true);
    let pixels = root.entry("pixels").or_insert(Item::Table(all));
    let pixels = pixels.as_table_like_mut().ok_or("pixels")?;
    if !pixels.contains_key(pixel) {
        let mut own = Table::new();
        own.insert("from", toml_edit::value(pixel));
        pixels.insert(pixel, Item::Table(own));
    }
    let own = pixels.get_mut(pixel).and_then(Item::as_table_like_mut);
    own.ok_or_else(|| format!("pixels.{pixel}"))
}

fn part_table<'a>(root: &'a mut Table, part: &str) -> Result<&'a mut dyn TableLike, String> {
    let parts = root.get_mut("parts").and_then(Item::as_table_like_mut);
    let own = parts.and_then(|p| p.get_mut(part));
    own.and_then(Item::as_table_like_mut)
        .ok_or_else(|| format!("parts.{part}"))
}

fn figure(f: &Figure) -> Item {
    let mut table = InlineTable::new();
    // Rounding must not put the value outside its own spread.
    let value = scaled(f.value, f.unit);
    table.insert("value", value.clone().into());
    if f.low < f.value && scaled(f.low, f.unit) != value {
        table.insert("low", scaled(f.low, f.unit).into());
    }
    if f.high > f.value && scaled(f.high, f.unit) != value {
        table.insert("high", scaled(f.high, f.unit).into());
    }
    table.insert("source", f.source.as_str().into());
    Item::Value(Value::InlineTable(table))
}

/// A value in thousandths of its unit, to six digits.
fn scaled(value: f64, unit: &str) -> String {
    format!("{} m{unit}", round(value * 1e3, 6))
}

/// A number to so many significant digits, without needless zeros.
fn round(value: f64, digits: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return 0.0;
    }
    let places = digits - 1 - value.abs().log10().floor() as i32;
    let text = format!("{value:.*}", places.clamp(0, 12) as usize);
    text.parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::build::diag::Source;
    use crate::build::file::read_build;
    use crate::build::prop::PartKind;

    #[test]
    fn figures_are_written_over_and_read_back_and_remarks_stay() {
        let text = include_str!("../../../traces/lantern-staff/build.toml");
        let figure = |value: f64, unit| Figure {
            value,
            low: value * 0.9,
            high: value * 1.2,
            unit,
            source: "fitted".to_owned(),
        };
        let list = [
            Override::Channel {
                pixel: "ws2812b-v5".to_owned(),
                channel: "green",
                current: figure(0.011_234, "A"),
            },
            Override::Dark {
                pixel: "ws2812b-v5".to_owned(),
                current: figure(0.000_777, "A"),
            },
            Override::Contact {
                part: "joint".to_owned(),
                resistance: figure(0.0123, "Ω"),
            },
            Override::SeriesResistance {
                part: "cell".to_owned(),
                temperature_k: vec![273.15, 298.15],
                soc: vec![0.1, 0.9],
                ohm: vec![vec![0.05, 0.04], vec![0.03, 0.02]],
                source: "fitted".to_owned(),
            },
            Override::OpenCircuit {
                part: "cell".to_owned(),
                soc: vec![0.0, 0.5, 1.0],
                volts: vec![3.01, 3.71, 4.21],
                linear: true,
                source: "fitted".to_owned(),
            },
        ];
        let new = with_overrides(text, "one\ntwo", &list).unwrap();
        assert!(new.starts_with("# one\n# two\n"));
        for line in text.lines().filter(|l| l.trim_start().starts_with('#')) {
            assert!(new.contains(line), "{line}");
        }
        let (old, prop) = (
            read_build(&Source::new("old", text)).unwrap(),
            read_build(&Source::new("new", new)).unwrap(),
        );
        let column = prop.strips().next().unwrap().1;
        let stated = old.strips().next().unwrap().1;
        let green = &column.pixel.channels[1];
        assert!((green.current.si() - 0.011_234).abs() < 1e-9);
        assert!((green.current.high_si() - 0.013_480_8).abs() < 1e-9);
        assert_eq!(green.off, stated.pixel.channels[1].off);
        assert_eq!(column.pixel.channels[0], stated.pixel.channels[0]);
        assert!((column.pixel.dark.si() - 0.000_777).abs() < 1e-9);
        let cell = prop.cell().unwrap().1;
        assert_eq!((cell.ocv_v.len(), cell.ocv_linear), (3, true));
        assert_eq!(cell.r0.value, vec![vec![0.05, 0.04], vec![0.03, 0.02]]);
        assert!(prop.parts.iter().any(|p| p.name == "joint"
            && matches!(&p.kind, PartKind::Connector { contact, .. } if (contact.resistance.si() - 0.0123).abs() < 1e-9)));
    }
}
