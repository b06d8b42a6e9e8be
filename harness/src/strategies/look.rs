//! Layers and what they are made of. In each strategy the plainest comes first: it is what shrinking
//! ends at.

use super::cues::cue_kind;
use super::values::{
    color, direction, duration_ms, length, origin, period_ms, share, size, some_share, stops,
};
use super::Ranges;
use lampwright_model::preset::{Blend, Edge, Envelope, Layer, Mask, Paint, Placement, Shape, Side};
use lampwright_model::{Channels, Share, State};
use proptest::prelude::*;
use proptest::sample::select;

/// Any paint.
pub fn paint(channels: Channels, ranges: &Ranges) -> impl Strategy<Value = Paint> {
    let color = || color(channels);
    let stops = || stops(channels, ranges);
    let (duration, period, size) = (
        || duration_ms(ranges),
        || period_ms(ranges),
        || size(ranges),
    );
    let shape = select(&[Shape::Sine, Shape::Triangle, Shape::Square, Shape::Saw][..]);
    prop_oneof![
        2 => color().prop_map(|color| Paint::Solid { color }),
        1 => (color(), color(), period()).prop_map(|(low, high, period_ms)| {
            Paint::Breathing { low, high, period_ms }
        }),
        1 => (stops(), duration(), direction()).prop_map(|(stops, scroll_ms, direction)| {
            Paint::Gradient { stops, scroll_ms, direction }
        }),
        1 => (color(), color(), size(), duration(), direction(), shape).prop_map(
            |(low, high, wavelength, period_ms, direction, shape)| Paint::Wave {
                low, high, wavelength, period_ms, direction, shape,
            }
        ),
        1 => (stops(), size(), duration(), 1..=3u8).prop_map(
            |(stops, grain, period_ms, octaves)| Paint::Noise { stops, grain, period_ms, octaves }
        ),
        1 => (color(), period(), share(), some_share()).prop_map(
            |(color, chance_every_ms, chance, decay)| Paint::Sparks {
                color, chance_every_ms, chance, decay,
            }
        ),
        1 => (stops(), size(), period(), some_share(), share(), any::<i16>()).prop_map(
            |(stops, patch, kick_every_ms, cooling, base, drift)| Paint::Embers {
                stops, patch, kick_every_ms, cooling, base, drift,
            }
        ),
    ]
}

/// Any mask.
pub fn mask(ranges: &Ranges) -> impl Strategy<Value = Mask> {
    let placement = select(&[Placement::Fixed, Placement::Scattered, Placement::ByCue][..]);
    let side = select(&[Side::Start, Side::End][..]);
    let length = || length(ranges);
    prop_oneof![
        2 => Just(Mask::Whole),
        1 => (share(), share(), length()).prop_map(|(a, b, soft)| Mask::Span {
            from: a.min(b), to: a.max(b), soft,
        }),
        1 => (origin(), duration_ms(ranges), length(), any::<bool>()).prop_map(
            |(from, duration_ms, soft, returning)| Mask::Front {
                from, duration_ms, soft, returning,
            }
        ),
        1 => (side, some_share(), 1..=3u8).prop_map(|(towards, length, power)| {
            Mask::Taper { towards, length, power }
        }),
        1 => (share(), length(), length(), placement).prop_map(
            |(centre, radius, soft, placement)| Mask::Spot { centre, radius, soft, placement }
        ),
    ]
}

/// Any envelope.
pub fn envelope(ranges: &Ranges) -> impl Strategy<Value = Envelope> {
    let duration = || duration_ms(ranges);
    prop_oneof![
        2 => Just(Envelope::Constant),
        1 => (duration(), duration(), share(), duration()).prop_map(
            |(attack_ms, decay_ms, sustain, release_ms)| Envelope::Adsr {
                attack_ms, decay_ms, sustain, release_ms,
            }
        ),
        1 => (duration(), duration(), duration()).prop_map(
            |(attack_ms, hold_ms, release_ms)| Envelope::OneShot {
                attack_ms, hold_ms, release_ms,
            }
        ),
        1 => (period_ms(ranges), any::<[u16; 3]>()).prop_map(|(period_ms, mut cuts)| {
            // The three shares together are at most full.
            cuts.sort_unstable();
            let [a, b, c] = cuts;
            Envelope::Periodic {
                period_ms,
                rise: Share(a),
                hold: Share(b - a),
                fall: Share(c - b),
            }
        }),
    ]
}

fn start_edge() -> impl Strategy<Value = Edge> {
    prop_oneof![
        3 => Just(Edge::Enter(State::Rising)),
        2 => select(&[State::Rising, State::Lit, State::Falling][..]).prop_map(Edge::Enter),
        2 => cue_kind().prop_map(Edge::Cue),
    ]
}

fn end_edge() -> impl Strategy<Value = Option<Edge>> {
    prop_oneof![
        2 => Just(None),
        1 => start_edge().prop_map(Some),
        1 => Just(Some(Edge::Enter(State::Dark))),
    ]
}

/// Any layer; its zone is any number, to be brought within those there are.
pub(super) fn layer(channels: Channels, ranges: &Ranges) -> impl Strategy<Value = Layer> {
    let blend = select(&[Blend::Over, Blend::Add, Blend::Lighten, Blend::Multiply][..]);
    let opacity = prop_oneof![2 => Just(Share::FULL), 1 => share()];
    let look = (
        paint(channels, ranges),
        mask(ranges),
        envelope(ranges),
        blend,
        opacity,
    );
    let life = (any::<u8>(), start_edge(), end_edge(), any::<bool>());
    (look, life).prop_map(
        |((paint, mask, envelope, blend, opacity), (zone, start, end, by_strength))| Layer {
            zone,
            paint,
            mask,
            envelope,
            blend,
            opacity,
            start,
            end,
            by_strength,
        },
    )
}
