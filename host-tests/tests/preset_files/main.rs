//! Presets as text: what is read, what is refused and where, and that nothing is lost.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod faults;
#[path = "../support/mod.rs"]
mod support;

use lampwright::build::diag::Source;
use lampwright::build::preset::{read_preset, write_preset, PresetFile, Section, StripMap};
use lampwright::strategies::{preset, Ranges};
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{
    Blend, Edge, Envelope, Mask, Origin, Paint, Placement, Preset, Run, TransitionStyle,
};
use lampwright_model::{Channels, Color, CueKind, Length, Share, State};
use proptest::prelude::*;
use support::{assert_fault, difference, shown};

fn staff() -> StripMap {
    StripMap::new(
        [("column", 96), ("collar", 12), ("status", 1)],
        Channels::Rgb,
    )
}

fn torch() -> StripMap {
    StripMap::new([("grip", 8), ("flame", 120)], Channels::Rgbw)
}

fn read(text: &str, layout: &StripMap) -> Result<PresetFile, Vec<String>> {
    read_preset(&Source::new("test.toml", text), layout).map_err(|e| shown(&e))
}

/// A preset that uses every key once.
const WHOLE: &str = r##"[preset]
name = "Test Lantern"
seed = 99
frame-rate = "50 Hz"
transfer = "linear"
dither = true
white-share = "50 %"
cues = ["walk.csv", "rain.csv"]
note = "for the tests"

[rise]
time = "900 ms"
style = "sweep"
from = "end"
edge = "4 px"
easing = "smooth"

[fall]
time = "1.5 s"

[controls]
rise-on = "double-press"
fall-on = "long-press"

[zones]
column = ["column"]
tip = [{ strip = "column", from = 88, to = 95, reversed = true }]
ring = [{ start = 96, length = 6 }, { strip = "collar", from = 8 }]

[[layers]]
zone = "column"
blend = "add"
opacity = "80 %"
start = "knock"
end = "lit"
by-strength = true
[layers.paint]
kind = "gradient"
stops = [
  { at = "0 %", colour = "#000000" },
  { at = 0.5, colour = { red = "100 %", green = "1/65535" } },
]
scroll = "2 min"
direction = "towards-start"
[layers.mask]
kind = "front"
from = "centre"
time = "400 ms"
soft = "2.5 px"
returning = true
[layers.envelope]
kind = "adsr"
attack = "10 ms"
decay = "20 ms"
sustain = "40 %"
release = "1 s"

[[layers]]
zone = "ring"
[layers.paint]
kind = "solid"
colour = "#ffffff"
[layers.mask]
kind = "spot"
radius = "25 %"
placement = "by-cue"
"##;

#[test]
fn every_key_arrives_in_its_field() {
    let file = read(WHOLE, &staff()).unwrap();
    let p = &file.preset;
    assert_eq!(
        (p.name.as_str(), p.seed, p.frame_rate_hz),
        ("Test Lantern", 99, 50)
    );
    assert_eq!((p.pixels, p.channels), (109, Channels::Rgb));
    assert_eq!((p.transfer, p.dither), (Transfer::Linear, true));
    assert_eq!(p.white_extraction, Share(32768));
    assert_eq!(file.cues, ["walk.csv", "rain.csv"]);
    assert_eq!(p.rise.duration_ms, 900);
    let soft = Length(64);
    let from = Origin::End;
    assert_eq!(p.rise.style, TransitionStyle::Sweep { from, soft });
    assert_eq!(p.fall.duration_ms, 1500);
    assert_eq!(p.fall.style, TransitionStyle::Fade);
    assert_eq!(
        (p.rise_on, p.fall_on),
        (CueKind::DoublePress, CueKind::LongPress)
    );

    let run = |start, len, reversed| Run {
        start,
        len,
        reversed,
    };
    let runs: Vec<&[Run]> = p.zones.iter().map(|z| z.runs.as_slice()).collect();
    let wanted: [&[Run]; 3] = [
        &[run(0, 96, false)],
        &[run(88, 8, true)],
        // The collar starts at pixel 96: its pixels 8 to 11 are 104 to 107.
        &[run(96, 6, false), run(104, 4, false)],
    ];
    assert_eq!(runs, wanted);

    let first = &p.layers[0];
    assert_eq!(
        (first.zone, first.blend, first.opacity),
        (0, Blend::Add, Share(52428))
    );
    assert_eq!(first.start, Edge::Cue(CueKind::Knock));
    assert_eq!(first.end, Some(Edge::Enter(State::Lit)));
    assert!(first.by_strength);
    let Paint::Gradient {
        stops, scroll_ms, ..
    } = &first.paint
    else {
        panic!("{:?}", first.paint)
    };
    assert_eq!(
        (stops[1].at, stops[1].color),
        (Share(32768), Color::rgb(65535, 1, 0))
    );
    assert_eq!(*scroll_ms, 120_000);
    let duration_ms = 400;
    let soft = Length(40);
    let from = Origin::Centre;
    assert_eq!(
        first.mask,
        Mask::Front {
            from,
            duration_ms,
            soft,
            returning: true
        }
    );
    let sustain = Share(26214);
    let envelope = Envelope::Adsr {
        attack_ms: 10,
        decay_ms: 20,
        sustain,
        release_ms: 1000,
    };
    assert_eq!(first.envelope, envelope);

    // Defaults, and a size as a share of its zone: a quarter of 10 pixels.
    let second = &p.layers[1];
    assert_eq!(
        (second.zone, second.blend, second.opacity),
        (2, Blend::Over, Share::FULL)
    );
    assert_eq!(
        (second.start, second.end),
        (Edge::Enter(State::Rising), None)
    );
    assert_eq!(second.envelope, Envelope::Constant);
    let (centre, placement) = (Share::HALF, Placement::ByCue);
    let mask = Mask::Spot {
        centre,
        radius: Length(40),
        soft: Length(0),
        placement,
    };
    assert_eq!(second.mask, mask);
}

#[test]
fn what_is_left_out_has_the_defaults_of_the_model() {
    let text = "preset.name = \"A\"\nzones.all = [{ start = 0, length = 109 }]\n";
    let file = read(text, &staff()).unwrap();
    let mut wanted = Preset::new("A", 109, Channels::Rgb);
    wanted.zones[0].name = file.preset.zones[0].name.clone();
    assert_eq!(file.preset, wanted);
    assert!(file.cues.is_empty());
}

#[test]
fn hex_is_srgb_light_whatever_the_transfer() {
    // IEC 61966-2-1: 50 % sRGB (0x80) is 21.586 % of the light. ISO/CIE 11664-4: that light has
    // L* = 53.585 (both from memory, and worked out anew here).
    let light: f64 = ((128.0 / 255.0 + 0.055) / 1.055_f64).powf(2.4);
    let lightness = (116.0 * light.cbrt() - 16.0) / 100.0;
    assert!((light - 0.215_86).abs() < 1e-5 && (lightness - 0.535_85).abs() < 1e-5);
    for (transfer, share) in [("linear", light), ("lightness", lightness)] {
        let text = format!(
            "preset = {{ name = \"A\", transfer = \"{transfer}\" }}\nzones.c = [\"column\"]\n[[layers]]\nzone = \"c\"\npaint = {{ kind = \"solid\", colour = \"#800000\" }}\n"
        );
        let file = read(&text, &staff()).unwrap();
        let wanted = (share * 65535.0).round() as u16;
        let color = Color::rgb(wanted, 0, 0);
        assert_eq!(file.preset.layers[0].paint, Paint::Solid { color });
    }
}

#[test]
fn white_is_read_for_pixels_that_have_it() {
    let text = "preset.name = \"A\"\nzones.f = [\"flame\"]\n[[layers]]\nzone = \"f\"\npaint = { kind = \"solid\", colour = { rgb = \"#ff0000\", white = \"100 %\" } }\n";
    let file = read(text, &torch()).unwrap();
    let color = Color::rgbw(65535, 0, 0, 65535);
    assert_eq!(file.preset.layers[0].paint, Paint::Solid { color });
    assert_eq!(
        file.preset.zones[0].runs[0],
        Run {
            start: 8,
            len: 120,
            reversed: false
        }
    );
}

#[test]
fn places_are_kept_for_later_messages() {
    let file = read(WHOLE, &staff()).unwrap();
    let line = |section| {
        let place = file.places.section(section).unwrap();
        place.source.line_column(place.span.start).0
    };
    let nth = |needle: &str, n: usize| {
        let hits = WHOLE
            .lines()
            .enumerate()
            .filter(|(_, l)| l.starts_with(needle));
        hits.map(|(i, _)| i + 1).nth(n).unwrap()
    };
    assert_eq!(line(Section::Rise), nth("[rise]", 0));
    assert_eq!(line(Section::Zone(1)), nth("tip", 0));
    assert_eq!(line(Section::Layer(1)), nth("[[layers]]", 1));
    assert_eq!(line(Section::Mask(1)), nth("[layers.mask]", 1));
    // A part that does not stand in the file is said at its layer.
    assert_eq!(line(Section::Envelope(1)), nth("[[layers]]", 1));
    let cue = &file.cue_places[1];
    assert_eq!(cue.source.line_column(cue.span.start), (nth("cues", 0), 21));
}

#[test]
fn the_written_form_is_pleasant_to_read() {
    let file = read(WHOLE, &staff()).unwrap();
    let text = write_preset(&file.preset, &staff(), &file.cues);
    for line in [
        "frame-rate = \"50 Hz\"",
        "white-share = \"50 %\"",
        "cues = [\"walk.csv\", \"rain.csv\"]",
        "time = \"1500 ms\"",
        "column = [\"column\"]",
        "tip = [{ strip = \"column\", from = 88, to = 95, reversed = true }]",
        "opacity = \"80 %\"",
        "  { at = \"0 %\", colour = \"#000000\" },",
        "soft = \"2.5 px\"",
        "scroll = \"2 min\"",
    ] {
        assert!(text.lines().any(|l| l == line), "{line} is not in\n{text}");
    }
}

/// The strips of a layout of so many pixels, to write zones by name where they fit.
fn strips_of(preset: &Preset) -> StripMap {
    let third = u32::from(preset.pixels) / 3;
    let rest = u32::from(preset.pixels) - 2 * third;
    StripMap::new(
        [("a \"b\"", third), ("ü", rest), ("c", third)],
        preset.channels,
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_reads_back_as_the_same_preset(preset in preset(&Ranges::whole())) {
        prop_assert_eq!(preset.validate(), Ok(()));
        let cues = ["x.csv".to_owned()];
        for layout in [strips_of(&preset), StripMap::unnamed(lampwright_model::Layout {
            pixels: preset.pixels,
            channels: preset.channels,
        })] {
            let text = write_preset(&preset, &layout, &cues);
            let file = read(&text, &layout);
            let file = file.map_err(|e| TestCaseError::fail(format!("{e:#?}\n{text}")))?;
            prop_assert_eq!(&file.preset, &preset, "{}", text);
            prop_assert_eq!(&file.cues, &cues);
        }
    }

    #[test]
    fn any_text_is_an_error_or_a_preset(text in "\\PC{0,200}") {
        let _ = read(&text, &staff());
    }

    #[test]
    fn a_damaged_preset_is_an_error_or_a_preset(
        at in 0..WHOLE.len(), len in 0..40usize, with in "[ -~\n\u{e9}]{0,12}"
    ) {
        let mut text = WHOLE.to_owned();
        let end = (at + len).min(text.len());
        text.replace_range(at..end, &with);
        match read(&text, &staff()) {
            Ok(file) => prop_assert_eq!(file.preset.validate(), Ok(())),
            Err(faults) => {
                prop_assert!(!faults.is_empty());
                for fault in faults {
                    prop_assert!(!fault.contains("NO HELP"), "{}", fault);
                }
            }
        }
    }
}
