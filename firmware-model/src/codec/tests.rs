#![allow(clippy::unwrap_used)]
extern crate std;
use super::*;
use crate::color::{Channels, Color};
use crate::cue::CueKind;
use crate::fixed::{Length, Share};
use crate::preset::{
    Blend, Direction, Edge, Envelope, Layer, Mask, Origin, Paint, Placement, Run, Stop,
};
use std::vec::Vec;

/// Layers that hold every paint, mask, envelope, blend and edge.
fn every_kind() -> Vec<Layer> {
    let color = Color::rgbw(1, 200, 40_000, 65535);
    let stops = [0u16, 300, 65535].map(|at| Stop {
        at: Share(at),
        color,
    });
    let stops = || stops.into_iter().collect();
    let (share, length) = (Share(700), Length(800));
    let paints = [
        Paint::Solid { color },
        Paint::Gradient {
            stops: stops(),
            scroll_ms: 300,
            direction: Direction::TowardsStart,
        },
        Paint::Wave {
            low: color,
            high: color,
            wavelength: length,
            period_ms: 70_000,
            direction: Direction::TowardsEnd,
            shape: crate::preset::Shape::Saw,
        },
        Paint::Noise {
            stops: stops(),
            grain: length,
            period_ms: 1,
            octaves: 3,
        },
        Paint::Sparks {
            color,
            chance_every_ms: 3_000_000,
            chance: share,
            decay: share,
        },
        Paint::Embers {
            stops: stops(),
            patch: length,
            kick_every_ms: 5,
            cooling: share,
            base: share,
            drift: -300,
        },
        Paint::Breathing {
            low: color,
            high: color,
            period_ms: 129,
        },
    ];
    let masks = [
        Mask::Whole,
        Mask::Span {
            from: share,
            to: share,
            soft: length,
        },
        Mask::Front {
            from: Origin::Centre,
            duration_ms: 1000,
            soft: length,
            returning: true,
        },
        Mask::Taper {
            towards: crate::preset::Side::End,
            length: share,
            power: 3,
        },
        Mask::Spot {
            centre: share,
            radius: length,
            soft: length,
            placement: Placement::Scattered,
        },
    ];
    let envelopes = [
        Envelope::Constant,
        Envelope::Adsr {
            attack_ms: 1,
            decay_ms: 200,
            sustain: share,
            release_ms: 40_000,
        },
        Envelope::OneShot {
            attack_ms: 3,
            hold_ms: 128,
            release_ms: 16_384,
        },
        Envelope::Periodic {
            period_ms: 10_000,
            rise: share,
            hold: share,
            fall: share,
        },
    ];
    let blends = [Blend::Over, Blend::Add, Blend::Lighten, Blend::Multiply];
    let edges = [
        Edge::Enter(crate::State::Falling),
        Edge::Cue(CueKind::Twist),
    ];
    let (mut masks, mut envelopes) = (masks.iter().cycle(), envelopes.iter().cycle());
    let (mut blends, mut edges) = (blends.iter().cycle(), edges.iter().cycle());
    let of = |paint| Layer {
        zone: 0,
        paint,
        mask: *masks.next().unwrap(),
        envelope: *envelopes.next().unwrap(),
        blend: *blends.next().unwrap(),
        opacity: share,
        start: *edges.next().unwrap(),
        end: edges.next().copied(),
        by_strength: true,
    };
    paints.into_iter().map(of).collect()
}

fn bytes() -> Vec<u8> {
    let mut buffer = [0; MAX_LEN];
    encode(&Preset::new("lantern", 96, Channels::Rgb), &mut buffer)
        .unwrap()
        .to_vec()
}

/// Gives the bytes the checksum they need.
fn sealed(mut bytes: Vec<u8>) -> Vec<u8> {
    let body = bytes.len() - CRC_LEN;
    let crc = CRC.checksum(&bytes[..body]).to_le_bytes();
    bytes[body..].copy_from_slice(&crc);
    bytes
}

#[test]
fn the_checksum_is_the_standard_one() {
    // The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms
    // (G. Cook); from memory.
    assert_eq!(CRC.checksum(b"123456789"), 0xcbf4_3926);
}

#[test]
fn the_form_starts_and_ends_as_documented() {
    let bytes = bytes();
    assert_eq!(bytes[..5], *b"LWPR\x01");
    // Postcard: the name's length as a varint, then its bytes.
    assert_eq!(bytes[5..13], *b"\x07lantern");
    let (body, crc) = bytes.split_at(bytes.len() - 4);
    assert_eq!(CRC.checksum(body).to_le_bytes(), crc);
}

#[test]
fn every_damage_has_its_own_reason() {
    let good = bytes();
    assert_eq!(decode(&[]), Err(DecodeError::TooShort { found: 0 }));
    assert_eq!(decode(&good[..8]), Err(DecodeError::TooShort { found: 8 }));
    assert_eq!(decode(b"PNG\0....."), Err(DecodeError::NotAPreset));

    let mut newer = good.clone();
    newer[4] = 2;
    let error = DecodeError::Version {
        found: 2,
        supported: VERSION,
    };
    assert_eq!(decode(&newer), Err(error));

    let mut damaged = good.clone();
    damaged[7] ^= 0x20;
    assert!(matches!(decode(&damaged), Err(DecodeError::Crc { .. })));

    let mut longer = good.clone();
    longer.push(0);
    assert_eq!(decode(&sealed(longer)), Err(DecodeError::Body));

    let mut unsound = good.clone();
    // The pixels, after the name and the one byte of seed 0.
    assert_eq!(unsound[14], 96);
    unsound[14] = 0;
    let decoded = decode(&sealed(unsound));
    assert!(matches!(decoded, Err(DecodeError::Invalid(e)) if e.field == "pixels"));
}

/// Holds the reader against postcard's own, with the bytes as they are and damaged in every place.
fn read_as_postcard_does(body: &[u8]) {
    let mut body = body.to_vec();
    let compare = |body: &[u8]| {
        let mut preset = Preset::empty();
        let mut reader = Reader::new(body);
        read::preset(&mut reader, &mut preset);
        let own = reader.finish().map(|rest| (preset, rest));
        assert_eq!(own, postcard::take_from_bytes(body).ok());
        own.is_some()
    };
    assert!(compare(&body));
    let (mut sound, mut unsound) = (0, 0);
    for place in 0..body.len() {
        let kept = body[place];
        for value in [
            0,
            1,
            2,
            3,
            4,
            7,
            9,
            0x7f,
            0x80,
            0xff,
            kept ^ 1,
            kept.wrapping_add(1),
        ] {
            body[place] = value;
            if compare(&body) {
                sound += 1;
            } else {
                unsound += 1;
            }
        }
        body[place] = kept;
        compare(&body[..place]);
    }
    assert!(sound > 50 && unsound > 50, "{sound} {unsound}");
}

#[test]
fn every_kind_of_layer_is_read_as_postcard_reads_it() {
    let mut preset = Preset::new("kinds", 60, Channels::Rgbw);
    preset.layers = every_kind().into_iter().collect();
    let mut buffer = [0; MAX_LEN];
    let len = encode(&preset, &mut buffer).unwrap().len();
    read_as_postcard_does(&buffer[HEAD_LEN..len - CRC_LEN]);
}

#[test]
fn an_unsound_preset_is_not_written() {
    let preset = Preset::new("", 96, Channels::Rgb);
    let mut buffer = [0; MAX_LEN];
    let result = encode(&preset, &mut buffer);
    assert!(matches!(result, Err(EncodeError::Invalid(e)) if e.field == "name"));
}

#[test]
fn too_small_a_buffer_is_an_error_at_every_size() {
    let whole = bytes().len();
    let preset = Preset::new("lantern", 96, Channels::Rgb);
    let mut buffer = [0; MAX_LEN];
    for len in 0..whole {
        let result = encode(&preset, &mut buffer[..len]);
        assert_eq!(result, Err(EncodeError::NoRoom), "{len}");
    }
    assert!(encode(&preset, &mut buffer[..whole]).is_ok());
}

/// The longest preset there is fits: every list full, every number at its longest.
#[test]
fn the_longest_preset_fits() {
    let color = Color::rgbw(65535, 65535, 65535, 65535);
    let stop = Stop {
        at: Share::FULL,
        color,
    };
    let hour = crate::preset::MAX_DURATION_MS;
    let layer = Layer {
        zone: 7,
        paint: Paint::Embers {
            stops: [stop; 8].into_iter().collect(),
            patch: Length(65535),
            kick_every_ms: hour,
            cooling: Share::FULL,
            base: Share::FULL,
            drift: i16::MIN,
        },
        mask: Mask::Spot {
            centre: Share::FULL,
            radius: Length(65535),
            soft: Length(65535),
            placement: Placement::ByCue,
        },
        envelope: Envelope::Adsr {
            attack_ms: hour,
            decay_ms: hour,
            sustain: Share::FULL,
            release_ms: hour,
        },
        blend: Blend::Multiply,
        opacity: Share::FULL,
        start: Edge::Cue(CueKind::Level),
        end: Some(Edge::Cue(CueKind::Level)),
        by_strength: true,
    };
    let mut preset = Preset::new("a name of no less than 32 bytes!", 4095, Channels::Rgbw);
    assert_eq!(preset.name.len(), crate::preset::MAX_NAME);
    preset.seed = u32::MAX;
    preset.frame_rate_hz = 250;
    for transition in [&mut preset.rise, &mut preset.fall] {
        transition.duration_ms = hour;
        transition.style = crate::preset::TransitionStyle::Sweep {
            from: Origin::Centre,
            soft: Length(65535),
        };
    }
    let mut zone = preset.zones[0].clone();
    let run = |start| Run {
        start,
        len: 400,
        reversed: true,
    };
    zone.runs = [2000, 2500, 3000, 3500].map(run).into_iter().collect();
    preset.zones.clear();
    for letter in b'a'..=b'h' {
        let mut zone = zone.clone();
        zone.name.clear();
        for _ in 0..32 {
            zone.name.push(char::from(letter)).unwrap();
        }
        preset.zones.push(zone).unwrap();
    }
    preset.layers = core::iter::repeat_n(layer.clone(), 8).collect();
    let mut buffer = [0; MAX_LEN];
    let longest = encode(&preset, &mut buffer).unwrap().len();
    read_as_postcard_does(&buffer[HEAD_LEN..longest - CRC_LEN]);
    // A layer with the longest mask, a front, and the longest paint after embers.
    for layer in &mut preset.layers {
        layer.mask = Mask::Front {
            from: Origin::Centre,
            duration_ms: hour,
            soft: Length(65535),
            returning: true,
        };
    }
    let mut buffer = [0; MAX_LEN];
    let with_fronts = encode(&preset, &mut buffer).unwrap().len();
    assert!(with_fronts <= longest && longest <= MAX_LEN);
    std::println!("longest preset: {longest} bytes");
    // Gradients and noise are shorter than embers with the same stops.
    let stops = core::iter::repeat_n(stop, 8).collect();
    preset.layers[0].paint = Paint::Gradient {
        stops,
        scroll_ms: hour,
        direction: Direction::TowardsStart,
    };
    assert!(encode(&preset, &mut buffer).unwrap().len() <= with_fronts);
}
