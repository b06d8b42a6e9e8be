//! A value that knows its spread, its condition and where it comes from.

use super::example::example;
use super::reader::{At, Table};
use crate::units::{Quantity, Ratio};

/// A value with the range it may take and its provenance.
#[derive(Debug, Clone, PartialEq)]
pub struct Rated<Q> {
    /// Typical or stated value.
    pub nominal: Q,
    /// Lowest value to expect; equal to `nominal` where no spread is known.
    pub low: Q,
    /// Highest value to expect; equal to `nominal` where no spread is known.
    pub high: Q,
    /// Under which condition the value holds.
    pub condition: Option<String>,
    /// Where the value comes from; `None` for one typed into a build file without a source.
    pub source: Option<String>,
}

/// Which end of its spread a value is taken at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Corner {
    /// The lowest value.
    Low,
    /// The stated value.
    #[default]
    Nominal,
    /// The highest value.
    High,
}

impl<Q: Quantity> Rated<Q> {
    /// A value without spread or source.
    pub fn exact(value: Q) -> Self {
        Self {
            nominal: value,
            low: value,
            high: value,
            condition: None,
            source: None,
        }
    }

    /// A value without spread, with its source.
    pub fn sourced(value: Q, source: &str) -> Self {
        Self {
            source: Some(source.to_owned()),
            ..Self::exact(value)
        }
    }

    /// The value at one end of its spread, SI units.
    pub fn at(&self, corner: Corner) -> f64 {
        match corner {
            Corner::Low => self.low.si(),
            Corner::Nominal => self.nominal.si(),
            Corner::High => self.high.si(),
        }
    }

    /// The stated value, SI units.
    pub fn si(&self) -> f64 {
        self.nominal.si()
    }

    /// The lowest value, SI units.
    pub fn low_si(&self) -> f64 {
        self.low.si()
    }

    /// The highest value, SI units.
    pub fn high_si(&self) -> f64 {
        self.high.si()
    }

    /// Whether a spread is stated.
    pub fn has_spread(&self) -> bool {
        self.low.si() < self.high.si()
    }

    /// The source, or words that say there is none.
    pub fn source_or_given(&self) -> &str {
        self.source
            .as_deref()
            .unwrap_or("given in the build file, no source stated")
    }
}

/// Reads `key = "12 mA"` or `key = { value = "12 mA", tolerance = "10 %", low = ..., high = ..., condition = ..., source = ... }`.
/// A condition or source that is not stated here is that of the table around it.
pub fn rated<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Rated<Q>> {
    if !table.is_table(key) {
        let At { value, .. } = table.quantity::<Q>(key)?;
        return Some(Rated {
            condition: table.beside(key, "condition"),
            source: table.beside(key, "source"),
            ..Rated::exact(value)
        });
    }
    let inner = table.whole_table(key)?;
    let nominal = inner.need_quantity::<Q>("value").map(|a| a.value);
    let tolerance = inner.quantity::<Ratio>("tolerance").map(|a| a.value.si());
    if tolerance.is_some_and(|t| t < 0.0) {
        inner.fault(
            "tolerance",
            format!("`{}.tolerance` must not be negative", inner.path()),
            "negative",
            "write the share by which the value may differ either way, such as \"10 %\"",
        );
        return None;
    }
    let low = inner.quantity::<Q>("low").map(|a| a.value);
    let high = inner.quantity::<Q>("high").map(|a| a.value);
    let remark = |name: &str| match inner.text(name) {
        Some(text) => Some(text.value),
        None => table.beside(key, name),
    };
    let (condition, source) = (remark("condition"), remark("source"));
    inner.finish();
    let nominal = nominal?;
    let half = tolerance.unwrap_or(0.0) * (nominal.si() - Q::OFFSET).abs();
    let low = low.unwrap_or_else(|| Q::from_si(nominal.si() - half));
    let high = high.unwrap_or_else(|| Q::from_si(nominal.si() + half));
    if low.si() > nominal.si() || high.si() < nominal.si() {
        inner.fault(
            "value",
            format!(
                "`{}` does not lie between its low and high ends",
                inner.path()
            ),
            "outside its own spread",
            "make low ≤ value ≤ high",
        );
        return None;
    }
    Some(Rated {
        nominal,
        low,
        high,
        condition,
        source,
    })
}

/// As [`rated`], for a value that must be there.
pub fn need_rated<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Rated<Q>> {
    if !table.has(key) {
        table.missing(key, &format!("\"{}\"", example::<Q>(key)));
    }
    rated(table, key)
}

/// As [`need_rated`], and the value must not be negative.
pub fn need_not_negative<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Rated<Q>> {
    not_negative(table, key, need_rated(table, key))
}

/// As [`rated`], and the value must not be negative.
pub fn rated_not_negative<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Rated<Q>> {
    not_negative(table, key, rated(table, key))
}

/// As [`need_rated`], and the value must be above zero.
pub fn need_positive<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Rated<Q>> {
    let value = need_rated::<Q>(table, key)?;
    if value.low.si() > 0.0 {
        return Some(value);
    }
    table.fault(
        key,
        format!("`{}.{key}` must be above zero", table.path()),
        "zero or less",
        format!(
            "write a positive {} such as \"{}\"",
            Q::WHAT,
            example::<Q>(key)
        ),
    );
    None
}

fn not_negative<Q: Quantity>(
    table: &Table<'_>,
    key: &str,
    value: Option<Rated<Q>>,
) -> Option<Rated<Q>> {
    let value = value?;
    if value.low.si() >= 0.0 {
        return Some(value);
    }
    let spread = value.nominal.si() >= 0.0;
    table.fault(
        key,
        format!("`{}.{key}` must not be negative", table.path()),
        if spread {
            "its spread goes below zero"
        } else {
            "negative"
        },
        format!("write zero or more, such as \"{}\"", example::<Q>(key)),
    );
    None
}
