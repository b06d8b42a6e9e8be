//! What lies on the desk: the prop as last read without fault, and the faults of the reading after it.

use super::wish::Wish;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::study::digest::Digest;
use crate::study::trace::{digest, Trace};
use crate::study::watch::{watch, StudyError};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::watch as signal;

/// Frames of the digest behind an estimate: few, since a hand that drags a slider waits for them.
const QUICK_FRAMES: usize = 150;

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

/// Reads the files anew, with a variant of the build or as it stands.
pub type Read = dyn Fn(Option<&str>) -> Result<Shown, InputErrors> + Send + Sync;

/// A reading with what was made of it.
pub(super) struct Reading {
    pub(super) shown: Shown,
    /// Digests of the plays at cap 255, made when first asked for.
    digests: Vec<Mutex<Option<Arc<Digest>>>>,
    /// Caps of the plays, made when first asked for.
    pub(super) caps: Vec<Mutex<Option<Arc<serde_json::Value>>>>,
}

impl Reading {
    fn new(shown: Shown) -> Self {
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

#[derive(Default)]
struct State {
    readings: HashMap<Option<String>, Arc<Reading>>,
    faults: Option<InputErrors>,
}

/// The desk.
pub(super) struct Desk {
    read: Box<Read>,
    state: Mutex<State>,
    generation: signal::Sender<u64>,
}

impl Desk {
    /// Reads the prop for the first time.
    pub(super) fn new(read: Box<Read>, variant: Option<&str>) -> Result<Self, InputErrors> {
        let first = Arc::new(Reading::new(read(variant)?));
        let mut state = State::default();
        state.readings.insert(variant.map(str::to_owned), first);
        Ok(Self {
            read,
            state: Mutex::new(state),
            generation: signal::Sender::new(1),
        })
    }

    /// Counts the readings: it rises when a file has changed.
    pub(super) fn generation(&self) -> signal::Receiver<u64> {
        self.generation.subscribe()
    }

    /// The last good reading of a variant.
    pub(super) fn reading(&self, variant: Option<&str>) -> Result<Arc<Reading>, InputErrors> {
        let key = variant.map(str::to_owned);
        if let Some(found) = held(&self.state).readings.get(&key) {
            return Ok(found.clone());
        }
        let made = Arc::new(Reading::new((self.read)(variant)?));
        held(&self.state).readings.insert(key, made.clone());
        Ok(made)
    }

    /// Faults of the last reading, if it had any.
    pub(super) fn faults(&self) -> Option<InputErrors> {
        held(&self.state).faults.clone()
    }

    /// Reads everything again that was read before; what has faults keeps its last good reading.
    pub(super) fn reread(&self) {
        let known: Vec<Option<String>> = held(&self.state).readings.keys().cloned().collect();
        let mut faults: Option<InputErrors> = None;
        for variant in known {
            match (self.read)(variant.as_deref()) {
                Ok(shown) => {
                    let reading = Arc::new(Reading::new(shown));
                    held(&self.state).readings.insert(variant, reading);
                }
                Err(errors) => faults = faults.or(Some(errors)),
            }
        }
        held(&self.state).faults = faults;
        self.generation.send_modify(|n| *n += 1);
    }
}
