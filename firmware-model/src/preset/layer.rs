//! Layers: paint, mask, envelope and blend, bound to what starts and ends them.

use serde::{Deserialize, Serialize};

use super::{Mask, Paint};
use crate::cue::CueKind;
use crate::fixed::Share;
use crate::state::State;

/// One layer of light on one zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Layer {
    /// Index of its zone in the preset.
    pub zone: u8,
    /// Its colours.
    pub paint: Paint,
    /// Where in the zone it shows.
    pub mask: Mask,
    /// How its strength goes with time.
    pub envelope: Envelope,
    /// How it joins the layers below.
    pub blend: Blend,
    /// Its strength at the top of the envelope.
    pub opacity: Share,
    /// What starts it. Not [`Edge::Enter`] of [`State::Dark`]: nothing shows in the dark.
    ///
    /// A layer that runs already starts over: its envelope goes on from the level it has reached.
    /// A cue also restarts its paint and mask; entering a state leaves them running, and so does
    /// [`CueKind::Level`], which only brings the new value once the layer runs.
    pub start: Edge,
    /// What ends it: the release of its envelope follows. Without it a layer runs until its
    /// envelope is over or the prop is dark.
    pub end: Option<Edge>,
    /// Whether its strength is scaled by the value of the cue that started it (see
    /// [`Cue::strength`](crate::Cue::strength)).
    pub by_strength: bool,
}

impl Layer {
    /// The plainest layer of a paint: over the whole of the first zone at full strength, from the rise until the dark.
    #[must_use]
    pub fn plain(paint: Paint) -> Self {
        Self {
            zone: 0,
            paint,
            mask: Mask::Whole,
            envelope: Envelope::Constant,
            blend: Blend::Over,
            opacity: Share::FULL,
            start: Edge::Enter(State::Rising),
            end: None,
            by_strength: false,
        }
    }
}

/// What starts or ends a layer.
///
/// A cue that makes the prop rise or fall starts and ends no layers itself, but the state it leads
/// to does. In the dark no cue starts a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Edge {
    /// The prop enters a state.
    Enter(State),
    /// A cue comes.
    Cue(CueKind),
}

/// How the strength of a layer goes with time. Times in ms, each 0..=[`super::MAX_DURATION_MS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Envelope {
    /// Full until the layer ends.
    #[default]
    Constant,
    /// Up to full, down to a level, on until the layer ends, then down to nothing.
    Adsr {
        /// From nothing to full, ms.
        attack_ms: u32,
        /// From full to the sustained level, ms.
        decay_ms: u32,
        /// The sustained level.
        sustain: Share,
        /// From the level reached to nothing after the end, ms.
        release_ms: u32,
    },
    /// Up to full, on for a time, down to nothing; then the layer is over.
    OneShot {
        /// From nothing to full, ms.
        attack_ms: u32,
        /// At full, ms.
        hold_ms: u32,
        /// From full to nothing, ms.
        release_ms: u32,
    },
    /// Again and again: up to full, on, down to nothing, pause. The three shares together are at
    /// most full; what is left is the pause. After the end it goes down to nothing from the level
    /// reached in the time of its fall.
    Periodic {
        /// Length of one round, ms, at least 1.
        period_ms: u32,
        /// Share of the round on the way up.
        rise: Share,
        /// Share of the round at full.
        hold: Share,
        /// Share of the round on the way down.
        fall: Share,
    },
}

/// How a layer joins what lies below, with `a` the value below, `p` the paint and `c` the coverage
/// (mask × envelope × opacity × cue strength), all 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Blend {
    /// Covers: `a·(1 − c) + p·c`.
    #[default]
    Over,
    /// Adds up to full: `min(a + p·c, 1)`.
    Add,
    /// The brighter of both, channel by channel: `max(a, p·c)`.
    Lighten,
    /// Filters: `a · ((1 − c) + p·c)`.
    Multiply,
}
