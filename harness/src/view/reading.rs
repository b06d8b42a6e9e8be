//! A prop as it was read, with what was made of it since.

use super::wish::Wish;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::study::digest::Digest;
use crate::study::trace::{digest, Trace};
use crate::study::watch::{watch, StudyError};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Frames of the digest behind an estimate: few, since a hand that drags a slider waits for them.
const QUICK_FRAMES: usize = 120;

/// A prop with all that can be played on it.
pub struct Shown {
    /// The prop.
    pub prop: Prop,
    /// What is played.
    pub plays: Vec<Box<dyn Trace + Send + Sync>>,
    /// The cap that the build or the command line sets.
    pub cap: u8,
    /// Names of the build's variants.
    pub variants: Vec<String>,
}

/// A reading with what was made of it.
pub(super) struct Reading {
    pub(super) shown: Shown,
    /// Digests of the plays at cap 255, made when first asked for.
    digests: Vec<Mutex<Option<Arc<Digest>>>>,
    /// Caps of the plays, made when first asked for.
    pub(super) caps: Vec<Mutex<Option<serde_json::Value>>>,
}

impl Reading {
    pub(super) fn new(shown: Shown) -> Self {
        let plays = shown.plays.len();
        Self {
            digests: (0..plays).map(|_| Mutex::new(None)).collect(),
            caps: (0..plays).map(|_| Mutex::new(None)).collect(),
            shown,
        }
    }

    /// The play of a wish.
    pub(super) fn play(&self, wish: &Wish) -> Result<&(dyn Trace + Send + Sync), InputErrors> {
        let play = self.shown.plays.get(wish.play).map(AsRef::as_ref);
        play.ok_or_else(|| InputError::whole("there is no such preset any more").into())
    }

    /// The digest of a play. Whoever asks while it is being made waits for it.
    pub(super) fn digest(&self, wish: &Wish) -> Result<Arc<Digest>, StudyError> {
        let play = self.play(wish)?;
        let Some(slot) = self.digests.get(wish.play) else {
            return Err(InputErrors::default().into());
        };
        let mut slot = held(slot);
        if let Some(found) = slot.as_ref() {
            return Ok(found.clone());
        }
        let prop = &self.shown.prop;
        let mut stream = play.open(prop, u8::MAX)?;
        let worst = watch(prop, play.preset(), stream.as_mut(), &|_| {})?;
        let made = Arc::new(digest(prop, play, &worst, QUICK_FRAMES)?);
        *slot = Some(made.clone());
        Ok(made)
    }
}

/// A lock, whatever became of the thread that held it before: nothing here is left half done.
pub(super) fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
