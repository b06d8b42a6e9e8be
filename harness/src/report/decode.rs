//! What a capture held: text and JSON.

use super::text::{check_lines, number, BOLD, DIM};
use crate::profile::capture::vcd::Timescale;
use crate::profile::capture::{
    ClockedTimes, Decoded, Fault, FaultKind, LineFound, OneWireTimes, OneWireTiming, Spread, Times,
};
use crate::study::verdict::CheckResult;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `decode` document. 1: first form.
pub const DECODE_SCHEMA: &str = "lampwright/decode/1";

/// Faults that the text shows a line.
const SHOWN_FAULTS: usize = 6;

/// What `decode` prints about.
#[derive(Debug, Clone)]
pub struct DecodeReport {
    /// The prop's name.
    pub prop: String,
    /// What the capture held.
    pub decoded: Decoded,
    /// The check `bit-timing`.
    pub checks: Vec<CheckResult>,
}

/// The report as text.
pub fn decode_text(report: &DecodeReport) -> String {
    let decoded = &report.decoded;
    let scale = decoded.timescale;
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#} · {} · {} s in steps of {}, {} MB",
        report.prop,
        decoded.file,
        number(scale.seconds(decoded.length)),
        scale.words(),
        number(decoded.bytes as f64 / 1e6)
    );
    for line in &decoded.lines {
        line_text(&mut out, line, scale);
    }
    let rounds = decoded.rounds;
    let rate = decoded.period_s.map_or_else(String::new, |p| {
        let (ms, hz) = (number(p * 1e3), number(1.0 / p));
        format!(", {ms} ms apart (median): --frame-rate {hz}")
    });
    let _ = writeln!(out, "\n{} frames{rate}", rounds.frames);
    if rounds.left_out > 0 {
        let _ = writeln!(
            out,
            "{} left out: a line's burst in them was no frame, or a line had not been sent to yet",
            rounds.left_out
        );
    }
    if rounds.held > 0 {
        let _ = writeln!(
            out,
            "{} in which a line was not sent to and kept what it showed",
            rounds.held
        );
    }
    let _ = writeln!(out);
    check_lines(&mut out, &report.checks);
    out
}

fn line_text(out: &mut String, line: &LineFound, scale: Timescale) {
    let clock = match &line.signals.clock {
        Some(clock) => format!(" with clock {clock}"),
        None => String::new(),
    };
    let _ = writeln!(
        out,
        "\n{BOLD}{}{BOLD:#} from {}{clock}: {} pixels, {} bits, limits of {}",
        line.name, line.signals.data, line.pixels, line.bits, line.pixel
    );
    let _ = writeln!(
        out,
        "  {} bursts: {} frames, {} refused, {} cut where the capture begins or ends",
        line.bursts,
        line.frames,
        line.refused(),
        line.bursts - line.frames - line.refused()
    );
    if line.ignored > 0 {
        let _ = writeln!(out, "  {} short pulses passed over", line.ignored);
    }
    if line.odd_frames > 0 {
        let _ = writeln!(
            out,
            "  {} frames have low times outside of their limits; the high times tell their bits",
            line.odd_frames
        );
    }
    match &line.times {
        Times::OneWire(limits, times) => times_text(out, limits, times, scale),
        Times::Clocked { times, .. } => clocked_text(out, times, scale),
    }
    for fault in line.faults.iter().take(SHOWN_FAULTS) {
        let _ = writeln!(out, "  {}", fault_words(fault, line, scale));
    }
    let more = (line.bursts - line.frames) as usize - line.faults.len().min(SHOWN_FAULTS);
    if more > 0 {
        let _ = writeln!(out, "  {DIM}and {more} more{DIM:#}");
    }
}

fn times_text(out: &mut String, limits: &OneWireTiming, times: &OneWireTimes, scale: Timescale) {
    let _ = writeln!(
        out,
        "  {DIM}{:<10} {:>16} {:>10} {:>10} {:>10} {:>9} {:>10} {:>8}{DIM:#}",
        "ns", "limits", "least", "mean", "most", "deviation", "count", "outside"
    );
    let rows = named(limits, times);
    for (name, low, high, spread) in rows {
        let limits = match high {
            Some(high) => format!("{} to {}", scale.nanoseconds(low), scale.nanoseconds(high)),
            None => format!("at least {}", scale.nanoseconds(low)),
        };
        let _ = write!(out, "  {name:<10} {limits:>16} ");
        match measured(spread, scale) {
            Some([least, mean, most, deviation]) => {
                let _ = writeln!(
                    out,
                    "{:>10} {:>10} {:>10} {:>9} {:>10} {:>8}",
                    number(least),
                    number(mean),
                    number(most),
                    number(deviation),
                    spread.count,
                    spread.outside
                );
            }
            None => {
                let _ = writeln!(out, "{:>10}", "none");
            }
        }
    }
}

/// Names of the times with their limits in steps.
fn named<'t>(
    limits: &OneWireTiming,
    times: &'t OneWireTimes,
) -> [(&'static str, u64, Option<u64>, &'t Spread); 5] {
    let [zero_high, one_high] = limits.high;
    let [zero_low, one_low] = limits.low;
    [
        (
            "zero-high",
            zero_high.low,
            Some(zero_high.high),
            &times.high[0],
        ),
        ("zero-low", zero_low.low, Some(zero_low.high), &times.low[0]),
        (
            "one-high",
            one_high.low,
            Some(one_high.high),
            &times.high[1],
        ),
        ("one-low", one_low.low, Some(one_low.high), &times.low[1]),
        ("reset", limits.reset, None, &times.reset),
    ]
}

/// Least, mean, most and deviation, nanoseconds.
fn measured(spread: &Spread, scale: Timescale) -> Option<[f64; 4]> {
    let step_ns = scale.nanoseconds(1);
    Some([
        scale.nanoseconds(spread.least.0),
        spread.mean()? * step_ns,
        scale.nanoseconds(spread.most.0),
        spread.deviation()? * step_ns,
    ])
}

fn clocked_text(out: &mut String, times: &ClockedTimes, scale: Timescale) {
    let ns = |steps: Option<u64>| {
        steps.map_or("none".to_owned(), |s| {
            format!("{} ns", number(scale.nanoseconds(s)))
        })
    };
    let period = (times.period.count > 0).then_some(times.period.least.0);
    let _ = writeln!(
        out,
        "  shortest clock period {}, data set-up {}, hold {}",
        ns(period),
        ns(times.set_up),
        ns(times.hold)
    );
    if let Some((low, high)) = times.brightness {
        let _ = writeln!(out, "  brightness {low} to {high} of 31");
    }
}

/// A fault in words, with when and where.
fn fault_words(fault: &Fault, line: &LineFound, scale: Timescale) -> String {
    let at = scale.seconds(fault.at);
    let mut text = format!(
        "at {at:.9} s, after {} bits: {}",
        fault.bit,
        fault.kind.words()
    );
    match fault.kind {
        FaultKind::Short | FaultKind::Long => {
            let of = |bits: u64| {
                [24, 32]
                    .iter()
                    .filter(|each| fault.found.is_multiple_of(**each))
                    .map(|each| format!("{} pixels of {each} bits", bits / each))
                    .collect::<Vec<_>>()
                    .join(" or ")
            };
            let whole = match of(fault.found) {
                words if words.is_empty() => String::new(),
                words => format!(" ({words})"),
            };
            let _ = write!(
                text,
                ": {} bits{whole} in place of {}",
                fault.found, line.bits
            );
        }
        FaultKind::Brightness => {
            let _ = write!(text, ": {}", fault.found);
        }
        FaultKind::Glitch
        | FaultKind::HighTime
        | FaultKind::Ambiguous
        | FaultKind::Gap
        | FaultKind::LowTime => {
            let _ = write!(text, ": {} ns", number(scale.nanoseconds(fault.found)));
        }
        _ => {}
    }
    text
}

/// The document of `decode`.
pub fn decode_json(report: &DecodeReport) -> Value {
    let decoded = &report.decoded;
    let scale = decoded.timescale;
    let lines: Vec<Value> = decoded.lines.iter().map(|l| line_json(l, scale)).collect();
    json!({
        "schema": DECODE_SCHEMA,
        "prop": report.prop,
        "capture": decoded.file,
        "bytes": decoded.bytes,
        "step_ns": scale.nanoseconds(1),
        "length_s": scale.seconds(decoded.length),
        "frames": decoded.rounds.frames,
        "left_out": decoded.rounds.left_out,
        "held": decoded.rounds.held,
        "period_s": decoded.period_s,
        "lines": lines,
        "checks": report.checks,
    })
}

fn line_json(line: &LineFound, scale: Timescale) -> Value {
    let faults: Vec<Value> = line
        .faults
        .iter()
        .map(|f| {
            json!({
                "kind": f.kind, "time_s": scale.seconds(f.at), "bit": f.bit,
                "words": fault_words(f, line, scale),
            })
        })
        .collect();
    let mut value = json!({
        "strip": line.name,
        "signal": line.signals.data,
        "clock": line.signals.clock,
        "pixel": line.pixel,
        "pixels": line.pixels,
        "bits": line.bits,
        "bursts": line.bursts,
        "frames": line.frames,
        "refused": line.refused,
        "odd_frames": line.odd_frames,
        "glitches": line.glitches,
        "ignored": line.ignored,
        "grid_ns": scale.nanoseconds(line.grid),
        "faults": faults,
    });
    if let Some(object) = value.as_object_mut() {
        object.insert("times".into(), times_json(line, scale));
    }
    value
}

fn times_json(line: &LineFound, scale: Timescale) -> Value {
    let one = |name: &str, low: u64, high: Option<u64>, spread: &Spread| {
        let found = measured(spread, scale);
        json!({
            "name": name,
            "low_ns": scale.nanoseconds(low),
            "high_ns": high.map(|h| scale.nanoseconds(h)),
            "least_ns": found.map(|f| f[0]),
            "mean_ns": found.map(|f| f[1]),
            "most_ns": found.map(|f| f[2]),
            "deviation_ns": found.map(|f| f[3]),
            "count": spread.count,
            "outside": spread.outside,
        })
    };
    match &line.times {
        Times::OneWire(limits, times) => named(limits, times)
            .into_iter()
            .map(|(name, low, high, spread)| one(name, low, high, spread))
            .collect(),
        Times::Clocked { period, times } => {
            let ns = |steps: Option<u64>| steps.map(|s| scale.nanoseconds(s));
            json!([
                one("clock-period", *period, None, &times.period),
                { "name": "set-up", "least_ns": ns(times.set_up) },
                { "name": "hold", "least_ns": ns(times.hold) },
            ])
        }
    }
}
