//! Random presets that the model finds sound.

use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Blend, Direction, Easing, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Preset, Run,
    Shape, Side, Stop, Stops, Transition, TransitionStyle, Zone, MAX_DURATION_MS, MAX_LAYERS,
    MAX_RUNS, MAX_STOPS, MAX_ZONES,
};
use lampwright_model::{Channels, Color, CueKind, Length, Share, State};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

fn share() -> impl Strategy<Value = Share> + Clone {
    prop_oneof![any::<u16>(), select(vec![0u16, 1, 32768, 65534, 65535])].prop_map(Share)
}

fn some_share() -> impl Strategy<Value = Share> {
    (1..=u16::MAX).prop_map(Share)
}

fn length() -> impl Strategy<Value = Length> {
    any::<u16>().prop_map(Length)
}

fn size() -> impl Strategy<Value = Length> {
    (16..=u16::MAX).prop_map(Length)
}

fn time() -> impl Strategy<Value = u32> {
    prop_oneof![
        0..=MAX_DURATION_MS,
        (0..=3600u32).prop_map(|s| s * 1000),
        Just(0),
        Just(MAX_DURATION_MS)
    ]
}

fn period() -> impl Strategy<Value = u32> {
    time().prop_map(|ms| ms.max(1))
}

fn colour(channels: Channels) -> impl Strategy<Value = Color> {
    let white = match channels {
        Channels::Rgb => 0..=0,
        Channels::Rgbw => 0..=u16::MAX,
    };
    (any::<[u16; 3]>(), white, any::<bool>()).prop_map(|([r, g, b], w, grey)| {
        // Pure black, white and primaries are what builders write most.
        let end = |v: u16| if v > 0x7fff { u16::MAX } else { 0 };
        match grey {
            true => Color::rgbw(end(r), end(g), end(b), w),
            false => Color::rgbw(r, g, b, w),
        }
    })
}

fn stops(channels: Channels) -> impl Strategy<Value = Stops> {
    vec((share(), colour(channels)), 1..=MAX_STOPS).prop_map(|mut list| {
        list.sort_by_key(|(at, _)| *at);
        let stops = list.into_iter().map(|(at, color)| Stop { at, color });
        stops.collect()
    })
}

fn direction() -> impl Strategy<Value = Direction> {
    select(vec![Direction::TowardsEnd, Direction::TowardsStart])
}

fn origin() -> impl Strategy<Value = Origin> {
    select(vec![Origin::Start, Origin::End, Origin::Centre])
}

fn paint(c: Channels) -> impl Strategy<Value = Paint> {
    let shape = select(vec![
        Shape::Sine,
        Shape::Triangle,
        Shape::Square,
        Shape::Saw,
    ]);
    prop_oneof![
        colour(c).prop_map(|color| Paint::Solid { color }),
        (stops(c), time(), direction()).prop_map(|(stops, scroll_ms, direction)| {
            Paint::Gradient {
                stops,
                scroll_ms,
                direction,
            }
        }),
        (colour(c), colour(c), size(), time(), direction(), shape).prop_map(
            |(low, high, wavelength, period_ms, direction, shape)| Paint::Wave {
                low,
                high,
                wavelength,
                period_ms,
                direction,
                shape
            }
        ),
        (stops(c), size(), time(), 1..=3u8).prop_map(|(stops, grain, period_ms, octaves)| {
            Paint::Noise {
                stops,
                grain,
                period_ms,
                octaves,
            }
        }),
        (colour(c), period(), share(), some_share()).prop_map(
            |(color, chance_every_ms, chance, decay)| Paint::Sparks {
                color,
                chance_every_ms,
                chance,
                decay
            }
        ),
        (
            stops(c),
            size(),
            period(),
            some_share(),
            share(),
            any::<i16>()
        )
            .prop_map(|(stops, patch, kick_every_ms, cooling, base, drift)| {
                Paint::Embers {
                    stops,
                    patch,
                    kick_every_ms,
                    cooling,
                    base,
                    drift,
                }
            }),
        (colour(c), colour(c), period()).prop_map(|(low, high, period_ms)| Paint::Breathing {
            low,
            high,
            period_ms
        }),
    ]
}

fn mask() -> impl Strategy<Value = Mask> {
    let placement = select(vec![
        Placement::Fixed,
        Placement::Scattered,
        Placement::ByCue,
    ]);
    prop_oneof![
        Just(Mask::Whole),
        (share(), share(), length()).prop_map(|(a, b, soft)| Mask::Span {
            from: a.min(b),
            to: a.max(b),
            soft
        }),
        (origin(), time(), length(), any::<bool>()).prop_map(
            |(from, duration_ms, soft, returning)| Mask::Front {
                from,
                duration_ms,
                soft,
                returning
            }
        ),
        (select(vec![Side::Start, Side::End]), some_share(), 1..=3u8).prop_map(
            |(towards, length, power)| Mask::Taper {
                towards,
                length,
                power
            }
        ),
        (share(), length(), length(), placement).prop_map(|(centre, radius, soft, placement)| {
            Mask::Spot {
                centre,
                radius,
                soft,
                placement,
            }
        }),
    ]
}

fn envelope() -> impl Strategy<Value = Envelope> {
    prop_oneof![
        Just(Envelope::Constant),
        (time(), time(), share(), time()).prop_map(|(attack_ms, decay_ms, sustain, release_ms)| {
            Envelope::Adsr {
                attack_ms,
                decay_ms,
                sustain,
                release_ms,
            }
        }),
        (time(), time(), time()).prop_map(|(attack_ms, hold_ms, release_ms)| Envelope::OneShot {
            attack_ms,
            hold_ms,
            release_ms
        }),
        (period(), any::<[u16; 2]>()).prop_map(|(period_ms, mut cuts)| {
            cuts.sort_unstable();
            let [a, b] = cuts;
            Envelope::Periodic {
                period_ms,
                rise: Share(a),
                hold: Share(b - a),
                fall: Share((u16::MAX - b) / 2),
            }
        }),
    ]
}

fn edge() -> impl Strategy<Value = Edge> {
    let states = [State::Rising, State::Lit, State::Falling].map(Edge::Enter);
    let cues = CueKind::ALL.map(Edge::Cue);
    select([states.as_slice(), cues.as_slice()].concat())
}

fn layer(zones: u8, channels: Channels) -> impl Strategy<Value = Layer> {
    let end = prop_oneof![
        Just(None),
        Just(Some(Edge::Enter(State::Dark))),
        edge().prop_map(Some)
    ];
    let blend = select(vec![
        Blend::Over,
        Blend::Add,
        Blend::Lighten,
        Blend::Multiply,
    ]);
    let look = (paint(channels), mask(), envelope(), blend);
    let bound = (0..zones, share(), edge(), end, any::<bool>());
    (look, bound).prop_map(
        |((paint, mask, envelope, blend), (zone, opacity, start, end, by_strength))| Layer {
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

/// Up to [`MAX_RUNS`] runs that do not overlap, in any order.
fn runs(pixels: u16) -> impl Strategy<Value = Vec<Run>> {
    vec((0..pixels, any::<bool>()), 1..=2 * MAX_RUNS).prop_map(move |cuts| {
        let mut cuts: Vec<(u16, bool)> = cuts;
        cuts.sort_unstable_by_key(|c| c.0);
        cuts.dedup_by_key(|c| c.0);
        let mut runs: Vec<Run> = cuts
            .iter()
            .enumerate()
            .filter(|(i, _)| i % 2 == 0)
            .map(|(i, (start, reversed))| Run {
                start: *start,
                len: cuts.get(i + 1).map_or(pixels, |c| c.0) - start,
                reversed: *reversed,
            })
            .collect();
        if cuts.first().is_some_and(|c| c.1) {
            runs.reverse();
        }
        runs
    })
}

/// Names with whatever a text can hold.
fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z][a-z-]{0,15}",
        "\\PC{1,8}",
        any::<[char; 4]>().prop_map(|c| c.iter().collect()),
        select(vec![
            "\"", "'", "a.b", " ", "\n", "\u{0}", "#", "=", "]", "\\", "é", "1"
        ])
        .prop_map(str::to_owned),
    ]
}

fn zones(pixels: u16) -> impl Strategy<Value = Vec<Zone>> {
    vec((name(), runs(pixels)), 1..=MAX_ZONES).prop_map(|list| {
        let mut zones: Vec<Zone> = Vec::new();
        for (name, runs) in list {
            let mut zone = Zone::whole(&name, 1);
            zone.runs = runs.into_iter().collect();
            if zones.iter().all(|z| z.name != zone.name) {
                zones.push(zone);
            }
        }
        zones
    })
}

fn transition() -> impl Strategy<Value = Transition> {
    let style = prop_oneof![
        Just(TransitionStyle::Fade),
        (origin(), length()).prop_map(|(from, soft)| TransitionStyle::Sweep { from, soft })
    ];
    let easing = select(vec![Easing::Linear, Easing::Smooth]);
    (time(), style, easing).prop_map(|(duration_ms, style, easing)| Transition {
        duration_ms,
        style,
        easing,
    })
}

/// Any preset that the model finds sound.
pub(crate) fn preset() -> impl Strategy<Value = Preset> {
    let channels = select(vec![Channels::Rgb, Channels::Rgbw]);
    (1..=4095u16, channels)
        .prop_flat_map(|(pixels, channels)| (Just(pixels), Just(channels), zones(pixels)))
        .prop_flat_map(|(pixels, channels, zones)| {
            let layers = vec(
                layer(u8::try_from(zones.len()).unwrap(), channels),
                0..=MAX_LAYERS,
            );
            let kinds = || select(CueKind::ALL.to_vec());
            let transfer = select(vec![Transfer::Linear, Transfer::Lightness]);
            let head = (
                name(),
                any::<u32>(),
                share(),
                1..=250u8,
                transfer,
                any::<bool>(),
            );
            let ways = (transition(), transition(), kinds(), kinds());
            (Just((pixels, channels, zones)), layers, head, ways)
        })
        .prop_map(|((pixels, channels, zones), layers, head, ways)| {
            let mut preset = Preset::new(&head.0, pixels, channels);
            preset.seed = head.1;
            preset.white_extraction = head.2;
            preset.frame_rate_hz = head.3;
            preset.transfer = head.4;
            preset.dither = head.5;
            preset.rise = ways.0;
            preset.fall = ways.1;
            preset.rise_on = ways.2;
            preset.fall_on = ways.3;
            preset.zones = zones.into_iter().collect();
            preset.layers = layers.into_iter().collect();
            preset
        })
}
