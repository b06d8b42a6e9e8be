//! The four states of a prop.

use serde::{Deserialize, Serialize};

/// What a prop is doing.
///
/// ```text
/// Dark --rise cue--> Rising --time--> Lit --fall cue--> Falling --time--> Dark
///                       ^--- rise cue / fall cue ---------^
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// Every channel of every pixel is 0.
    #[default]
    Dark,
    /// On its way from dark to lit.
    Rising,
    /// Fully on.
    Lit,
    /// On its way from lit to dark.
    Falling,
}

impl State {
    /// The name used in files and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            State::Dark => "dark",
            State::Rising => "rising",
            State::Lit => "lit",
            State::Falling => "falling",
        }
    }
}

impl core::fmt::Display for State {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.pad(self.name())
    }
}
