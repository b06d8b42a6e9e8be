//! Reading a TOML table key by key, with the place of every value at hand.
//!
//! A [`Table`] may stand on others: a part in a build file stands on its catalogue entry, a variant on
//! the plain build. A key is looked up in the topmost table that has it, and an error names the text the
//! value really came from. Keys that nobody asked for are reported by [`Table::finish`].

use super::diag::{near_miss, InputError, Place, Sink, Source};
use super::example::example;
use crate::units::{self, Quantity};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::Range;
use std::rc::Rc;
use toml::de::{DeTable, DeValue};
use toml::Spanned;

/// From this many names on, a near miss is told without the whole list.
const LONG_LIST: usize = 12;

type Raw<'a> = &'a Spanned<DeValue<'a>>;

/// A parsed TOML text with its source.
#[derive(Debug)]
pub struct Document<'a> {
    /// Where the text came from.
    pub source: &'a Source,
    root: Spanned<DeTable<'a>>,
}

impl<'a> Document<'a> {
    /// Parses a text; syntax faults go to `sink` and whatever could be read is kept.
    pub fn parse(source: &'a Source, sink: &Sink) -> Self {
        let (root, errors) = DeTable::parse_recoverable(&source.text);
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            let place = Place {
                source: source.clone(),
                span,
            };
            let message = format!("not well-formed TOML: {}", error.message());
            sink.push(InputError::at(place, message, "here").help(syntax_help(error.message())));
        }
        Self { source, root }
    }

    /// The whole document as a table.
    pub fn table(&'a self, sink: &'a Sink) -> Table<'a> {
        Table {
            layers: vec![Layer {
                source: self.source,
                table: self.root.get_ref(),
                span: self.root.span(),
            }],
            path: String::new(),
            seen: Rc::default(),
            sink,
        }
    }
}

#[derive(Debug, Clone)]
struct Layer<'a> {
    source: &'a Source,
    table: &'a DeTable<'a>,
    span: Range<usize>,
}

/// A value with the text it was found in.
#[derive(Debug, Clone, Copy)]
pub struct Found<'a> {
    source: &'a Source,
    value: Raw<'a>,
}

impl Found<'_> {
    fn place(&self) -> Place {
        Place {
            source: self.source.clone(),
            span: self.value.span(),
        }
    }
}

/// A value that was read, with its place for later messages.
#[derive(Debug, Clone)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub place: Place,
}

/// One entry of a list that holds texts and tables.
#[derive(Debug, Clone)]
pub enum Item<'a> {
    /// A text.
    Text(At<String>),
    /// A table.
    Table(Table<'a>),
}

/// A table being read. See the [module](self).
#[derive(Debug, Clone)]
pub struct Table<'a> {
    layers: Vec<Layer<'a>>,
    path: String,
    seen: Rc<RefCell<BTreeSet<String>>>,
    sink: &'a Sink,
}

impl<'a> Table<'a> {
    /// The same table standing on `base`: keys missing here are looked up there.
    #[must_use]
    pub fn on(mut self, base: &Table<'a>) -> Self {
        self.layers.extend(base.layers.iter().cloned());
        self
    }

    /// What this table stands on, without its topmost layer.
    #[must_use]
    pub fn below(&self) -> Self {
        Self {
            layers: self.layers.get(1..).unwrap_or_default().to_vec(),
            path: self.path.clone(),
            seen: Rc::default(),
            sink: self.sink,
        }
    }

    /// The sink that faults go to.
    pub fn sink(&self) -> &'a Sink {
        self.sink
    }

    /// The place of the table itself, for faults of the whole.
    pub fn place(&self) -> Place {
        match self.layers.first() {
            Some(layer) => Place {
                source: layer.source.clone(),
                span: head(layer),
            },
            None => Place {
                source: Source::new("", ""),
                span: 0..0,
            },
        }
    }

    /// The dotted path of this table from the root.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Every key present in any layer, in text order of the topmost first.
    pub fn keys(&self) -> Vec<String> {
        let mut keys: Vec<(usize, usize, String)> = Vec::new();
        for (depth, layer) in self.layers.iter().enumerate() {
            for (key, _) in layer.table {
                if !keys.iter().any(|(_, _, k)| k == key.get_ref().as_ref()) {
                    keys.push((depth, key.span().start, key.get_ref().to_string()));
                }
            }
        }
        keys.sort_by_key(|(depth, start, _)| (*depth, *start));
        keys.into_iter().map(|(_, _, key)| key).collect()
    }

    /// Whether the key is present in any layer.
    pub fn has(&self, key: &str) -> bool {
        self.layers.iter().any(|l| l.table.contains_key(key))
    }

    fn find(&self, key: &str) -> Option<Found<'a>> {
        self.seen.borrow_mut().insert(key.to_owned());
        self.layers.iter().find_map(|l| {
            let value = l.table.get(key)?;
            Some(Found {
                source: l.source,
                value,
            })
        })
    }

    /// Full path of a key, for messages.
    fn name(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    fn wrong(&self, key: &str, found: Found<'a>, expected: &str) {
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
    fn mend(&self, key: &str, expected: &str) -> String {
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

    fn quantity_in<Q: Quantity>(&self, key: &str, found: Found<'a>) -> Option<At<Q>> {
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

    /// A table within this one, standing on the same table of every lower layer.
    pub fn table(&self, key: &str) -> Option<Table<'a>> {
        let mut layers = Vec::new();
        for layer in &self.layers {
            let Some(value) = layer.table.get(key) else {
                continue;
            };
            match value.get_ref() {
                DeValue::Table(table) => layers.push(Layer {
                    source: layer.source,
                    table,
                    span: value.span(),
                }),
                _ if layers.is_empty() => {
                    self.seen.borrow_mut().insert(key.to_owned());
                    self.wrong(
                        key,
                        Found {
                            source: layer.source,
                            value,
                        },
                        "a table",
                    );
                    return None;
                }
                _ => break,
            }
        }
        self.seen.borrow_mut().insert(key.to_owned());
        (!layers.is_empty()).then(|| self.child(key, layers))
    }

    /// The table of the topmost layer that has `key`, standing on nothing: a quantity with its spread and
    /// source is one thing, and is replaced whole.
    pub fn whole_table(&self, key: &str) -> Option<Table<'a>> {
        let mut table = self.table(key)?;
        table.layers.truncate(1);
        Some(table)
    }

    /// A text such as `source` that stands in the same layer as `key` and so holds for it too.
    pub fn beside(&self, key: &str, text: &str) -> Option<String> {
        let layer = self.layers.iter().find(|l| l.table.contains_key(key))?;
        let value = layer.table.get(text)?.get_ref().as_str()?;
        Some(value.to_owned())
    }

    /// Whether `key` holds a table in the topmost layer that has it.
    pub fn is_table(&self, key: &str) -> bool {
        let value = self.layers.iter().find_map(|l| l.table.get(key));
        value.is_some_and(|v| v.get_ref().is_table())
    }

    /// Whether `key` holds a list in the topmost layer that has it.
    pub fn is_list(&self, key: &str) -> bool {
        let value = self.layers.iter().find_map(|l| l.table.get(key));
        value.is_some_and(|v| v.get_ref().is_array())
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

    fn child(&self, key: &str, layers: Vec<Layer<'a>>) -> Table<'a> {
        Table {
            layers,
            path: self.name(key),
            seen: Rc::default(),
            sink: self.sink,
        }
    }

    /// The same table under another path in messages: an entry of a list by its name.
    #[must_use]
    pub fn called(mut self, path: String) -> Self {
        self.path = path;
        self
    }

    /// The place of a key's value, where present.
    pub fn place_of(&self, key: &str) -> Option<Place> {
        self.find(key).map(|f| f.place())
    }

    /// Reports every key that nobody asked for. `source`, `condition` and `note` are remarks that any table
    /// may carry.
    pub fn finish(&self) {
        for remark in ["source", "condition", "note"] {
            if self.has(remark) {
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
    /// spread, condition and source.
    pub fn leaves(&self) -> Vec<Leaf> {
        let mut out = Vec::new();
        for key in self.keys() {
            match self.table(&key) {
                _ if !self.is_table(&key) => {
                    let value = self
                        .find(&key)
                        .map_or_else(String::new, |f| shown(f.value.get_ref()));
                    out.push(Leaf {
                        key,
                        value,
                        spread: None,
                        condition: None,
                        source: None,
                    });
                }
                Some(inner) if inner.has("value") => out.push(inner.leaf(key)),
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

/// The first line of a table's span: a whole table underlined would drown the message.
fn head(layer: &Layer<'_>) -> Range<usize> {
    first_line(layer.source, layer.span.clone())
}

fn first_line(source: &Source, span: Range<usize>) -> Range<usize> {
    let start = span.start.min(source.text.len());
    let rest = source.text.get(start..span.end.min(source.text.len()));
    let line = rest.unwrap_or_default().lines().next().unwrap_or_default();
    start..start + line.trim_end().len()
}

/// What a value is, in words of the file rather than of the format.
fn type_words(value: &DeValue<'_>) -> &'static str {
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
fn syntax_help(message: &str) -> &'static str {
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
