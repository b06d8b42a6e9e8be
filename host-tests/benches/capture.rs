//! Bytes a second of reading a capture of a one-wire line, on one core, beside a plain scan of the same bytes.
//!
//! `cargo bench -p lampwright-host-tests --bench capture`
#![allow(clippy::unwrap_used)]

use divan::counter::BytesCount;
use divan::Bencher;
use lampwright::build::folder::{read_presets, read_prop, Choice};
use lampwright::profile::capture::vcd::VcdReader;
use lampwright::profile::capture::{
    decode, lines, render, signal_names, DecodeOptions, Line, RenderOptions, Signals,
};
use lampwright::profile::condition::Condition;
use lampwright::profile::lower::lower;
use lampwright::profile::Played;
use lampwright_model::Engine;
use std::hint::black_box;
use std::io::Cursor;
use std::path::Path;
use std::sync::OnceLock;

fn main() {
    divan::main();
}

/// The lines of the demo staff and four seconds of its brightest preset, jittered to the limits.
fn demo() -> &'static (Vec<Line>, Vec<u8>) {
    static DEMO: OnceLock<(Vec<Line>, Vec<u8>)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/lantern-staff");
        let prop = read_prop(&folder, &Choice::default()).unwrap();
        let lowered = lower(&prop, Condition::nominal()).unwrap();
        let lines = lines(&prop, &lowered.circuit).unwrap();
        let presets = read_presets(&folder, &Choice::default(), &prop).unwrap();
        let preset = presets.iter().find(|p| p.name == "chalk-noon").unwrap();
        let engine = Engine::new(&preset.file.preset).unwrap();
        let rate = f64::from(preset.file.preset.frame_rate_hz);
        let mut played = Played::new(engine, &preset.cues[0], rate);
        let options = RenderOptions {
            from_s: 10.0,
            length_s: 4.0,
            jitter: 1.0,
            seed: 1,
        };
        let mut dump = Vec::new();
        render(&mut played, &lines, options, &mut dump).unwrap();
        (lines, dump)
    })
}

#[divan::bench]
fn plain_scan_for_line_ends(bencher: Bencher<'_, '_>) {
    let (_, dump) = demo();
    bencher
        .counter(BytesCount::new(dump.len()))
        .bench(|| memchr::memchr_iter(b'\n', black_box(dump)).count());
}

#[divan::bench]
fn copy(bencher: Bencher<'_, '_>) {
    let (_, dump) = demo();
    bencher
        .counter(BytesCount::new(dump.len()))
        .bench(|| black_box(dump.clone()).len());
}

#[divan::bench]
fn changes_only(bencher: Bencher<'_, '_>) {
    let (lines, dump) = demo();
    let names: Vec<String> = lines.iter().map(|l| signal_names(l).0).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    bencher.counter(BytesCount::new(dump.len())).bench(|| {
        let mut vcd = VcdReader::new("demo", Box::new(Cursor::new(dump))).unwrap();
        vcd.select(&names).unwrap();
        let mut count = 0_u64;
        while vcd.next_change().unwrap().is_some() {
            count += 1;
        }
        count
    });
}

#[divan::bench]
fn whole_decode(bencher: Bencher<'_, '_>) {
    let (lines, dump) = demo();
    let signals: Vec<Signals> = lines
        .iter()
        .map(|l| {
            let (data, clock) = signal_names(l);
            Signals { data, clock }
        })
        .collect();
    bencher.counter(BytesCount::new(dump.len())).bench(|| {
        let vcd = VcdReader::new("demo", Box::new(Cursor::new(dump))).unwrap();
        let mut frames = 0;
        let none = DecodeOptions::default();
        let found = decode(vcd, lines, &signals, 327, none, |_, _| frames += 1);
        (found.unwrap().bytes, frames)
    });
}
