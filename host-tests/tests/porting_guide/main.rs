//! The loop of the porting guide: compiled as it stands there, and played on a port that fails after a second.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

include!("example.rs");

use core::cell::Cell;
use embedded_hal::spi::{ErrorKind, ErrorType};
use lampwright_model::codec;
use lampwright_model::pack::{write, Head, Link, NewEntry, StripData};
use lampwright_model::preset::{Layer, Paint};
use lampwright_model::{Channels, Color, Millis};

const GUIDE: &str = include_str!("../../../harness/guide/pages/porting.md");
const PIXELS: u16 = 10;
/// SPI bytes of a frame: three for each byte, then zeros for 280 µs at 2.4 MHz.
const FRAME_LEN: usize = 10 * 9 + 84;

#[test]
fn the_guide_shows_the_loop_that_is_compiled_here() {
    let fenced = format!("```rust\n{}```\n", include_str!("example.rs"));
    assert!(
        GUIDE.contains(&fenced),
        "the guide and tests/porting_guide/example.rs differ"
    );
}

/// Takes so many bytes, then fails.
struct Port<'a> {
    taken: &'a Cell<usize>,
    lit: &'a Cell<usize>,
    left: usize,
}

impl ErrorType for Port<'_> {
    type Error = ErrorKind;
}

impl SpiBus for Port<'_> {
    fn read(&mut self, _: &mut [u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn write(&mut self, words: &[u8]) -> Result<(), ErrorKind> {
        self.left = self
            .left
            .checked_sub(words.len())
            .ok_or(ErrorKind::Overrun)?;
        self.taken.set(self.taken.get() + words.len());
        // A byte of all ones on the line is 110110...
        if words.starts_with(&[0b1101_1011]) {
            self.lit.set(self.lit.get() + 1);
        }
        Ok(())
    }
    fn transfer(&mut self, _: &mut [u8], _: &[u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn transfer_in_place(&mut self, _: &mut [u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

struct Hand<'a>(&'a Cell<u32>);

impl Clock for Hand<'_> {
    fn now(&mut self) -> Millis {
        Millis(self.0.get())
    }
}

impl DelayNs for Hand<'_> {
    fn delay_ns(&mut self, ns: u32) {
        self.0.set(self.0.get() + ns / 1_000_000);
    }
}

fn packed() -> Vec<u8> {
    let mut preset = Preset::new("green", PIXELS, Channels::Rgb);
    preset.rise.duration_ms = 0;
    let layer = Layer::plain(Paint::Solid {
        color: Color::rgb(0, 65535, 0),
    });
    preset.layers.push(layer).unwrap();
    let mut room = [0; codec::MAX_LEN];
    let bytes = codec::encode(&preset, &mut room).unwrap();
    let head = Head {
        prop: "test",
        cap: 255,
        budget_ua: None,
        brown_out_mv: None,
        pixels: PIXELS,
        channels: Channels::Rgb,
        strips: 1,
        presets: 1,
    };
    let strip = StripData {
        name: "strip",
        pixels: PIXELS,
        order: "GRB",
        channel_ua: [12_000, 12_000, 12_000, 0],
        dark_ua: 600,
        link: Link::Unknown,
    };
    let entry = NewEntry {
        name: "green",
        cues: &[],
        preset: bytes,
    };
    let mut out = [0; codec::MAX_LEN];
    write(&head, &[strip], &[entry], &mut out).unwrap().to_vec()
}

#[test]
fn the_loop_plays_until_the_port_fails() {
    let (taken, lit, time) = (Cell::new(0), Cell::new(0), Cell::new(1000));
    let port = Port {
        taken: &taken,
        lit: &lit,
        left: 60 * FRAME_LEN + 50,
    };
    let mut cue = Some(Cue::ShortPress);
    let (mut preset, mut frame) = (Preset::empty(), [0; 30]);
    let played = play(
        port,
        Hand(&time),
        Hand(&time),
        || cue.take(),
        &packed(),
        &mut preset,
        &mut frame,
    );
    assert_eq!(played, None);
    // Sixty frames at 60 Hz, and five pixels of the next.
    assert_eq!(taken.get(), 60 * FRAME_LEN + 45);
    assert_eq!(time.get(), 2000);
    // Every pixel is lit: the cue came with the first frame, and green is sent first.
    assert_eq!(lit.get(), 60 * 10 + 5);
}
