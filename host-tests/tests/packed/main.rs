//! Packed props: back without loss, refused with a reason when anything is wrong with them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

// It is written for a firmware, where its constants are public.
#[allow(unreachable_pub)]
mod constants;
mod damage;

use lampwright::build::diag::Source;
use lampwright::build::pack::{
    read_packed, rust_constants, BoardData, PackedPreset, PackedProp, PackedStrip,
};
use lampwright::build::preset::read_preset;
use lampwright::strategies::{preset, Ranges};
use lampwright_model::pack::{Link, Pack};
use lampwright_model::{Channels, Preset};
use proptest::collection::vec;
use proptest::prelude::*;

/// A small packed prop whose every byte is known.
fn small() -> PackedProp {
    let mut preset = Preset::new("Dusk", 300, Channels::Rgbw);
    preset.seed = 7;
    PackedProp {
        prop: "Made-up lamp".into(),
        cap: 200,
        budget_ua: Some(1_200_000),
        channels: Channels::Rgbw,
        board: BoardData {
            brown_out_mv: Some(3100),
            strips: vec![
                PackedStrip {
                    name: "ring".into(),
                    pixels: 297,
                    order: "GRBW".into(),
                    channel_ua: [12_000, 12_001, 12_002, 18_000],
                    dark_ua: 600,
                    link: Link::OneWire {
                        zero_high_ns: 300,
                        zero_low_ns: 900,
                        one_high_ns: 600,
                        one_low_ns: 600,
                        reset_ns: 80_000,
                    },
                },
                PackedStrip {
                    name: "eyes".into(),
                    pixels: 2,
                    order: "BGR".into(),
                    channel_ua: [10_000, 10_000, 10_000, 0],
                    dark_ua: 1000,
                    link: Link::Clocked {
                        clock_max_hz: 15_000_000,
                    },
                },
                PackedStrip {
                    name: "tell \"tale\"".into(),
                    pixels: 1,
                    order: "RGB".into(),
                    channel_ua: [5000, 5000, 5000, 0],
                    dark_ua: 0,
                    link: Link::Unknown,
                },
            ],
        },
        presets: vec![PackedPreset {
            name: "dusk".into(),
            preset,
            cues: vec!["walk.csv".into()],
        }],
    }
}

/// The bytes of the body, put together by hand after postcard's published wire format: numbers of
/// more than 8 bits as varints (LEB128), texts and byte lists with their length before them, an
/// option and an enum as a number and what follows.
#[test]
fn the_bytes_are_the_documented_ones() {
    let packed = small();
    let bytes = packed.to_bytes().unwrap();
    let mut wanted = b"LWPK\x01".to_vec();
    wanted.extend(b"\x0cMade-up lamp");
    wanted.push(200);
    wanted.extend([1, 0x80, 0x9f, 0x49]); // some, 1 200 000 = 0x49 << 14 | 0x1f << 7 | 0
    wanted.extend([1, 0x9c, 0x18]); // some, 3100 = 0x18 << 7 | 0x1c
    wanted.extend([0xac, 0x02]); // 300 pixels = 2 << 7 | 0x2c
    wanted.push(1); // RGBW
    wanted.extend([3, 1]); // three strips, one preset
    wanted.extend(b"\x04ring\xa9\x02\x04GRBW");
    wanted.extend([0xe0, 0x5d, 0xe1, 0x5d, 0xe2, 0x5d, 0xd0, 0x8c, 0x01]);
    wanted.extend([0xd8, 0x04]); // 600 µA dark
    wanted.extend([
        1, 0xac, 0x02, 0x84, 0x07, 0xd8, 0x04, 0xd8, 0x04, 0x80, 0xf1, 0x04,
    ]);
    assert_eq!(bytes[..wanted.len()], wanted);
    // The end of the last preset, the name of its cue trace, the checksum.
    let (body, crc) = bytes.split_at(bytes.len() - 4);
    assert!(body.ends_with(b"\x08walk.csv"));
    let standard = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
    assert_eq!(standard.checksum(body).to_le_bytes(), crc);
}

#[test]
fn a_board_reads_it_in_place() {
    let packed = small();
    let bytes = packed.to_bytes().unwrap();
    let read = Pack::read(&bytes).unwrap();
    assert_eq!((read.head().cap, read.head().pixels), (200, 300));
    let orders: Vec<Vec<usize>> = read.strips().map(|s| s.sent().collect()).collect();
    assert_eq!(orders, [vec![1, 0, 2, 3], vec![2, 1, 0], vec![0, 1, 2]]);
    assert_eq!(read.preset(0).unwrap(), packed.presets[0].preset);
    let entry = read.presets().next().unwrap();
    assert_eq!(entry.cues().collect::<Vec<_>>(), ["walk.csv"]);
    // Names and presets stay where they are.
    assert!(bytes.as_ptr_range().contains(&entry.preset.as_ptr()));
    assert!(bytes.as_ptr_range().contains(&read.head().prop.as_ptr()));
}

/// `constants.rs` beside this file is what `rust_constants` wrote for [`small`]; that it compiles
/// here, against the model alone, shows that it compiles in a firmware.
#[test]
fn the_rust_constants_say_the_same() {
    let packed = small();
    let bytes = packed.to_bytes().unwrap();
    let source = rust_constants(&packed, &bytes);
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/packed/constants.rs");
    if std::env::var("INSTA_UPDATE").is_ok_and(|v| v == "always") {
        std::fs::write(path, &source).unwrap();
    }
    assert_eq!(source, std::fs::read_to_string(path).unwrap());
    assert_eq!(constants::PACK[..], bytes);
    let read = Pack::read(&constants::PACK).unwrap();
    assert!(read.strips().eq(constants::STRIPS));
    assert_eq!(read.head().cap, constants::CAP);
    assert_eq!(read.head().budget_ua, constants::BUDGET_UA);
    assert_eq!(read.head().brown_out_mv, constants::BROWN_OUT_MV);
    assert_eq!(read.head().pixels, constants::PIXELS);
    assert_eq!(read.head().channels.count(), constants::CHANNELS);
    assert!(read.presets().map(|e| e.name).eq(constants::PRESETS));
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof!["[a-z][a-z0-9-]{0,12}", "\\PC{1,6}"].prop_filter("a file's name", |n| {
        !n.starts_with('.') && !n.contains(['/', '\\'])
    })
}

fn strip(pixels: u16, white: bool) -> impl Strategy<Value = PackedStrip> {
    let letters = if white { "RGBW" } else { "RGB" };
    let order = Just(letters.chars().collect::<Vec<_>>()).prop_shuffle();
    let ua = || 0..=1_000_000u32;
    let link = prop_oneof![
        Just(Link::Unknown),
        any::<u32>().prop_map(|clock_max_hz| Link::Clocked { clock_max_hz }),
        any::<[u32; 5]>().prop_map(|[a, b, c, d, e]| Link::OneWire {
            zero_high_ns: a,
            zero_low_ns: b,
            one_high_ns: c,
            one_low_ns: d,
            reset_ns: e,
        }),
    ];
    (name(), order, [ua(), ua(), ua(), ua()], ua(), link).prop_map(
        move |(name, order, mut channel_ua, dark_ua, link)| {
            if !white {
                channel_ua[3] = 0;
            }
            PackedStrip {
                name,
                pixels,
                order: order.into_iter().collect(),
                channel_ua,
                dark_ua,
                link,
            }
        },
    )
}

/// Strips that share out the pixels of a frame.
fn strips(pixels: u16, channels: Channels) -> impl Strategy<Value = Vec<PackedStrip>> {
    vec((1..=pixels, any::<bool>()), 0..5).prop_flat_map(move |mut cuts| {
        cuts.push((pixels, true));
        cuts.sort_unstable();
        cuts.dedup_by_key(|c| c.0);
        let mut start = 0;
        let mut strips = Vec::new();
        for (i, (end, white)) in cuts.into_iter().enumerate() {
            let one = strip(end - start, white && channels == Channels::Rgbw);
            // No two strips of a prop have one name.
            strips.push(one.prop_map(move |s| PackedStrip {
                name: format!("{}{i}", s.name),
                ..s
            }));
            start = end;
        }
        strips
    })
}

fn packed() -> impl Strategy<Value = PackedProp> {
    preset(&Ranges::whole()).prop_flat_map(|first| {
        let (pixels, channels) = (first.pixels, first.channels);
        let head = (
            name(),
            any::<u8>(),
            any::<Option<u32>>(),
            any::<Option<u16>>(),
        );
        let more = vec((name(), vec(name(), 0..4)), 1..4);
        (head, strips(pixels, channels), more).prop_map(
            move |((prop, cap, budget_ua, brown_out_mv), strips, names)| {
                let mut presets: Vec<PackedPreset> = Vec::new();
                for (name, cues) in names {
                    if presets.iter().all(|p| p.name != name) {
                        let preset = first.clone();
                        presets.push(PackedPreset { name, preset, cues });
                    }
                }
                PackedProp {
                    prop,
                    cap,
                    budget_ua,
                    channels,
                    board: BoardData {
                        brown_out_mv,
                        strips,
                    },
                    presets,
                }
            },
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// What is unpacked is what was packed, and the text it gives reads as the same preset.
    #[test]
    fn nothing_is_lost(packed in packed()) {
        let bytes = packed.to_bytes().unwrap();
        let back = read_packed("made up", &bytes).unwrap();
        prop_assert_eq!(&back, &packed);
        prop_assert_eq!(back.to_bytes().unwrap(), bytes);
        for preset in &back.presets {
            let text = back.preset_text(preset);
            let source = Source::new("made up".to_owned(), text.clone());
            match read_preset(&source, &back.strip_map()) {
                Ok(file) => {
                    prop_assert_eq!(&file.preset, &preset.preset, "{}", text);
                    prop_assert_eq!(&file.cues, &preset.cues);
                }
                Err(faults) => prop_assert!(false, "{faults}\n{text}"),
            }
        }
    }
}
