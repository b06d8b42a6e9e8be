//! Where each field of the model came from in the text.

use super::value::Unit;
use crate::build::diag::Place;
use lampwright_model::preset;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// A part of a preset that is read and checked by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Section {
    /// `[preset]`.
    Preset,
    /// `[rise]`.
    Rise,
    /// `[fall]`.
    Fall,
    /// A zone by its index.
    Zone(u8),
    /// A layer by its index, without the three below.
    Layer(u8),
    /// The paint of a layer.
    Paint(u8),
    /// The mask of a layer.
    Mask(u8),
    /// The envelope of a layer.
    Envelope(u8),
}

impl Section {
    /// The section for a place of the model, with paint, mask and envelope of a layer as one.
    pub(super) fn of(place: preset::Place) -> Self {
        match place {
            preset::Place::Preset => Self::Preset,
            preset::Place::Rise => Self::Rise,
            preset::Place::Fall => Self::Fall,
            preset::Place::Zone(i) => Self::Zone(i),
            preset::Place::Layer(i) => Self::Layer(i),
        }
    }
}

/// A field as it stands in the text.
#[derive(Debug, Clone)]
pub(super) struct Written {
    pub section: Section,
    /// The model's name of the field.
    pub field: &'static str,
    /// Which entry of a list; `None` for a field that is no list.
    pub entry: Option<u8>,
    pub place: Place,
    /// The dotted path of the key in the file.
    pub path: String,
    pub unit: Unit,
}

/// A list that grows while it is shared. Behind a lock, so that what holds it can be played on several cores.
#[derive(Debug)]
struct Notes<T>(Mutex<Vec<T>>);

impl<T> Notes<T> {
    fn open(&self) -> MutexGuard<'_, Vec<T>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<T> Default for Notes<T> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<T: Clone> Clone for Notes<T> {
    fn clone(&self) -> Self {
        Self(Mutex::new(self.open().clone()))
    }
}

/// Where things stand in a preset's text, for messages that come later.
#[derive(Debug, Clone, Default)]
pub struct Places {
    written: Notes<Written>,
    whole: Notes<(Section, Place)>,
    tainted: Notes<Section>,
}

impl Places {
    /// Where a section stands.
    pub fn section(&self, section: Section) -> Option<Place> {
        let whole = self.whole.open();
        let hit = |wanted| whole.iter().find(|(s, _)| *s == wanted);
        let layer = match section {
            Section::Paint(i) | Section::Mask(i) | Section::Envelope(i) => Section::Layer(i),
            other => other,
        };
        hit(section).or_else(|| hit(layer)).map(|(_, p)| p.clone())
    }

    pub(super) fn note(&self, written: Written) {
        self.written.open().push(written);
    }

    pub(super) fn note_section(&self, section: Section, place: Place) {
        self.whole.open().push((section, place));
    }

    /// Marks a section as misread: what the model says of it would be a follow-on fault.
    pub(super) fn taint(&self, section: Section) {
        self.tainted.open().push(section);
    }

    pub(super) fn is_tainted(&self, section: Section) -> bool {
        self.tainted.open().contains(&section)
    }

    /// A field, or an entry of it where `entry` is given.
    pub(super) fn find(&self, section: Section, field: &str, entry: Option<u8>) -> Option<Written> {
        let written = self.written.open();
        let same = |w: &&Written| w.section == section && w.field == field;
        let exact = written.iter().find(|w| same(w) && w.entry == entry);
        exact.or_else(|| written.iter().find(same)).cloned()
    }
}
