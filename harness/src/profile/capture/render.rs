//! A capture made from frames: what a logic analyser would see on the data lines, for a bench pattern or a test.

use super::clocked::PIXEL_BITS;
use super::lines::Line;
use super::timing::{femtoseconds, LineTiming, OneWireTiming, Window};
use super::vcd::{Level, Timescale, VcdWriter};
use crate::build::diag::InputErrors;
use crate::profile::stream::{Chunk, FrameStream};
use lampwright_model::rng::hash;
use std::io::{self, Write};

/// Frames asked for at a time.
const CHUNK_FRAMES: usize = 64;
/// The time step of what is written.
const STEP: Timescale = Timescale { step_fs: 1_000_000 };
/// Half a clock period, in steps, where the pixel type allows a faster clock: 4 MHz, which short leads carry.
const HALF_CLOCK: u64 = 125;

/// How a capture is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RenderOptions {
    /// Frames that begin before this time are left out, seconds.
    pub from_s: f64,
    /// Frames that begin so long after that are left out, seconds.
    pub length_s: f64,
    /// How far the times wander, as a share of the way from the stated time to its limits: 0 not at all, 1 to the limits,
    /// more goes beyond them.
    pub jitter: f64,
    /// Seed of the jitter: the same seed gives the same file.
    pub seed: u32,
}

/// What was written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Rendered {
    /// Frames.
    pub frames: u64,
    /// Frames that had to wait because the one before was still being sent.
    pub late: u64,
    /// Length in nanoseconds.
    pub length_ns: u64,
}

/// Why a capture could not be made.
#[derive(Debug, thiserror::Error)]
pub enum RenderError {
    /// The frames are wrong, or a pixel type has no limits.
    #[error(transparent)]
    Input(#[from] InputErrors),
    /// Writing failed.
    #[error(transparent)]
    Write(#[from] io::Error),
}

/// The names of a line's signals: data, and clock where it has one.
pub fn signal_names(line: &Line) -> (String, Option<String>) {
    let clock = line.clocked.then(|| format!("{}_clock", line.name()));
    (format!("{}_data", line.name()), clock)
}

/// Draws times within a window.
struct Jitter {
    share: f64,
    seed: u32,
    drawn: u64,
}

impl Jitter {
    fn draw(&mut self, window: Window) -> u64 {
        if self.share == 0.0 {
            return window.nominal;
        }
        self.drawn += 1;
        let reach = |width: u64| (width as f64 * self.share).floor() as u64;
        let low = window
            .nominal
            .saturating_sub(reach(window.nominal - window.low));
        let high = window.nominal + reach(window.high - window.nominal);
        // Two counters, since 2³² draws are 45 minutes of pixels.
        let random = hash(self.seed, self.drawn as u32, (self.drawn >> 32) as u32);
        // Even over the whole numbers from low to high; a pulse of no length is none.
        (low + ((u64::from(random) * (high - low + 1)) >> 32)).max(1)
    }
}

/// Times of a bit, with what highs of 0 and 1 share taken from both: within it no reader could tell them.
fn told_apart(mut timing: OneWireTiming) -> OneWireTiming {
    let [zero, one] = &mut timing.high;
    let (shared_low, shared_high) = (one.low.max(zero.low), zero.high.min(one.high));
    if shared_low <= shared_high {
        zero.high = (shared_low - 1).max(zero.nominal);
        one.low = (shared_high + 1).min(one.nominal);
    }
    timing
}

struct Wire<'l> {
    line: &'l Line,
    timing: LineTiming,
    data: usize,
    clock: usize,
    /// When it is free for the next frame.
    free: u64,
    bytes: Vec<u8>,
}

/// Writes frames as a capture.
///
/// # Errors
/// Faulty frames, a pixel type without timing, or a file that cannot be written.
pub fn render(
    stream: &mut dyn FrameStream,
    lines: &[Line],
    options: RenderOptions,
    out: &mut dyn Write,
) -> Result<Rendered, RenderError> {
    let (mut wires, names) = wires(lines, options)?;
    let comment = "pattern computed from frames, not captured";
    let mut vcd = VcdWriter::new(out, STEP, comment, &names)?;
    let mut jitter = Jitter {
        share: options.jitter,
        seed: options.seed,
        drawn: 0,
    };
    // The first frame comes after a reset, so that a reader knows where it starts.
    let lead = wires.iter().map(|w| w.free).max().unwrap_or(0);
    let mut rendered = Rendered::default();
    let mut chunk = Chunk::new();
    let mut edges: Vec<(u64, usize, Level)> = Vec::new();
    let mut last = 0;
    'frames: while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
        for (meta, levels) in chunk.frames() {
            if meta.time_s < options.from_s {
                continue;
            }
            if meta.time_s >= options.from_s + options.length_s {
                break 'frames;
            }
            let due = lead + STEP.steps_down(femtoseconds(meta.time_s - options.from_s));
            let start = wires.iter().map(|w| w.free).max().unwrap_or(0).max(due);
            rendered.late += u64::from(start > due);
            edges.clear();
            for wire in &mut wires {
                wire.send(levels, start, &mut jitter, &mut edges);
            }
            edges.sort_by_key(|(time, ..)| *time);
            for (time, line, level) in &edges {
                vcd.change(*time, *line, *level)?;
                last = *time;
            }
            rendered.frames += 1;
        }
    }
    let end = wires.iter().map(|w| w.free).max().unwrap_or(0).max(last);
    vcd.finish(end)?;
    rendered.length_ns = end;
    Ok(rendered)
}

fn wires(
    lines: &[Line],
    options: RenderOptions,
) -> Result<(Vec<Wire<'_>>, Vec<String>), InputErrors> {
    let mut names = Vec::new();
    let mut wires = Vec::new();
    for line in lines {
        let timing = LineTiming::of(&line.pixel, line.reset_s, STEP)?;
        let timing = match timing {
            LineTiming::OneWire(t) if options.jitter <= 1.0 => LineTiming::OneWire(told_apart(t)),
            other => other,
        };
        let data = names.len();
        let (data_name, clock_name) = signal_names(line);
        names.push(data_name);
        names.extend(clock_name);
        wires.push(Wire {
            line,
            timing,
            data,
            clock: data + 1,
            free: match timing {
                LineTiming::OneWire(t) => t.reset,
                LineTiming::Clocked { period, .. } => period,
            },
            bytes: Vec::new(),
        });
    }
    Ok((wires, names))
}

impl Wire<'_> {
    /// Adds the edges of a frame that starts at a time.
    fn send(
        &mut self,
        frame: &[u8],
        start: u64,
        jitter: &mut Jitter,
        edges: &mut Vec<(u64, usize, Level)>,
    ) {
        match self.timing {
            LineTiming::OneWire(timing) => {
                self.line.pack(frame, 31, &mut self.bytes);
                let mut time = start;
                let mut fall = start;
                for bit in bits(&self.bytes) {
                    let value = usize::from(bit);
                    edges.push((time, self.data, Level::High));
                    fall = time + jitter.draw(timing.high[value]);
                    edges.push((fall, self.data, Level::Low));
                    time = fall + jitter.draw(timing.low[value]);
                }
                self.free = fall + timing.reset;
            }
            LineTiming::Clocked { period, brightness } => {
                self.line.pack(frame, brightness, &mut self.bytes);
                self.send_clocked(start, period, edges);
            }
        }
    }

    fn send_clocked(&mut self, start: u64, period: u64, edges: &mut Vec<(u64, usize, Level)>) {
        let half = HALF_CLOCK.max(period.div_ceil(2));
        let pixels = self.bytes.len() as u64 * 8 / PIXEL_BITS;
        // Half a clock a pixel and more, in whole words of ones.
        let words = pixels.div_ceil(2).div_ceil(PIXEL_BITS).max(1) as usize;
        let (head, tail) = ([0u8; 4], vec![0xff; 4 * words]);
        let mut time = start;
        let mut level = false;
        let sent = bits(&head).chain(bits(&self.bytes)).chain(bits(&tail));
        for bit in sent {
            if bit != level {
                level = bit;
                let now = if bit { Level::High } else { Level::Low };
                edges.push((time, self.data, now));
            }
            edges.push((time + half, self.clock, Level::High));
            edges.push((time + 2 * half, self.clock, Level::Low));
            time += 2 * half;
        }
        edges.push((time, self.data, Level::Low));
        self.free = time + 2 * half;
    }
}

/// The bits of bytes, the first on top.
fn bits(bytes: &[u8]) -> impl Iterator<Item = bool> + '_ {
    let each = |byte: &u8| {
        let byte = *byte;
        (0..8).rev().map(move |k| byte >> k & 1 == 1)
    };
    bytes.iter().flat_map(each)
}
