//! What is said about a table that is not as it should be.

use super::{At, Found, Layer, Table};
use crate::build::diag::{near_miss, InputError, Place, Source};
use std::ops::Range;
use toml::de::DeValue;
use toml::Spanned;

/// From this many names on, a near miss is told without the whole list.
const LONG_LIST: usize = 12;

impl<'a> Table<'a> {
    pub(super) fn wrong(&self, key: &str, found: Found<'a>, expected: &str) {
        let message = format!("`{}` must be {expected}", self.name(key));
        let label = format!("this is {}", type_words(found.value.get_ref()));
        let place = found.place();
        let place = Place {
            span: first_line(&place.source, place.span),
            ..place
        };
        self.sink
            .push(InputError::at(place, message, label).help(self.mend(key, expected)));
    }

    /// How to write what was expected: the example where the expectation ends in one.
    pub(super) fn mend(&self, key: &str, expected: &str) -> String {
        let bare = format!("{key} = ");
        match expected.split_once(" such as ") {
            Some((_, example)) => format!("write {bare}{example}"),
            None => match expected {
                "a text in quotes" => format!("write {bare}\"...\""),
                "true or false" => format!("write {bare}true or {bare}false"),
                "a table" => format!(
                    "write [{}] on a line of its own and its keys below, or {bare}{{ ... }}",
                    self.name(key)
                ),
                "a plain number" => format!("write {bare}1.5"),
                other => format!("write {other}"),
            },
        }
    }

    /// Reports a fault at the value of `key` (or at the table where the key is absent).
    pub fn fault(
        &self,
        key: &str,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        let place = self.find(key).map_or_else(|| self.place(), |f| f.place());
        let place = Place {
            span: first_line(&place.source, place.span),
            ..place
        };
        self.sink
            .push(InputError::at(place, message, label).help(help));
    }

    /// The first of `keys` that stands in the topmost layer: where two values clash, the one that the
    /// builder wrote is the one to point at. The first of all where none does.
    pub fn own_key<'k>(&self, keys: &[&'k str]) -> &'k str {
        let top = self.layers.first();
        let own = keys
            .iter()
            .find(|k| top.is_some_and(|l| l.table.contains_key(**k)));
        own.or(keys.first()).copied().unwrap_or_default()
    }

    /// Reports that a key is needed but absent.
    pub fn missing(&self, key: &str, example: &str) {
        self.missing_with(key, format!("add a line such as: {key} = {example}"));
    }

    /// Reports that a table is needed but absent from the file; `lines` is what to add.
    pub fn missing_table(&self, key: &str, lines: &str) {
        let name = self.name(key);
        let error = InputError::at(
            self.place(),
            format!("the file lacks the table [{name}]"),
            "",
        );
        self.sink
            .push(error.help(format!("add these lines:\n{lines}")));
    }

    fn missing_with(&self, key: &str, help: String) {
        let of = if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("`{}`", self.path)
        };
        let error = InputError::at(self.place(), format!("{of} lacks `{key}`"), "in this table");
        self.sink.push(error.help(help));
    }

    /// Reports every key that nobody asked for. `source`, `condition` and `note` are remarks that any table
    /// may carry.
    pub fn finish(&self) {
        for remark in ["source", "condition", "note"] {
            if self.has(remark) && !self.is_table(remark) && !self.is_list(remark) {
                let _ = self.text(remark);
            }
        }
        for layer in &self.layers {
            for (key, _) in layer.table {
                if !self.seen.borrow().contains(key.get_ref().as_ref()) {
                    self.unknown_key(layer, key);
                }
            }
        }
    }

    fn unknown_key(&self, layer: &Layer<'a>, key: &Spanned<std::borrow::Cow<'a, str>>) {
        let name = key.get_ref().as_ref();
        let place = Place {
            source: layer.source.clone(),
            span: key.span(),
        };
        let of = if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("`{}`", self.path)
        };
        let seen = self.seen.borrow();
        let known: Vec<&str> = seen.iter().map(String::as_str).collect();
        let help = match near_miss(name, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("known keys here: {}", known.join(", ")),
        };
        self.sink.push(
            InputError::at(place, format!("{of} has no key `{name}`"), "unknown key").help(help),
        );
    }
}

/// "unknown name" with the near miss or the whole list.
pub fn unknown_name(text: &At<String>, what: &str, names: &[&str]) -> InputError {
    let help = match near_miss(&text.value, names.iter().copied()) {
        Some(near) if names.len() > LONG_LIST => format!("did you mean \"{near}\"?"),
        Some(near) => format!("did you mean \"{near}\"? Known: {}", names.join(", ")),
        None if names.is_empty() => "there is none to choose from".to_owned(),
        None => format!("use one of: {}", names.join(", ")),
    };
    let message = format!("{what} does not know \"{}\"", text.value);
    InputError::at(text.place.clone(), message, "not a known name").help(help)
}

/// The part of a span before the end of its first line.
pub(super) fn first_line(source: &Source, span: Range<usize>) -> Range<usize> {
    let start = span.start.min(source.text.len());
    let rest = source.text.get(start..span.end.min(source.text.len()));
    let line = rest.unwrap_or_default().lines().next().unwrap_or_default();
    start..start + line.trim_end().len()
}

/// What a value is, in words of the file rather than of the format.
pub(super) fn type_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with a fraction",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// How to mend what the parser found.
pub(super) fn syntax_help(message: &str) -> &'static str {
    if message.contains("duplicate") {
        "a name can be given only once in a table; take one away or rename it"
    } else if message.contains("must be quoted") {
        "put the text in quotes: key = \"text\""
    } else if message.contains("unquoted key") {
        "a name of other than plain letters, digits, - and _ stands in quotes: [parts.\"näme\"]"
    } else if message.contains("unclosed") {
        "close it with the bracket or quote that is named"
    } else if message.contains("recurse") {
        "no file of this kind nests that deep"
    } else {
        "values are written `key = \"text\"`, tables `[name]`, lists of tables `[[name]]`"
    }
}
