//! Strategies that make sound presets, cues and cue traces for property tests.
//!
//! Every preset made here passes [`Preset::validate`]; sizes and times are kept small enough that
//! all that a preset does can be seen within a few seconds of its time.

use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Blend, Direction, Easing, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Run, Shape,
    Side, Stop, Stops, Transition, TransitionStyle, Zone,
};
use lampwright_model::{
    Angle, Channels, Color, Cue, CueKind, Length, Millis, Preset, Share, State,
};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// Longest duration the strategies make, in ms.
pub const LONGEST_MS: u32 = 1500;
/// Most pixels the strategies make.
pub const MOST_PIXELS: u16 = 70;

/// Any share, its ends more often than chance.
pub fn share() -> impl Strategy<Value = Share> {
    prop_oneof![
        1 => Just(Share::NONE),
        2 => Just(Share::FULL),
        6 => any::<u16>().prop_map(Share),
    ]
}

/// A share that is not zero.
fn some_share() -> impl Strategy<Value = Share> {
    (1..=u16::MAX).prop_map(Share)
}

/// A duration in ms, zero more often than chance.
fn duration() -> impl Strategy<Value = u32> {
    prop_oneof![1 => Just(0), 5 => 0..=LONGEST_MS]
}

/// A size of up to 30 pixels, zero more often than chance.
fn length() -> impl Strategy<Value = Length> {
    prop_oneof![1 => Just(0), 5 => 0..=480u16].prop_map(Length)
}

/// A size from one pixel.
fn size() -> impl Strategy<Value = Length> {
    (16..=1600u16).prop_map(Length)
}

/// A colour for the channels.
fn color(channels: Channels) -> impl Strategy<Value = Color> {
    let level = prop_oneof![1 => Just(0), 1 => Just(u16::MAX), 3 => any::<u16>()];
    [level.clone(), level.clone(), level.clone(), level].prop_map(
        move |[r, g, b, w]| match channels {
            Channels::Rgb => Color::rgb(r, g, b),
            Channels::Rgbw => Color::rgbw(r, g, b, w),
        },
    )
}

fn stops(channels: Channels) -> impl Strategy<Value = Stops> {
    vec((share(), color(channels)), 1..=8).prop_map(|mut list| {
        list.sort_by_key(|stop| stop.0);
        list.into_iter()
            .map(|(at, color)| Stop { at, color })
            .collect()
    })
}

fn direction() -> impl Strategy<Value = Direction> {
    select(&[Direction::TowardsEnd, Direction::TowardsStart][..])
}

fn origin() -> impl Strategy<Value = Origin> {
    select(&[Origin::Start, Origin::End, Origin::Centre][..])
}

/// Any paint.
pub fn paint(channels: Channels) -> impl Strategy<Value = Paint> {
    let color = move || color(channels);
    let stops = move || stops(channels);
    let shape = select(&[Shape::Sine, Shape::Triangle, Shape::Square, Shape::Saw][..]);
    prop_oneof![
        2 => color().prop_map(|color| Paint::Solid { color }),
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
        1 => (color(), 1..=LONGEST_MS, share(), some_share()).prop_map(
            |(color, chance_every_ms, chance, decay)| Paint::Sparks {
                color, chance_every_ms, chance, decay,
            }
        ),
        1 => (stops(), size(), 1..=LONGEST_MS, some_share(), share(), any::<i16>()).prop_map(
            |(stops, patch, kick_every_ms, cooling, base, drift)| Paint::Embers {
                stops, patch, kick_every_ms, cooling, base, drift,
            }
        ),
        1 => (color(), color(), 1..=LONGEST_MS).prop_map(|(low, high, period_ms)| {
            Paint::Breathing { low, high, period_ms }
        }),
    ]
}

/// Any mask.
pub fn mask() -> impl Strategy<Value = Mask> {
    let placement = select(&[Placement::Fixed, Placement::Scattered, Placement::ByCue][..]);
    let side = select(&[Side::Start, Side::End][..]);
    prop_oneof![
        2 => Just(Mask::Whole),
        1 => (share(), share(), length()).prop_map(|(a, b, soft)| Mask::Span {
            from: a.min(b), to: a.max(b), soft,
        }),
        1 => (origin(), duration(), length(), any::<bool>()).prop_map(
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
pub fn envelope() -> impl Strategy<Value = Envelope> {
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
        1 => (1..=LONGEST_MS, any::<[u16; 3]>()).prop_map(|(period_ms, thirds)| {
            let [rise, hold, fall] = thirds.map(|share| Share(share / 3));
            Envelope::Periodic { period_ms, rise, hold, fall }
        }),
    ]
}

/// Any kind of cue.
pub fn cue_kind() -> impl Strategy<Value = CueKind> {
    select(&CueKind::ALL[..])
}

/// Any cue with any value.
pub fn cue() -> impl Strategy<Value = Cue> {
    (cue_kind(), any::<u16>()).prop_map(|(kind, value)| match kind {
        CueKind::ShortPress => Cue::ShortPress,
        CueKind::LongPress => Cue::LongPress,
        CueKind::DoublePress => Cue::DoublePress,
        CueKind::Knock => Cue::Knock {
            strength: Share(value),
        },
        CueKind::Swing => Cue::Swing {
            speed: Share(value),
        },
        CueKind::Twist => Cue::Twist {
            angle: Angle(value as i16),
        },
        CueKind::LowCell => Cue::LowCell,
        CueKind::Level => Cue::Level {
            value: Share(value),
        },
    })
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

/// Any layer for a preset with so many zones.
pub fn layer(channels: Channels, zones: u8) -> impl Strategy<Value = Layer> {
    let blend = select(&[Blend::Over, Blend::Add, Blend::Lighten, Blend::Multiply][..]);
    let opacity = prop_oneof![2 => Just(Share::FULL), 1 => share()];
    let look = (paint(channels), mask(), envelope(), blend, opacity);
    let life = (0..zones, start_edge(), end_edge(), any::<bool>());
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

/// The runs of a zone, up to four, out of so many pixels.
fn runs(pixels: u16) -> impl Strategy<Value = Vec<Run>> {
    // Cut the pixels at random places; the odd pieces, in random order, are the runs.
    let cuts = vec(0..=pixels, 0..8);
    (cuts, any::<[bool; 4]>(), any::<bool>()).prop_map(move |(mut cuts, reversed, backwards)| {
        cuts.extend([0, pixels]);
        cuts.sort_unstable();
        cuts.dedup();
        let mut runs: Vec<Run> = cuts
            .chunks(2)
            .filter_map(|pair| match pair {
                [start, end] => Some(Run {
                    start: *start,
                    len: end - start,
                    reversed: false,
                }),
                _ => None,
            })
            .take(4)
            .collect();
        if backwards {
            runs.reverse();
        }
        for (run, reversed) in runs.iter_mut().zip(reversed) {
            run.reversed = reversed;
        }
        runs
    })
}

fn zones(pixels: u16) -> impl Strategy<Value = heapless::Vec<Zone, 8>> {
    vec(runs(pixels), 1..=4).prop_map(|list| {
        ["staff", "crown", "grip", "tip"]
            .iter()
            .zip(list)
            .map(|(name, runs)| Zone {
                runs: runs.into_iter().collect(),
                ..Zone::whole(name, 1)
            })
            .collect()
    })
}

fn transition() -> impl Strategy<Value = Transition> {
    let style = prop_oneof![
        1 => Just(TransitionStyle::Fade),
        1 => (origin(), length()).prop_map(|(from, soft)| TransitionStyle::Sweep { from, soft }),
    ];
    let easing = select(&[Easing::Linear, Easing::Smooth][..]);
    (duration(), style, easing).prop_map(|(duration_ms, style, easing)| Transition {
        duration_ms,
        style,
        easing,
    })
}

/// Any sound preset of up to [`MOST_PIXELS`] pixels.
pub fn preset() -> impl Strategy<Value = Preset> {
    let channels = select(&[Channels::Rgb, Channels::Rgbw][..]);
    (channels, 1..=MOST_PIXELS).prop_flat_map(|(channels, pixels)| {
        zones(pixels).prop_flat_map(move |zones| {
            let count = zones.len() as u8;
            let look = (
                vec(layer(channels, count), 0..=5),
                select(&[Transfer::Linear, Transfer::Lightness][..]),
                any::<bool>(),
                share(),
                any::<u32>(),
                1..=250u8,
            );
            let switching = (transition(), transition(), cue_kind(), cue_kind());
            (Just(zones), look, switching).prop_map(move |(zones, look, switching)| {
                let (layers, transfer, dither, white_extraction, seed, frame_rate_hz) = look;
                let (rise, fall, rise_on, fall_on) = switching;
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
                    zones,
                    layers: layers.into_iter().collect(),
                    ..Preset::new("made up", pixels, channels)
                }
            })
        })
    })
}

/// A cue trace: cues with the time since the one before, up to 800 ms, the first of them the one
/// that makes the preset rise, at time 0.
pub fn trace(preset: &Preset) -> impl Strategy<Value = Vec<(u32, Cue)>> {
    let rise = bare_cue(preset.rise_on);
    let (rise_again, fall) = (rise, bare_cue(preset.fall_on));
    let any_cue = prop_oneof![
        6 => cue(),
        1 => Just(rise_again),
        1 => Just(fall),
    ];
    vec((0..800u32, any_cue), 0..12).prop_map(move |steps| {
        let mut at = 0;
        let mut trace = vec![(0, rise)];
        for (wait, cue) in steps {
            at += wait;
            trace.push((at, cue));
        }
        trace
    })
}

/// A cue of a kind, at half of its range if it has a value.
#[must_use]
pub fn bare_cue(kind: CueKind) -> Cue {
    match kind {
        CueKind::ShortPress => Cue::ShortPress,
        CueKind::LongPress => Cue::LongPress,
        CueKind::DoublePress => Cue::DoublePress,
        CueKind::Knock => Cue::Knock {
            strength: Share::HALF,
        },
        CueKind::Swing => Cue::Swing { speed: Share::HALF },
        CueKind::Twist => Cue::Twist {
            angle: Angle::from_degrees(90),
        },
        CueKind::LowCell => Cue::LowCell,
        CueKind::Level => Cue::Level { value: Share::HALF },
    }
}

/// A preset with a cue trace for it.
pub fn show() -> impl Strategy<Value = (Preset, Vec<(u32, Cue)>)> {
    preset().prop_flat_map(|preset| {
        let trace = trace(&preset);
        (Just(preset), trace)
    })
}

/// Any start of the millisecond counter, often just before it wraps.
pub fn start() -> impl Strategy<Value = Millis> {
    prop_oneof![
        1 => any::<u32>(),
        2 => (0..4000u32).prop_map(|before| u32::MAX - before),
    ]
    .prop_map(Millis)
}
