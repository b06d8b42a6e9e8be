//! Single values of a table.

use super::faults::unknown_name;
use super::{At, Found, Table};
use crate::build::diag::InputError;
use crate::build::example::example;
use crate::units::{self, Quantity};
use toml::de::DeValue;

impl<'a> Table<'a> {
    /// A text.
    pub fn text(&self, key: &str) -> Option<At<String>> {
        let found = self.find(key)?;
        let Some(text) = found.value.get_ref().as_str() else {
            self.wrong(key, found, "a text in quotes");
            return None;
        };
        Some(At {
            value: text.to_owned(),
            place: found.place(),
        })
    }

    /// A text where the key holds one; anything else is left for others to judge.
    pub fn text_if_any(&self, key: &str) -> Option<String> {
        let value = self.find(key)?.value.get_ref().as_str()?;
        Some(value.to_owned())
    }

    /// A text, or a number as it is written; `expected` is for the message when it is neither.
    pub fn scalar(&self, key: &str, expected: &str) -> Option<At<String>> {
        let found = self.find(key)?;
        let value = match found.value.get_ref() {
            DeValue::String(text) => text.to_string(),
            DeValue::Integer(i) if i.radix() == 10 => i.as_str().to_owned(),
            DeValue::Float(f) => f.as_str().to_owned(),
            _ => {
                self.wrong(key, found, expected);
                return None;
            }
        };
        Some(At {
            value,
            place: found.place(),
        })
    }

    /// A text that must be there.
    pub fn need_text(&self, key: &str, example: &str) -> Option<At<String>> {
        if !self.has(key) {
            self.missing(key, example);
        }
        self.text(key)
    }

    /// `true` or `false`.
    pub fn flag(&self, key: &str) -> Option<bool> {
        let found = self.find(key)?;
        let value = found.value.get_ref().as_bool();
        if value.is_none() {
            self.wrong(key, found, "true or false");
        }
        value
    }

    /// A whole number in a range.
    pub fn integer(&self, key: &str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        let found = self.find(key)?;
        let expected = format!("a whole number from {} to {}", range.start(), range.end());
        let parsed = found
            .value
            .get_ref()
            .as_integer()
            .and_then(|i| i64::from_str_radix(&i.as_str().replace('_', ""), i.radix()).ok());
        match parsed {
            Some(n) if range.contains(&n) => Some(n),
            Some(n) => {
                let message = format!("`{}` is {n}, but must be {expected}", self.name(key));
                self.sink.push(
                    InputError::at(found.place(), message, "out of range")
                        .help(format!("write {expected}")),
                );
                None
            }
            None => {
                let quoted = found.value.get_ref().as_str().map(|t| t.trim().to_owned());
                match quoted.filter(|t| t.parse().is_ok_and(|n: i64| range.contains(&n))) {
                    Some(n) => self.fault(
                        key,
                        format!("`{}` must be {expected}", self.name(key)),
                        "this is a text",
                        format!("write {key} = {n}, without quotes"),
                    ),
                    None => self.wrong(key, found, &expected),
                }
                None
            }
        }
    }

    /// A plain number (whole or with a fraction), finite.
    pub fn number(&self, key: &str) -> Option<f64> {
        let found = self.find(key)?;
        let value = plain_number(found.value.get_ref());
        if value.is_none() {
            self.wrong(key, found, "a plain number");
        }
        value
    }

    /// A quantity with a unit.
    pub fn quantity<Q: Quantity>(&self, key: &str) -> Option<At<Q>> {
        let found = self.find(key)?;
        self.quantity_in(key, found)
    }

    /// A quantity that must be there.
    pub fn need_quantity<Q: Quantity>(&self, key: &str) -> Option<At<Q>> {
        if !self.has(key) {
            self.missing(key, &format!("\"{}\"", example::<Q>(key)));
        }
        self.quantity(key)
    }

    pub(super) fn quantity_in<Q: Quantity>(&self, key: &str, found: Found<'a>) -> Option<At<Q>> {
        let place = found.place();
        let sample = example::<Q>(key);
        let text = match found.value.get_ref() {
            DeValue::String(text) => text.to_string(),
            DeValue::Integer(i) => i.as_str().to_owned(),
            DeValue::Float(f) => f.as_str().to_owned(),
            _ => {
                let expected = format!("a {} such as \"{sample}\"", Q::WHAT);
                self.wrong(key, found, &expected);
                return None;
            }
        };
        match units::parse::<Q>(&text) {
            Ok(value) => Some(At { value, place }),
            Err(error) => {
                let message = format!("`{}` is not a {}", self.name(key), Q::WHAT);
                let label = error.to_string();
                let help = format!("write {key} = \"{sample}\"");
                self.sink
                    .push(InputError::at(place, message, label).help(help));
                None
            }
        }
    }

    /// One of a set of names.
    pub fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        let text = self.text(key)?;
        let hit = choices.iter().find(|(name, _)| *name == text.value);
        if hit.is_none() {
            let names: Vec<&str> = choices.iter().map(|(n, _)| *n).collect();
            self.sink.push(unknown_name(
                &text,
                &format!("`{}`", self.name(key)),
                &names,
            ));
        }
        hit.map(|(_, value)| *value)
    }
}

fn plain_number(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        DeValue::Integer(i) => {
            i64::from_str_radix(&i.as_str().replace('_', ""), i.radix()).ok()? as f64
        }
        DeValue::Float(f) => f.as_str().replace('_', "").parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}
