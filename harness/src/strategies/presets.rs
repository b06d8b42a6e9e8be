//! Whole presets that the model finds sound.
//!
//! A preset is drawn in one go, its zones as shares of a frame and its layers with any zone number,
//! and then brought within its pixels and zones: that way every part of it shrinks by itself.

use super::cues::cue_kind;
use super::look::layer;
use super::values::{duration_ms, length, name, origin, share};
use super::Ranges;
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Easing, Layer, Preset, Run, Transition, TransitionStyle, Zone, MAX_LAYERS, MAX_PIXELS,
    MAX_RUNS, MAX_ZONES,
};
use lampwright_model::Channels;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::Union;

/// Any preset within the ranges.
pub fn preset(ranges: &Ranges) -> impl Strategy<Value = Preset> {
    let mut of = vec![of_channels(Channels::Rgb, ranges).boxed()];
    if ranges.white {
        of.push(of_channels(Channels::Rgbw, ranges).boxed());
    }
    Union::new(of)
}

fn of_channels(channels: Channels, ranges: &Ranges) -> impl Strategy<Value = Preset> {
    let layers = vec(layer(channels, ranges), 0..=ranges.layers.min(MAX_LAYERS));
    let head = (
        1..=ranges.pixels.clamp(1, MAX_PIXELS),
        name(ranges.odd_names),
        any::<u32>(),
        share(),
        1..=250u8,
        select(&[Transfer::Linear, Transfer::Lightness][..]),
        any::<bool>(),
    );
    let ways = (
        transition(ranges),
        transition(ranges),
        cue_kind(),
        cue_kind(),
    );
    (head, zones(ranges), layers, ways).prop_map(
        move |(
            (pixels, name, seed, white_extraction, frame_rate_hz, transfer, dither),
            zones,
            layers,
            (rise, fall, rise_on, fall_on),
        )| {
            let zones = placed(&zones, pixels);
            Preset {
                seed,
                white_extraction,
                frame_rate_hz,
                transfer,
                dither,
                rise,
                fall,
                rise_on,
                fall_on,
                layers: within(layers, zones.len()).collect(),
                zones: zones.into_iter().collect(),
                ..Preset::new(&name, pixels, channels)
            }
        },
    )
}

/// Layers with their zones brought within `zones` of them.
fn within(layers: Vec<Layer>, zones: usize) -> impl Iterator<Item = Layer> {
    let zones = u8::try_from(zones).unwrap_or(u8::MAX).max(1);
    layers.into_iter().map(move |layer| Layer {
        zone: layer.zone % zones,
        ..layer
    })
}

/// A zone before the pixels are known.
#[derive(Debug, Clone)]
struct RawZone {
    name: String,
    /// Where to cut the frame, as shares of 65536; the odd pieces are the runs.
    cuts: Vec<u16>,
    reversed: [bool; MAX_RUNS],
    backwards: bool,
}

fn zones(ranges: &Ranges) -> impl Strategy<Value = Vec<RawZone>> {
    let most_cuts = 2 * ranges.runs.clamp(1, MAX_RUNS) - 1;
    let cuts = vec(any::<u16>(), 0..=most_cuts);
    let zone = (
        name(ranges.odd_names),
        cuts,
        any::<[bool; MAX_RUNS]>(),
        any::<bool>(),
    );
    let zone = zone.prop_map(|(name, cuts, reversed, backwards)| RawZone {
        name,
        cuts,
        reversed,
        backwards,
    });
    vec(zone, 1..=ranges.zones.clamp(1, MAX_ZONES))
}

/// The zones on so many pixels; of two with one name the first.
fn placed(raw: &[RawZone], pixels: u16) -> Vec<Zone> {
    let mut zones: Vec<Zone> = Vec::new();
    for raw in raw {
        let mut zone = Zone::whole(&raw.name, pixels);
        if zones.iter().any(|z| z.name == zone.name) {
            continue;
        }
        zone.runs = runs(raw, pixels).into_iter().collect();
        zones.push(zone);
    }
    zones
}

fn runs(raw: &RawZone, pixels: u16) -> Vec<Run> {
    let at = |cut: &u16| ((u32::from(*cut) * u32::from(pixels)) >> 16) as u16;
    let mut cuts: Vec<u16> = raw.cuts.iter().map(at).collect();
    // Without cuts the whole frame.
    if cuts.len().is_multiple_of(2) {
        cuts.push(0);
    }
    cuts.push(pixels);
    cuts.sort_unstable();
    cuts.dedup();
    let pairs = cuts.chunks_exact(2).zip(raw.reversed);
    let mut runs: Vec<Run> = pairs
        .filter_map(|(pair, reversed)| match pair {
            [start, end] => Some(Run {
                start: *start,
                len: end - start,
                reversed,
            }),
            _ => None,
        })
        .collect();
    if raw.backwards {
        runs.reverse();
    }
    runs
}

fn transition(ranges: &Ranges) -> impl Strategy<Value = Transition> {
    let style = prop_oneof![
        Just(TransitionStyle::Fade),
        (origin(), length(ranges)).prop_map(|(from, soft)| TransitionStyle::Sweep { from, soft }),
    ];
    let easing = select(&[Easing::Linear, Easing::Smooth][..]);
    (duration_ms(ranges), style, easing).prop_map(|(duration_ms, style, easing)| Transition {
        duration_ms,
        style,
        easing,
    })
}
