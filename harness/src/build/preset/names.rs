//! The names that presets use for the choices of the model, for reading and writing alike.

use lampwright_model::curve::Transfer;
use lampwright_model::preset::{Blend, Direction, Easing, Edge, Origin, Placement, Shape, Side};
use lampwright_model::{CueKind, State};

/// A list of names and what they stand for.
pub(super) type Names<T> = [(&'static str, T)];

pub(super) const TRANSFERS: &Names<Transfer> = &[
    ("lightness", Transfer::Lightness),
    ("linear", Transfer::Linear),
];

pub(super) const EASINGS: &Names<Easing> =
    &[("linear", Easing::Linear), ("smooth", Easing::Smooth)];

pub(super) const ORIGINS: &Names<Origin> = &[
    ("start", Origin::Start),
    ("end", Origin::End),
    ("centre", Origin::Centre),
];

pub(super) const SIDES: &Names<Side> = &[("start", Side::Start), ("end", Side::End)];

pub(super) const DIRECTIONS: &Names<Direction> = &[
    ("towards-end", Direction::TowardsEnd),
    ("towards-start", Direction::TowardsStart),
];

pub(super) const SHAPES: &Names<Shape> = &[
    ("sine", Shape::Sine),
    ("triangle", Shape::Triangle),
    ("square", Shape::Square),
    ("saw", Shape::Saw),
];

pub(super) const PLACEMENTS: &Names<Placement> = &[
    ("fixed", Placement::Fixed),
    ("scattered", Placement::Scattered),
    ("by-cue", Placement::ByCue),
];

pub(super) const BLENDS: &Names<Blend> = &[
    ("over", Blend::Over),
    ("add", Blend::Add),
    ("lighten", Blend::Lighten),
    ("multiply", Blend::Multiply),
];

pub(super) const PAINTS: &[&str] = &[
    "solid",
    "gradient",
    "wave",
    "noise",
    "sparks",
    "embers",
    "breathing",
];

pub(super) const MASKS: &[&str] = &["whole", "span", "front", "taper", "spot"];

pub(super) const ENVELOPES: &[&str] = &["constant", "adsr", "one-shot", "periodic"];

/// Every cue by its name.
pub(super) fn cue_kinds() -> Vec<(&'static str, CueKind)> {
    CueKind::ALL.iter().map(|k| (k.name(), *k)).collect()
}

/// What can start or end a layer, by name: the states, then the cues.
pub(super) fn edges() -> Vec<(&'static str, Edge)> {
    let states = [State::Dark, State::Rising, State::Lit, State::Falling];
    let states = states.iter().map(|s| (s.name(), Edge::Enter(*s)));
    let cues = CueKind::ALL.iter().map(|k| (k.name(), Edge::Cue(*k)));
    states.chain(cues).collect()
}

/// The name of a choice.
pub(super) fn name_of<T: PartialEq>(names: &Names<T>, value: &T) -> &'static str {
    names
        .iter()
        .find(|(_, v)| v == value)
        .map_or("", |(name, _)| name)
}
