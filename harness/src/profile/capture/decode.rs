//! A capture of the prop's data lines, decoded.

use super::burst::{Burst, Fault, FaultKind};
use super::clocked::{Clocked, ClockedTimes};
use super::combine::{Combiner, Rounds};
use super::lines::Line;
use super::one_wire::{OneWire, OneWireTimes};
use super::spread::Grid;
use super::timing::{LineTiming, OneWireTiming};
use super::vcd::{Timescale, VcdReader};
use crate::build::diag::{InputError, InputErrors};
use std::collections::BTreeMap;

/// Faults of a line that are kept in full; the others are counted.
const KEPT_FAULTS: usize = 20;
/// Steps from frame to frame that are kept to find their median.
const KEPT_PERIODS: usize = 1 << 14;

/// The signals that carry a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signals {
    /// The data wire.
    pub data: String,
    /// The clock wire, where the line has one.
    pub clock: Option<String>,
}

/// What was measured on a line.
// There is one of it for each line: the size of a variant does not matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Times {
    /// One wire: limits and times.
    OneWire(OneWireTiming, OneWireTimes),
    /// Data and clock: shortest period, pixels, times.
    Clocked {
        /// Shortest clock period allowed, steps.
        period: u64,
        /// Times.
        times: ClockedTimes,
    },
}

/// What came over one line.
#[derive(Debug, Clone, PartialEq)]
pub struct LineFound {
    /// Name of the strip at its start.
    pub name: String,
    /// Its signals.
    pub signals: Signals,
    /// Id of the pixel type whose limits hold.
    pub pixel: String,
    /// Where the limits come from.
    pub source: String,
    /// Pixels on the line.
    pub pixels: usize,
    /// Bits that they take.
    pub bits: u64,
    /// Bursts between resets.
    pub bursts: u64,
    /// Bursts that are frames.
    pub frames: u64,
    /// Bursts that are none, by what was wrong.
    pub refused: BTreeMap<FaultKind, u64>,
    /// The first of them.
    pub faults: Vec<Fault>,
    /// Frames with a bit whose low is outside of the limits for its value.
    pub odd_frames: u64,
    /// Pulses of less than half the shortest that is allowed.
    pub glitches: u64,
    /// Pulses passed over because they are shorter than asked for.
    pub ignored: u64,
    /// The common step of all times, in steps of the file.
    pub grid: u64,
    /// What was measured.
    pub times: Times,
}

impl LineFound {
    /// Bursts that are no frames because of the line, not of where the capture begins or ends.
    pub fn refused(&self) -> u64 {
        let of_line = |(kind, _): &(&FaultKind, &u64)| !kind.of_the_capture();
        self.refused.iter().filter(of_line).map(|(_, n)| n).sum()
    }
}

/// What a capture held.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    /// The file.
    pub file: String,
    /// Its bytes.
    pub bytes: u64,
    /// Its time step.
    pub timescale: Timescale,
    /// From its first to its last time, in steps.
    pub length: u64,
    /// Its lines.
    pub lines: Vec<LineFound>,
    /// How they came together.
    pub rounds: Rounds,
    /// Median time from frame to frame, seconds; `None` with fewer than two frames.
    pub period_s: Option<f64>,
}

/// What may be asked of a decoder.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct DecodeOptions {
    /// Pulses shorter than this are passed over, seconds; one-wire lines only.
    pub ignore_s: f64,
}

enum Decoder {
    OneWire(Box<OneWire>),
    Clocked(Box<Clocked>),
}

/// What a change on a captured line means.
#[derive(Clone, Copy)]
enum Role {
    Data(usize),
    Clock(usize),
}

/// Decodes a capture: `frame` is given the time in steps and the levels of every whole frame.
///
/// # Errors
/// A signal that is not there, a pixel type without limits, steps too coarse for them, or a faulty file.
pub fn decode(
    mut vcd: VcdReader,
    lines: &[Line],
    signals: &[Signals],
    frame_len: usize,
    options: DecodeOptions,
    mut frame: impl FnMut(u64, &[u8]),
) -> Result<Decoded, InputErrors> {
    let scale = vcd.timescale();
    let roles = listen(&mut vcd, signals)?;
    let mut decoders = Vec::new();
    let mut found = Vec::new();
    let mut stated = Vec::new();
    for (line, signals) in lines.iter().zip(signals) {
        let timing = LineTiming::of(&line.pixel, line.reset_s, scale)?;
        let (decoder, brightness) = decoder(line, timing, scale, options)?;
        found.push(nothing_yet(line, signals, timing));
        decoders.push(decoder);
        stated.push(brightness);
    }
    let mut combiner = Combiner::new(lines, stated, frame_len);
    let mut periods = Periods::default();
    let mut take = |line: usize, burst: &Burst| {
        if let Some(found) = found.get_mut(line) {
            note(found, burst);
        }
        combiner.burst(line, burst, |time, levels| {
            periods.see(time);
            frame(time, levels);
        });
    };
    while let Some(change) = vcd.next_change()? {
        let roles = roles.get(change.line).map_or(&[][..], Vec::as_slice);
        for role in roles {
            let (Role::Data(line) | Role::Clock(line)) = *role;
            match (decoders.get_mut(line), role) {
                (Some(Decoder::OneWire(wire)), Role::Data(_)) => {
                    wire.change(change.time, change.level, &mut |b| take(line, b));
                }
                (Some(Decoder::Clocked(wires)), Role::Data(_)) => {
                    wires.data(change.time, change.level);
                }
                (Some(Decoder::Clocked(wires)), Role::Clock(_)) => {
                    wires.clock(change.time, change.level, &mut |b| take(line, b));
                }
                _ => {}
            }
        }
    }
    let end = vcd.time();
    for (line, decoder) in decoders.iter_mut().enumerate() {
        match decoder {
            Decoder::OneWire(wire) => wire.finish(end, &mut |b| take(line, b)),
            Decoder::Clocked(wires) => wires.finish(end, &mut |b| take(line, b)),
        }
    }
    combiner.finish();
    let rounds = combiner.rounds;
    for (found, decoder) in found.iter_mut().zip(&decoders) {
        measured(found, decoder);
    }
    Ok(Decoded {
        file: vcd.name().to_owned(),
        bytes: vcd.bytes(),
        timescale: scale,
        length: end.saturating_sub(vcd.start()),
        lines: found,
        rounds,
        period_s: periods.median().map(|p| scale.seconds(p)),
    })
}

/// Selects the signals; for each captured line what its changes mean.
fn listen(vcd: &mut VcdReader, signals: &[Signals]) -> Result<Vec<Vec<Role>>, InputErrors> {
    let mut names = Vec::new();
    let mut wanted = Vec::new();
    for (line, signal) in signals.iter().enumerate() {
        names.push(signal.data.as_str());
        wanted.push(Role::Data(line));
        if let Some(clock) = &signal.clock {
            names.push(clock.as_str());
            wanted.push(Role::Clock(line));
        }
    }
    let mut roles: Vec<Vec<Role>> = Vec::new();
    for (captured, role) in vcd.select(&names)?.into_iter().zip(wanted) {
        if roles.len() <= captured {
            roles.resize(captured + 1, Vec::new());
        }
        if let Some(list) = roles.get_mut(captured) {
            list.push(role);
        }
    }
    Ok(roles)
}

fn decoder(
    line: &Line,
    timing: LineTiming,
    scale: Timescale,
    options: DecodeOptions,
) -> Result<(Decoder, u8), InputErrors> {
    match timing {
        LineTiming::OneWire(timing) => {
            let ignore = scale.steps_up(super::timing::femtoseconds(options.ignore_s));
            let wire = OneWire::new(timing, line.bits(), ignore);
            Ok((Decoder::OneWire(Box::new(wire)), 31))
        }
        LineTiming::Clocked { .. } if options.ignore_s > 0.0 => {
            let message = format!(
                "strip \"{}\" has a clock: short pulses cannot be passed over",
                line.name()
            );
            let help = "leave --ignore-below out; it is for one-wire lines";
            Err(InputError::whole(message).help(help).into())
        }
        LineTiming::Clocked { period, brightness } => {
            let wires = Clocked::new(period, line.pixels() as u64, brightness);
            Ok((Decoder::Clocked(Box::new(wires)), brightness))
        }
    }
}

fn nothing_yet(line: &Line, signals: &Signals, timing: LineTiming) -> LineFound {
    use crate::build::parts::DataTiming;
    let (source, times) = match (timing, &line.pixel.timing) {
        (LineTiming::Clocked { period, .. }, Some(DataTiming::Clocked { clock_max, .. })) => {
            let times = Clocked::new(period, 0, 31).times;
            (
                clock_max.source_or_given(),
                Times::Clocked { period, times },
            )
        }
        (LineTiming::OneWire(t), Some(DataTiming::OneWire { zero_high, .. })) => {
            let times = Times::OneWire(t, OneWireTimes::default());
            (zero_high.source_or_given(), times)
        }
        (LineTiming::Clocked { period, .. }, _) => {
            let times = Clocked::new(period, 0, 31).times;
            ("", Times::Clocked { period, times })
        }
        (LineTiming::OneWire(t), _) => ("", Times::OneWire(t, OneWireTimes::default())),
    };
    LineFound {
        name: line.name().to_owned(),
        signals: signals.clone(),
        pixel: line.pixel.id.clone(),
        source: source.to_owned(),
        pixels: line.pixels(),
        bits: line.bits(),
        bursts: 0,
        frames: 0,
        refused: BTreeMap::new(),
        faults: Vec::new(),
        odd_frames: 0,
        glitches: 0,
        ignored: 0,
        grid: Grid::default().step(),
        times,
    }
}

fn note(found: &mut LineFound, burst: &Burst) {
    found.bursts += 1;
    match burst.fault {
        None => {
            found.frames += 1;
            found.odd_frames += u64::from(burst.odd_lows > 0);
        }
        Some(fault) => {
            *found.refused.entry(fault.kind).or_default() += 1;
            if found.faults.len() < KEPT_FAULTS {
                found.faults.push(fault);
            }
        }
    }
}

fn measured(found: &mut LineFound, decoder: &Decoder) {
    match (decoder, &mut found.times) {
        (Decoder::OneWire(wire), Times::OneWire(_, times)) => {
            *times = wire.times;
            found.grid = wire.grid.step();
            found.glitches = wire.glitches;
            found.ignored = wire.ignored;
        }
        (Decoder::Clocked(wires), Times::Clocked { times, .. }) => {
            *times = wires.times;
            found.grid = wires.grid.step();
        }
        _ => {}
    }
}

/// Times from frame to frame.
#[derive(Default)]
struct Periods {
    last: Option<u64>,
    kept: Vec<u64>,
}

impl Periods {
    fn see(&mut self, time: u64) {
        if let Some(last) = self.last.replace(time) {
            if self.kept.len() < KEPT_PERIODS {
                self.kept.push(time.saturating_sub(last));
            }
        }
    }

    fn median(mut self) -> Option<u64> {
        self.kept.sort_unstable();
        self.kept.get(self.kept.len() / 2).copied()
    }
}
