//! What lies on the desk: the prop as last read without fault, and the faults of the reading after it.

use super::reading::{held, Reading, Shown};
use crate::build::diag::InputErrors;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use tokio::sync::watch as signal;

/// Reads the files anew, with a variant of the build or as it stands.
pub type Read = dyn Fn(Option<&str>) -> Result<Shown, InputErrors> + Send + Sync;

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
