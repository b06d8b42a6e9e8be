#![allow(clippy::unwrap_used)]
extern crate std;
use super::*;
use crate::color::{Channels, Color};
use crate::cue::CueKind;
use crate::curve::Transfer;
use crate::fixed::{Length, Share};
use crate::preset::{Blend, Easing, Envelope, Layer, Origin, Paint, TransitionStyle};
use std::vec;
use std::vec::Vec;

const PIXELS: u16 = 40;
const START: Millis = Millis(5000);

fn at(ms: u32) -> Millis {
    START.plus(ms)
}

/// A full red layer that shows whenever the prop is not dark.
fn base() -> Layer {
    Layer::plain(Paint::Solid {
        color: Color::rgb(65535, 0, 0),
    })
}

/// A green layer on a knock.
fn on_knock(envelope: Envelope) -> Layer {
    Layer {
        paint: Paint::Solid {
            color: Color::rgb(0, 65535, 0),
        },
        blend: Blend::Add,
        envelope,
        start: Edge::Cue(CueKind::Knock),
        ..base()
    }
}

/// Rise 200 ms, fall 400 ms, linear light.
fn preset(layers: &[Layer]) -> Preset {
    let mut preset = Preset::new("test", PIXELS, Channels::Rgb);
    preset.transfer = Transfer::Linear;
    preset.rise.duration_ms = 200;
    preset.fall.duration_ms = 400;
    preset.layers = layers.iter().cloned().collect();
    preset
}

fn knock(strength: u16) -> Cue {
    Cue::Knock {
        strength: Share(strength),
    }
}

fn frame(engine: &mut Engine<'_>, ms: u32) -> Vec<u8> {
    let mut out = vec![99; engine.preset().frame_len()];
    let state = engine.render(at(ms), &mut out).unwrap();
    if state != State::Dark {
        // As a small core draws it.
        let mut one_by_one = vec![7; out.len()];
        let output = Output::new(engine.preset, engine.cap, engine.awake.elapsed(at(ms)));
        let mut picture = Picture::blank(engine.preset);
        picture.set(&engine.course, &engine.lives, at(ms));
        picture.draw_each(&output, &mut one_by_one);
        assert_eq!(out, one_by_one);
    }
    out
}

/// Red and green of the first pixel.
fn first(engine: &mut Engine<'_>, ms: u32) -> (u8, u8) {
    let out = frame(engine, ms);
    (out[0], out[1])
}

fn lit(preset: &Preset) -> Engine<'_> {
    let mut engine = Engine::new(preset).unwrap();
    engine.cue(at(0), Cue::ShortPress);
    engine
}

#[test]
fn a_prop_goes_through_its_states_in_their_time() {
    let preset = preset(&[base()]);
    let mut engine = Engine::new(&preset).unwrap();
    assert_eq!(frame(&mut engine, 0), vec![0; 120]);
    engine.cue(at(10), Cue::ShortPress);
    assert_eq!(engine.state(), State::Rising);
    assert_eq!(first(&mut engine, 110), (128, 0));
    assert_eq!(engine.advance(at(209)), State::Rising);
    assert_eq!(engine.advance(at(210)), State::Lit);
    assert_eq!(first(&mut engine, 5000), (255, 0));
    engine.cue(at(6000), Cue::ShortPress);
    assert_eq!(engine.advance(at(6000)), State::Falling);
    assert_eq!(first(&mut engine, 6100).0, 191);
    assert_eq!(engine.advance(at(6399)), State::Falling);
    assert_eq!(engine.advance(at(6400)), State::Dark);
    assert_eq!(frame(&mut engine, 6400), vec![0; 120]);
    assert_eq!(engine.active_layers(), LayerSet::default());
}

#[test]
fn a_way_that_turns_round_does_not_jump() {
    let mut preset = preset(&[base()]);
    preset.rise.style = TransitionStyle::Sweep {
        from: Origin::Start,
        soft: Length(0),
    };
    let mut engine = lit(&preset);
    let half = frame(&mut engine, 100);
    assert_eq!(half.iter().filter(|v| **v == 255).count(), 20);
    engine.cue(at(100), Cue::ShortPress);
    assert_eq!(engine.state(), State::Falling);
    assert_eq!(frame(&mut engine, 100), half);
    // Half the way back at the pace of the fall, by the picture of the rise.
    let quarter = frame(&mut engine, 200);
    assert_eq!(quarter.iter().filter(|v| **v == 255).count(), 10);
    engine.cue(at(200), Cue::ShortPress);
    assert_eq!(frame(&mut engine, 200), quarter);
    assert_eq!(engine.advance(at(349)), State::Rising);
    assert_eq!(engine.advance(at(351)), State::Lit);
}

#[test]
fn transitions_of_no_length_are_immediate() {
    let mut preset = preset(&[base()]);
    preset.rise.duration_ms = 0;
    preset.fall.duration_ms = 0;
    preset.rise.easing = Easing::Smooth;
    let mut engine = lit(&preset);
    assert_eq!(engine.state(), State::Lit);
    assert_eq!(first(&mut engine, 0), (255, 0));
    engine.cue(at(1), Cue::ShortPress);
    assert_eq!(engine.state(), State::Dark);
}

#[test]
fn a_one_shot_ends_and_does_not_come_back_when_time_wraps() {
    let shot = Envelope::OneShot {
        attack_ms: 0,
        hold_ms: 100,
        release_ms: 100,
    };
    let preset = preset(&[base(), on_knock(shot)]);
    let mut engine = lit(&preset);
    engine.cue(at(1000), knock(1));
    assert_eq!(first(&mut engine, 1050), (255, 255));
    assert!(engine.active_layers().contains(1));
    assert_eq!(first(&mut engine, 1150), (255, 128));
    assert_eq!(first(&mut engine, 1200), (255, 0));
    assert!(!engine.active_layers().contains(1));
    // 50 days in steps of 9 hours, up to the very count of milliseconds where the knock shone.
    let step = 1 << 25;
    let mut ms = 1050u32;
    for _ in 1..128 {
        ms = ms.wrapping_add(step);
        assert_eq!(engine.advance(at(ms)), State::Lit);
    }
    assert_eq!(ms.wrapping_add(step), 1050);
    assert_eq!(first(&mut engine, 1050), (255, 0));
}

#[test]
fn starting_over_goes_on_from_the_level_reached() {
    let adsr = Envelope::Adsr {
        attack_ms: 1000,
        decay_ms: 0,
        sustain: Share::FULL,
        release_ms: 1000,
    };
    let mut layer = on_knock(adsr);
    layer.end = Some(Edge::Cue(CueKind::Swing));
    let preset = preset(&[base(), layer]);
    let mut engine = lit(&preset);
    engine.cue(at(1000), knock(1));
    assert_eq!(first(&mut engine, 1600).1, 153);
    engine.cue(at(1600), knock(1));
    assert_eq!(first(&mut engine, 1600).1, 153);
    engine.cue(at(1700), Cue::Swing { speed: Share(9) });
    assert_eq!(first(&mut engine, 2200).1, 89);
    engine.cue(at(2200), knock(1));
    assert!(first(&mut engine, 2200).1.abs_diff(89) <= 1);
    assert_eq!(first(&mut engine, 3200).1, 255);
}

#[test]
fn a_layer_with_one_cue_for_both_ends_toggles() {
    let mut layer = on_knock(Envelope::Constant);
    layer.end = Some(Edge::Cue(CueKind::Knock));
    let preset = preset(&[base(), layer]);
    let mut engine = lit(&preset);
    for round in 1..6 {
        engine.cue(at(round * 1000), knock(1));
        let expected = if round % 2 == 1 { 255 } else { 0 };
        assert_eq!(first(&mut engine, round * 1000).1, expected);
    }
}

#[test]
fn strength_scales_and_a_weaker_cue_does_not_dim() {
    let mut layer = on_knock(Envelope::OneShot {
        attack_ms: 0,
        hold_ms: 0,
        release_ms: 1000,
    });
    layer.by_strength = true;
    let preset = preset(&[base(), layer]);
    let mut engine = lit(&preset);
    engine.cue(at(1000), knock(32768));
    assert_eq!(first(&mut engine, 1000).1, 128);
    assert_eq!(first(&mut engine, 1500).1, 64);
    engine.cue(at(1500), knock(1000));
    assert_eq!(first(&mut engine, 1500).1, 64);
    engine.cue(at(1600), knock(65535));
    assert_eq!(first(&mut engine, 1600).1, 255);
}

#[test]
fn a_level_is_followed_while_its_layer_runs() {
    let mut layer = on_knock(Envelope::Constant);
    layer.start = Edge::Cue(CueKind::Level);
    layer.by_strength = true;
    let preset = preset(&[base(), layer]);
    let mut engine = lit(&preset);
    for (ms, value, level) in [(1000, 65535, 255), (1001, 0, 0), (1002, 32768, 128)] {
        engine.cue(
            at(ms),
            Cue::Level {
                value: Share(value),
            },
        );
        assert_eq!(first(&mut engine, ms).1, level);
    }
}

#[test]
fn in_the_dark_only_the_rise_cue_does_anything() {
    let preset = preset(&[base(), on_knock(Envelope::Constant)]);
    let mut engine = Engine::new(&preset).unwrap();
    engine.cue(at(0), knock(65535));
    engine.cue(at(1), Cue::LowCell);
    assert_eq!(engine.advance(at(10)), State::Dark);
    assert_eq!(engine.active_layers(), LayerSet::default());
    assert_eq!(engine.last_cue().unwrap().cue, Cue::LowCell);
}

#[test]
fn separate_cues_for_rise_and_fall_do_not_toggle() {
    let mut preset = preset(&[base()]);
    preset.fall_on = CueKind::LongPress;
    let mut engine = lit(&preset);
    engine.cue(at(1000), Cue::ShortPress);
    assert_eq!(engine.advance(at(1000)), State::Lit);
    engine.cue(at(1000), Cue::LongPress);
    assert_eq!(engine.advance(at(1400)), State::Dark);
}

#[test]
fn a_wrong_buffer_is_refused_and_left_alone() {
    let preset = preset(&[base()]);
    let mut engine = lit(&preset);
    let mut out = [7; 119];
    let error = engine.render(at(500), &mut out).unwrap_err();
    assert_eq!((error.expected, error.found), (120, 119));
    assert_eq!(out, [7; 119]);
}

#[test]
fn an_unsound_preset_is_refused() {
    let mut layer = base();
    layer.zone = 3;
    let unsound = preset(&[base(), layer]);
    let error = Engine::new(&unsound).unwrap_err();
    assert_eq!(
        std::format!("{error}"),
        "layer 1: zone: there is no zone 3, only 1 (counted from 0)"
    );
}

#[test]
fn pixels_outside_every_zone_stay_dark() {
    let mut preset = preset(&[base()]);
    preset.zones[0].runs[0].start = 3;
    preset.zones[0].runs[0].len = 30;
    let mut engine = lit(&preset);
    for (pixel, bytes) in frame(&mut engine, 300).chunks(3).enumerate() {
        let expected = if (3..33).contains(&pixel) { 255 } else { 0 };
        assert_eq!(bytes[0], expected, "{pixel}");
    }
}
