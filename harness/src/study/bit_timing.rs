//! `bit-timing`: every pulse of a captured data line against the limits of its pixel type.
//!
//! Unlike the checks that watch frames it judges a capture, so it is there only where one is given.

use super::verdict::{CheckResult, Side};
use crate::profile::capture::vcd::Timescale;
use crate::profile::capture::{
    ClockedTimes, Decoded, LineFound, OneWireTimes, OneWireTiming, Spread, Times, Window,
};

const ID: &str = "bit-timing";
const PROTECTS: &str = "data from being misread by the first pixel";
/// From memory and common practice: a clocked pixel hands its data on half a clock late, so that the last of n pixels
/// needs n/2 more clocks.
const END_SOURCE: &str = "common practice: half a clock for each pixel";

/// The results of a capture: for each line every time of a bit, the reset, and the bursts that are no frames.
pub fn bit_timing(decoded: &Decoded) -> Vec<CheckResult> {
    let scale = decoded.timescale;
    let mut out = Vec::new();
    for line in &decoded.lines {
        match &line.times {
            Times::OneWire(limits, times) => one_wire(line, limits, times, scale, &mut out),
            Times::Clocked { period, times } => clocked(line, *period, times, scale, &mut out),
        }
        out.push(bursts(line, scale));
    }
    out
}

fn one_wire(
    line: &LineFound,
    limits: &OneWireTiming,
    times: &OneWireTimes,
    scale: Timescale,
    out: &mut Vec<CheckResult>,
) {
    let [zero_high, one_high] = limits.high;
    let [zero_low, one_low] = limits.low;
    for (name, window, spread) in [
        ("zero-high", zero_high, &times.high[0]),
        ("zero-low", zero_low, &times.low[0]),
        ("one-high", one_high, &times.high[1]),
        ("one-low", one_low, &times.low[1]),
    ] {
        out.push(within(line, name, window, spread, scale));
    }
    out.push(at_least(line, "reset", limits.reset, &times.reset, scale));
}

fn part(line: &LineFound, name: &str) -> String {
    format!("{}.data-in {name}", line.name)
}

fn missing(line: &LineFound, name: &str, why: &str) -> CheckResult {
    CheckResult::not_checked(ID, PROTECTS, "ns", why).part(part(line, name))
}

/// How well the capture knows its times.
fn resolution(line: &LineFound, scale: Timescale, margin_ns: f64) -> String {
    let step_ns = scale.nanoseconds(line.grid.max(1));
    let warning = if margin_ns.abs() < step_ns {
        ": the margin is smaller than that, so a faster capture may judge otherwise"
    } else {
        ""
    };
    format!("all times of the capture are multiples of {step_ns} ns{warning}")
}

/// Both ends of a time against its limits: the nearer end.
fn within(
    line: &LineFound,
    name: &str,
    window: Window,
    spread: &Spread,
    scale: Timescale,
) -> CheckResult {
    if spread.count == 0 {
        return missing(line, name, "the capture has no such pulse");
    }
    // Pulses that are all of one length lie on a grid of any step.
    let varies = spread.least.0 != spread.most.0;
    if varies && window.high - window.low < 2 * line.grid {
        let why = format!(
            "the capture samples every {} ns, too coarse for limits that lie {} ns apart",
            scale.nanoseconds(line.grid),
            scale.nanoseconds(window.high - window.low)
        );
        return missing(line, name, &why);
    }
    let ns = |steps: u64| scale.nanoseconds(steps);
    let below = ns(spread.least.0) - ns(window.low);
    let above = ns(window.high) - ns(spread.most.0);
    let (side, limit, (worst, at), margin) = if below < above {
        (Side::AtLeast, window.low, spread.least, below)
    } else {
        (Side::AtMost, window.high, spread.most, above)
    };
    let why = format!(
        "{} of {} pulses outside of {} to {} ns; {}",
        spread.outside,
        spread.count,
        ns(window.low),
        ns(window.high),
        resolution(line, scale, margin)
    );
    judged(line, name, side, limit, (worst, at), scale).why(why)
}

fn at_least(
    line: &LineFound,
    name: &str,
    limit: u64,
    spread: &Spread,
    scale: Timescale,
) -> CheckResult {
    if spread.count == 0 {
        return missing(line, name, "the capture has no such time");
    }
    let margin = scale.nanoseconds(spread.least.0) - scale.nanoseconds(limit);
    let why = format!(
        "{} of {} too short; {}",
        spread.outside,
        spread.count,
        resolution(line, scale, margin)
    );
    judged(line, name, Side::AtLeast, limit, spread.least, scale).why(why)
}

fn judged(
    line: &LineFound,
    name: &str,
    side: Side,
    limit: u64,
    (worst, at): (u64, u64),
    scale: Timescale,
) -> CheckResult {
    let (limit, worst) = (scale.nanoseconds(limit), scale.nanoseconds(worst));
    let mut result = CheckResult::judged(ID, PROTECTS, "ns", side, limit, worst)
        .part(part(line, name))
        .source(&line.source);
    result.time_s = Some(scale.seconds(at));
    result
}

fn clocked(
    line: &LineFound,
    period: u64,
    times: &ClockedTimes,
    scale: Timescale,
    out: &mut Vec<CheckResult>,
) {
    out.push(at_least(line, "clock-period", period, &times.period, scale));
    let needed = line.pixels.div_ceil(2) as f64;
    out.push(match times.end_clocks {
        Some(clocks) => CheckResult::judged(
            ID,
            PROTECTS,
            "clocks",
            Side::AtLeast,
            needed,
            clocks as f64,
        )
        .part(part(line, "end-frame"))
        .source(END_SOURCE)
        .why("clocks after the last pixel and before the next frame's start: with fewer the last pixels come a frame late"),
        None => CheckResult::not_checked(ID, PROTECTS, "clocks", "the capture has no whole frame")
            .part(part(line, "end-frame")),
    });
}

/// Bursts that are no frames.
fn bursts(line: &LineFound, scale: Timescale) -> CheckResult {
    let name = part(line, "bursts");
    if line.bursts == 0 {
        let why = "the capture has no data on this line";
        return CheckResult::not_checked(ID, PROTECTS, "bursts", why).part(name);
    }
    let refused = line.refused();
    let mut result =
        CheckResult::judged(ID, PROTECTS, "bursts", Side::AtMost, 0.0, refused as f64).part(name);
    let first = line.faults.iter().find(|f| !f.kind.of_the_capture());
    result.time_s = first.map(|f| scale.seconds(f.at));
    let what = first.map_or_else(String::new, |f| {
        format!(
            "; the first: {} after {} of {} bits",
            f.kind.words(),
            f.bit,
            line.bits
        )
    });
    result.why(format!(
        "{refused} of {} bursts are no frames and were not decoded{what}",
        line.bursts
    ))
}
