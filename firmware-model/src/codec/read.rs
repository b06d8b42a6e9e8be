//! The parts of a preset, in the order of their fields.

use heapless::Vec;

use crate::color::{Channels, Color};
use crate::cue::CueKind;
use crate::curve::Transfer;
use crate::preset::{
    Blend, Direction, Easing, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Preset, Run,
    Shape, Side, Stop, Stops, Transition, TransitionStyle, Zone,
};
use crate::state::State;
use crate::wire::Reader;

/// Reads a preset field by field, each list item by item: that way no more than one layer is ever on
/// the stack. A struct is its fields in their order, a list its length and its items. After a fault
/// what was read is of no meaning.
pub(super) fn preset(from: &mut Reader<'_>, to: &mut Preset) {
    name(from, &mut to.name);
    to.seed = from.u32();
    to.pixels = from.u16();
    to.channels = channels(from);
    to.white_extraction = from.share();
    to.frame_rate_hz = from.u8();
    to.transfer = from.one_of([Transfer::Linear, Transfer::Lightness], Transfer::Linear);
    to.dither = from.bool();
    to.rise = transition(from);
    to.fall = transition(from);
    to.rise_on = kind(from);
    to.fall_on = kind(from);
    list(from, &mut to.zones, zone);
    list(from, &mut to.layers, layer);
}

/// A list; more items than there is room for are a fault.
fn list<T, const N: usize>(
    from: &mut Reader<'_>,
    to: &mut Vec<T, N>,
    item: fn(&mut Reader<'_>) -> T,
) {
    to.clear();
    from.list(|from| {
        let item = item(from);
        if to.push(item).is_err() {
            from.fail();
        }
    });
}

#[inline(never)]
fn name<const N: usize>(from: &mut Reader<'_>, to: &mut heapless::String<N>) {
    to.clear();
    if to.push_str(from.text()).is_err() {
        from.fail();
    }
}

/// The channels of a pixel.
pub(crate) fn channels(from: &mut Reader<'_>) -> Channels {
    from.one_of([Channels::Rgb, Channels::Rgbw], Channels::Rgb)
}

#[inline(never)]
fn transition(from: &mut Reader<'_>) -> Transition {
    Transition {
        duration_ms: from.u32(),
        style: match from.variant() {
            0 => TransitionStyle::Fade,
            1 => TransitionStyle::Sweep {
                from: origin(from),
                soft: from.length(),
            },
            _ => {
                from.fail();
                TransitionStyle::Fade
            }
        },
        easing: from.one_of([Easing::Linear, Easing::Smooth], Easing::Linear),
    }
}

#[inline(never)]
fn kind(from: &mut Reader<'_>) -> CueKind {
    from.one_of(CueKind::ALL, CueKind::ShortPress)
}

#[inline(never)]
fn zone(from: &mut Reader<'_>) -> Zone {
    let mut zone = Zone {
        name: heapless::String::new(),
        runs: Vec::new(),
    };
    name(from, &mut zone.name);
    list(from, &mut zone.runs, |from| Run {
        start: from.u16(),
        len: from.u16(),
        reversed: from.bool(),
    });
    zone
}

#[inline(never)]
fn layer(from: &mut Reader<'_>) -> Layer {
    Layer {
        zone: from.u8(),
        paint: paint(from),
        mask: mask(from),
        envelope: envelope(from),
        blend: from.one_of(
            [Blend::Over, Blend::Add, Blend::Lighten, Blend::Multiply],
            Blend::Over,
        ),
        opacity: from.share(),
        start: edge(from),
        end: from.option(edge),
        by_strength: from.bool(),
    }
}

#[inline(never)]
fn edge(from: &mut Reader<'_>) -> Edge {
    match from.variant() {
        0 => Edge::Enter(from.one_of(
            [State::Dark, State::Rising, State::Lit, State::Falling],
            State::Dark,
        )),
        1 => Edge::Cue(kind(from)),
        _ => {
            from.fail();
            Edge::Enter(State::Dark)
        }
    }
}

#[inline(never)]
fn color(from: &mut Reader<'_>) -> Color {
    Color {
        r: from.u16(),
        g: from.u16(),
        b: from.u16(),
        w: from.u16(),
    }
}

#[inline(never)]
fn stops(from: &mut Reader<'_>) -> Stops {
    let mut stops = Stops::new();
    list(from, &mut stops, |from| Stop {
        at: from.share(),
        color: color(from),
    });
    stops
}

#[inline(never)]
fn direction(from: &mut Reader<'_>) -> Direction {
    from.one_of(
        [Direction::TowardsEnd, Direction::TowardsStart],
        Direction::TowardsEnd,
    )
}

#[inline(never)]
fn origin(from: &mut Reader<'_>) -> Origin {
    from.one_of([Origin::Start, Origin::End, Origin::Centre], Origin::Start)
}

#[inline(never)]
fn paint(from: &mut Reader<'_>) -> Paint {
    match from.variant() {
        0 => Paint::Solid { color: color(from) },
        1 => Paint::Gradient {
            stops: stops(from),
            scroll_ms: from.u32(),
            direction: direction(from),
        },
        2 => Paint::Wave {
            low: color(from),
            high: color(from),
            wavelength: from.length(),
            period_ms: from.u32(),
            direction: direction(from),
            shape: from.one_of(
                [Shape::Sine, Shape::Triangle, Shape::Square, Shape::Saw],
                Shape::Sine,
            ),
        },
        3 => Paint::Noise {
            stops: stops(from),
            grain: from.length(),
            period_ms: from.u32(),
            octaves: from.u8(),
        },
        4 => Paint::Sparks {
            color: color(from),
            chance_every_ms: from.u32(),
            chance: from.share(),
            decay: from.share(),
        },
        5 => Paint::Embers {
            stops: stops(from),
            patch: from.length(),
            kick_every_ms: from.u32(),
            cooling: from.share(),
            base: from.share(),
            drift: from.i16(),
        },
        6 => Paint::Breathing {
            low: color(from),
            high: color(from),
            period_ms: from.u32(),
        },
        _ => {
            from.fail();
            Paint::Solid {
                color: Color::BLACK,
            }
        }
    }
}

#[inline(never)]
fn mask(from: &mut Reader<'_>) -> Mask {
    match from.variant() {
        0 => Mask::Whole,
        1 => Mask::Span {
            from: from.share(),
            to: from.share(),
            soft: from.length(),
        },
        2 => Mask::Front {
            from: origin(from),
            duration_ms: from.u32(),
            soft: from.length(),
            returning: from.bool(),
        },
        3 => Mask::Taper {
            towards: from.one_of([Side::Start, Side::End], Side::Start),
            length: from.share(),
            power: from.u8(),
        },
        4 => Mask::Spot {
            centre: from.share(),
            radius: from.length(),
            soft: from.length(),
            placement: from.one_of(
                [Placement::Fixed, Placement::Scattered, Placement::ByCue],
                Placement::Fixed,
            ),
        },
        _ => {
            from.fail();
            Mask::Whole
        }
    }
}

#[inline(never)]
fn envelope(from: &mut Reader<'_>) -> Envelope {
    match from.variant() {
        0 => Envelope::Constant,
        1 => Envelope::Adsr {
            attack_ms: from.u32(),
            decay_ms: from.u32(),
            sustain: from.share(),
            release_ms: from.u32(),
        },
        2 => Envelope::OneShot {
            attack_ms: from.u32(),
            hold_ms: from.u32(),
            release_ms: from.u32(),
        },
        3 => Envelope::Periodic {
            period_ms: from.u32(),
            rise: from.share(),
            hold: from.share(),
            fall: from.share(),
        },
        _ => {
            from.fail();
            Envelope::Constant
        }
    }
}
