//! Cues and cue traces.

use super::Ranges;
use crate::build::cues::{CueTrace, TraceCue};
use lampwright_model::{Angle, Cue, CueKind, Millis, Share};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// Cues with their times in ms from the first one, in order.
pub type Cues = Vec<(u32, Cue)>;

/// Any kind of cue.
pub fn cue_kind() -> impl Strategy<Value = CueKind> {
    select(&CueKind::ALL[..])
}

/// Any cue with any value.
pub fn cue() -> impl Strategy<Value = Cue> {
    (cue_kind(), any::<u16>()).prop_map(|(kind, bits)| kind.with(bits))
}

/// A cue of a kind, at half of its range if it has a value.
#[must_use]
pub fn bare_cue(kind: CueKind) -> Cue {
    match kind {
        CueKind::Twist => Cue::Twist {
            angle: Angle::from_degrees(90),
        },
        kind => kind.with(Share::HALF.0),
    }
}

/// A step of a trace before it is known what the prop rises and falls on.
#[derive(Debug, Clone, Copy)]
pub(super) enum Step {
    Rise,
    Fall,
    Other(Cue),
}

pub(super) fn steps(ranges: &Ranges) -> impl Strategy<Value = Vec<(u32, Step)>> {
    let step = prop_oneof![
        6 => cue().prop_map(Step::Other),
        1 => Just(Step::Rise),
        1 => Just(Step::Fall),
    ];
    vec((0..=ranges.wait_ms, step), 0..=ranges.cues)
}

/// The trace of some steps: a rise at time 0, then each step after its wait.
pub(super) fn trace_of(steps: &[(u32, Step)], rise: Cue, fall: Cue) -> Cues {
    let mut at = 0u32;
    let mut trace = vec![(0, rise)];
    for (wait, step) in steps {
        at = at.saturating_add(*wait);
        let cue = match step {
            Step::Rise => rise,
            Step::Fall => fall,
            Step::Other(cue) => *cue,
        };
        trace.push((at, cue));
    }
    trace
}

/// A cue trace for a prop that goes on and off by these cues: it goes on at time 0; any cues follow,
/// the two more often than chance.
pub fn cue_trace(rise: Cue, fall: Cue, ranges: &Ranges) -> impl Strategy<Value = Cues> {
    steps(ranges).prop_map(move |steps| trace_of(&steps, rise, fall))
}

/// Cues as a trace that a file holds, ending `after_ms` after the last.
#[must_use]
pub fn cue_file(name: &str, cues: &[(u32, Cue)], after_ms: u32) -> CueTrace {
    let cue = |(at, cue): &(u32, Cue)| TraceCue {
        at_ms: u64::from(*at),
        cue: *cue,
    };
    let last = cues.last().map_or(0, |c| u64::from(c.0));
    CueTrace {
        name: name.to_owned(),
        cues: cues.iter().map(cue).collect(),
        end_ms: last + u64::from(after_ms.max(1)),
    }
}

/// Any start of the millisecond counter, often just before it wraps.
pub fn start() -> impl Strategy<Value = Millis> {
    prop_oneof![
        1 => any::<u32>(),
        2 => (0..4000u32).prop_map(|before| u32::MAX - before),
    ]
    .prop_map(Millis)
}
