//! Lists of a table.

use super::faults::type_words;
use super::{At, Found, Item, Layer, Table};
use crate::build::example::example;
use crate::units::Quantity;
use toml::de::DeValue;

impl<'a> Table<'a> {
    /// A list of texts and tables; `expected` is for the message when it is something else.
    pub fn items(&self, key: &str, expected: &str) -> Option<Vec<Item<'a>>> {
        let found = self.find(key)?;
        let Some(list) = found.value.get_ref().as_array() else {
            self.wrong(key, found, expected);
            return None;
        };
        let mut out = Vec::with_capacity(list.len());
        for (i, value) in list.iter().enumerate() {
            let item = Found {
                source: found.source,
                value,
            };
            match value.get_ref() {
                DeValue::String(text) => out.push(Item::Text(At {
                    value: text.to_string(),
                    place: item.place(),
                })),
                DeValue::Table(table) => {
                    let layer = Layer {
                        source: found.source,
                        table,
                        span: value.span(),
                    };
                    out.push(Item::Table(self.child(&format!("{key}[{i}]"), vec![layer])));
                }
                _ => {
                    self.wrong(key, item, expected);
                    return None;
                }
            }
        }
        Some(out)
    }

    /// A list of quantities.
    pub fn quantities<Q: Quantity>(&self, key: &str) -> Option<Vec<Q>> {
        let found = self.find(key)?;
        let Some(list) = found.value.get_ref().as_array() else {
            let expected = format!("a list such as [\"{}\"]", example::<Q>(key));
            self.wrong(key, found, &expected);
            return None;
        };
        let values: Vec<Option<At<Q>>> = list
            .iter()
            .map(|value| {
                self.quantity_in(
                    key,
                    Found {
                        source: found.source,
                        value,
                    },
                )
            })
            .collect();
        values.into_iter().map(|v| v.map(|at| at.value)).collect()
    }

    /// A list of lists of quantities.
    pub fn quantity_rows<Q: Quantity>(&self, key: &str) -> Option<Vec<Vec<Q>>> {
        let found = self.find(key)?;
        let Some(list) = found.value.get_ref().as_array() else {
            self.wrong(
                key,
                found,
                &format!("a list of lists such as [[\"{}\"]]", Q::EXAMPLE),
            );
            return None;
        };
        let mut rows = Vec::with_capacity(list.len());
        for value in list {
            let row = Found {
                source: found.source,
                value,
            };
            let Some(items) = value.get_ref().as_array() else {
                self.wrong(
                    key,
                    row,
                    &format!("a list of lists such as [[\"{}\"]]", Q::EXAMPLE),
                );
                return None;
            };
            let items = items.iter().map(|value| {
                self.quantity_in(
                    key,
                    Found {
                        source: found.source,
                        value,
                    },
                )
            });
            rows.push(
                items
                    .map(|i| i.map(|at| at.value))
                    .collect::<Option<Vec<Q>>>()?,
            );
        }
        Some(rows)
    }

    /// A list of texts.
    pub fn texts(&self, key: &str) -> Option<Vec<At<String>>> {
        let found = self.find(key)?;
        let Some(list) = found.value.get_ref().as_array() else {
            self.wrong(key, found, "a list of texts such as [\"one\", \"two\"]");
            return None;
        };
        let mut out = Vec::with_capacity(list.len());
        for value in list {
            let item = Found {
                source: found.source,
                value,
            };
            match value.get_ref().as_str() {
                Some(text) => out.push(At {
                    value: text.to_owned(),
                    place: item.place(),
                }),
                None => self.wrong(key, item, "a list of texts such as [\"one\", \"two\"]"),
            }
        }
        Some(out)
    }

    /// A list of tables (`[[key]]`) of the topmost layer that has it.
    pub fn tables(&self, key: &str) -> Vec<Table<'a>> {
        let Some(found) = self.find(key) else {
            return Vec::new();
        };
        let Some(list) = found.value.get_ref().as_array() else {
            let name = self.name(key);
            let words = type_words(found.value.get_ref());
            self.fault(
                key,
                format!("`{name}` must be a list of tables"),
                format!("this is {words}"),
                format!("write [[{name}]], with two brackets, above the keys of each entry"),
            );
            return Vec::new();
        };
        let mut out = Vec::with_capacity(list.len());
        for (i, value) in list.iter().enumerate() {
            match value.get_ref() {
                DeValue::Table(table) => {
                    let layer = Layer {
                        source: found.source,
                        table,
                        span: value.span(),
                    };
                    out.push(self.child(&format!("{key}[{i}]"), vec![layer]));
                }
                _ => self.wrong(
                    key,
                    Found {
                        source: found.source,
                        value,
                    },
                    "a list of tables",
                ),
            }
        }
        out
    }
}
