//! Frames from memory and the small props that they are played on.

use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;
use lampwright::profile::{cap_levels, Chunk, FrameMeta, FrameStream};
use lampwright::study::trace::Trace;
use lampwright::study::verdict::{CheckResult, Verdict};
use lampwright::study::watch::watch;
use lampwright_model::{Channels, Layout, Preset, State};

/// Frames from memory, as many pixels as the prop has.
pub(crate) struct Frames {
    pub(crate) pixels: u16,
    pub(crate) rate_hz: f64,
    pub(crate) frames: Vec<Vec<u8>>,
}

pub(crate) struct Reel<'a> {
    of: &'a Frames,
    cap: u8,
    next: usize,
}

impl FrameStream for Reel<'_> {
    fn layout(&self) -> Layout {
        Layout {
            pixels: self.of.pixels,
            channels: Channels::Rgb,
        }
    }

    fn period_s(&self) -> f64 {
        1.0 / self.of.rate_hz
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.levels.clear();
        chunk.meta.clear();
        chunk.cues.clear();
        chunk.frame_len = usize::from(self.of.pixels) * 3;
        while chunk.meta.len() < frames && self.next < self.of.frames.len() {
            let mut levels = self.of.frames[self.next].clone();
            cap_levels(&mut levels, self.cap);
            chunk.levels.extend(levels);
            chunk.meta.push(FrameMeta {
                index: self.next as u64,
                time_s: self.next as f64 / self.of.rate_hz,
                state: Some(State::Lit),
                layers: Default::default(),
                cue: None,
                new_cues: 0,
                first_cue: 0,
            });
            self.next += 1;
        }
        Ok(chunk.meta.len())
    }
}

impl Trace for Frames {
    fn preset_name(&self) -> Option<String> {
        None
    }
    fn cues_name(&self) -> String {
        "from memory".to_owned()
    }
    fn preset(&self) -> Option<&Preset> {
        None
    }
    fn length_s(&self) -> Option<f64> {
        Some(self.frames.len() as f64 / self.rate_hz)
    }
    fn open(&self, _: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        Ok(Box::new(Reel {
            of: self,
            cap,
            next: 0,
        }))
    }
}

pub(crate) fn prop(text: &str) -> Prop {
    read_build(&Source::new("test.toml", text)).unwrap_or_else(|e| panic!("{e:?}"))
}

/// A cell, two wires, a switch, a strip.
pub(crate) fn small(
    pixels: u32,
    rail_mohm: f64,
    wire_mm: f64,
    switch_mohm: f64,
    rating_a: f64,
    floor: u32,
) -> Prop {
    prop(&format!(
        "[prop]\nname = \"small\"\n[conditions]\nsoc-floor = \"{floor} %\"\n\
         [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.master]\nkind = \"switch\"\nresistance = \"{switch_mohm} mΩ\"\nrating = \"{rating_a} A\"\n\
         [parts.s]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = {pixels}\nrail-plus = \"{rail_mohm} mΩ\"\nrail-minus = \"{rail_mohm} mΩ\"\nrail-rating = \"{rating_a} A\"\n\
         [[wires]]\nfrom = \"cell.plus\"\nto = \"master.a\"\ngauge = \"26 AWG\"\nlength = \"50 mm\"\n\
         [[wires]]\nfrom = \"master.b\"\nto = \"s.plus\"\ngauge = \"26 AWG\"\nlength = \"{wire_mm} mm\"\n\
         [[wires]]\nfrom = \"s.minus\"\nto = \"cell.minus\"\ngauge = \"26 AWG\"\nlength = \"{wire_mm} mm\"\n"
    ))
}

/// A strip that flickers about, so that a digest has something to lose.
pub(crate) fn flicker(pixels: usize, frames: usize) -> Frames {
    let mut state = 9u32;
    let mut next = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let mut level = vec![128u8; pixels * 3];
    let frames = (0..frames).map(|k| {
        let swell = (k as f64 / 40.0).sin() * 60.0;
        for l in &mut level {
            let drift = f64::from(next() % 31) - 15.0;
            *l = (f64::from(*l) * 0.95 + (150.0 + swell) * 0.05 + drift).clamp(0.0, 255.0) as u8;
        }
        level.clone()
    });
    Frames {
        pixels: pixels as u16,
        rate_hz: 60.0,
        frames: frames.collect(),
    }
}

/// Every check and part that fails at a cap and has to do with brightness.
pub(crate) fn failing(
    built: &Prop,
    trace: &Frames,
    cap: u8,
) -> Vec<(String, String, &'static str)> {
    let mut stream = trace.open(built, cap).unwrap();
    failing_of(watch(built, None, stream.as_mut(), &|_| {}).unwrap())
}

pub(crate) fn failing_of(results: Vec<CheckResult>) -> Vec<(String, String, &'static str)> {
    let timing = ["frame-time", "response-time", "rise-fall-time", "polarity"];
    let failing = results
        .into_iter()
        .filter(|r| r.verdict == Verdict::Fails && !timing.contains(&r.id));
    failing
        .map(|r| {
            (
                r.id.to_owned(),
                r.bare_part().unwrap_or_default().to_owned(),
                r.unit,
            )
        })
        .collect()
}
