//! Reading a TOML table key by key, with the place of every value at hand.
//!
//! A [`Table`] may stand on others: a part in a build file stands on its catalogue entry, a variant on
//! the plain build. A key is looked up in the topmost table that has it, and an error names the text the
//! value really came from. Keys that nobody asked for are reported by [`Table::finish`].

mod faults;
mod leaves;
mod lists;
mod values;

pub use faults::unknown_name;
pub use leaves::Leaf;

use super::diag::{InputError, Place, Sink, Source};
use faults::{first_line, syntax_help};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::Range;
use std::rc::Rc;
use toml::de::{DeTable, DeValue};
use toml::Spanned;

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
}

/// The first line of a table's span: a whole table underlined would drown the message.
fn head(layer: &Layer<'_>) -> Range<usize> {
    first_line(layer.source, layer.span.clone())
}
