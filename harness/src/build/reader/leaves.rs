//! A table flattened for listing.

use super::Table;
use toml::de::DeValue;

/// A value of a table, flattened for listing.
#[derive(Debug, Clone, PartialEq)]
pub struct Leaf {
    /// Dotted key within the table.
    pub key: String,
    /// The value as written.
    pub value: String,
    /// Tolerance or low and high ends as written.
    pub spread: Option<String>,
    /// Condition as written.
    pub condition: Option<String>,
    /// Source as written.
    pub source: Option<String>,
}

impl Table<'_> {
    /// Every value below this table in order of keys; tables with a `value` are one leaf with their
    /// spread, condition and source. The condition and source of a group are those of its values.
    pub fn leaves(&self) -> Vec<Leaf> {
        let mut out = Vec::new();
        for key in self.keys() {
            match self.table(&key) {
                _ if ["condition", "source"].contains(&key.as_str()) => {}
                _ if !self.is_table(&key) => {
                    let value = self
                        .find(&key)
                        .map_or_else(String::new, |f| shown(f.value.get_ref()));
                    out.push(Leaf {
                        condition: self.beside(&key, "condition"),
                        source: self.beside(&key, "source"),
                        key,
                        value,
                        spread: None,
                    });
                }
                Some(inner) if inner.has("value") => {
                    let mut leaf = inner.leaf(key.clone());
                    let beside = |name: &str| self.beside(&key, name);
                    leaf.condition = leaf.condition.or_else(|| beside("condition"));
                    leaf.source = leaf.source.or_else(|| beside("source"));
                    out.push(leaf);
                }
                Some(inner) => {
                    for mut leaf in inner.leaves() {
                        leaf.key = format!("{key}.{}", leaf.key);
                        out.push(leaf);
                    }
                }
                None => {}
            }
        }
        out
    }

    fn leaf(&self, key: String) -> Leaf {
        let text = |k: &str| self.find(k).map(|f| shown(f.value.get_ref()));
        let spread = match (text("tolerance"), text("low"), text("high")) {
            (Some(t), _, _) => Some(format!("±{t}")),
            (None, None, None) => None,
            (None, low, high) => Some(format!(
                "{} to {}",
                low.unwrap_or_default(),
                high.unwrap_or_default()
            )),
        };
        let value = text("value").unwrap_or_default();
        Leaf {
            key,
            value,
            spread,
            condition: text("condition"),
            source: text("source"),
        }
    }
}

/// A value as a person reads it.
fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => text.to_string(),
        DeValue::Integer(i) => i.as_str().to_owned(),
        DeValue::Float(f) => f.as_str().to_owned(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Array(list) => list
            .iter()
            .map(|v| shown(v.get_ref()))
            .collect::<Vec<_>>()
            .join(", "),
        DeValue::Table(_) => "(table)".to_owned(),
        DeValue::Datetime(d) => d.to_string(),
    }
}
