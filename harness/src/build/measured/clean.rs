//! Times that stand still or go back, gaps, and a current that stays at the end of the range.

use super::{Measured, Note};
use crate::build::diag::{InputError, InputErrors, Place, Source};

/// Share of rows whose time may go back before the log counts as shuffled.
const MOST_BACK: f64 = 0.01;
/// Share of rows with the time of the row before from which the clock counts as coarse.
const COARSE: f64 = 0.25;
/// A pause this many times the usual interval is a gap.
const GAP: f64 = 5.0;
/// So many equal readings at the top are a meter at the end of its range, where readings elsewhere move.
const FLAT: usize = 8;
/// Share of readings that equal the one before from which the meter counts as too coarse to tell.
const STILL: f64 = 0.2;

/// Makes times rise and says what was odd. `lines` gives the line of every 4096th sample.
pub(super) fn clean(mut log: Measured, lines: &[(usize, u64)]) -> Result<Measured, InputErrors> {
    if log.time_s.len() < 2 {
        let error = InputError::whole(format!(
            "{}: has {} sample, two and more are needed",
            log.name,
            log.time_s.len()
        ));
        return Err(error.help("log the prop for some seconds at least").into());
    }
    let line_of = |sample: usize| {
        let at = lines.partition_point(|(s, _)| *s <= sample);
        at.checked_sub(1)
            .and_then(|k| lines.get(k))
            .map_or(0, |(s, line)| line + (sample - s) as u64)
    };
    backward(&mut log, &line_of)?;
    standing(&mut log, &line_of);
    let first = log.time_s.first().copied().unwrap_or(0.0);
    for t in &mut log.time_s {
        *t -= first;
    }
    log.interval_s = usual_interval(&log.time_s);
    if log.interval_s.is_nan() || log.interval_s <= 0.0 {
        let error = InputError::whole(format!("{}: every row has the same time", log.name));
        return Err(error
            .help("say how far apart the rows are with --interval, and take the time column out with --columns")
            .into());
    }
    gaps(&mut log, &line_of);
    flat_top(&mut log, &line_of);
    for (values, what) in [(&log.current_a, "current"), (&log.voltage_v, "voltage")] {
        if !values.is_empty() && values.iter().all(|v| !v.is_finite()) {
            let error = InputError::whole(format!(
                "{}: no reading of the {what} can be used",
                log.name
            ));
            return Err(error
                .help("all are empty or beyond the range: choose a larger range and log again")
                .into());
        }
    }
    Ok(log)
}

/// Keeps the samples for which `keep` holds.
fn retain(log: &mut Measured, keep: &[bool]) {
    for list in [&mut log.time_s, &mut log.current_a, &mut log.voltage_v] {
        let mut flags = keep.iter();
        list.retain(|_| flags.next().copied().unwrap_or(false));
    }
}

/// Takes out rows whose time lies before one already seen; refuses a log with many.
fn backward(log: &mut Measured, line_of: &dyn Fn(usize) -> u64) -> Result<(), InputErrors> {
    let mut latest = f64::NEG_INFINITY;
    let mut first = None;
    let mut keep = vec![true; log.time_s.len()];
    let mut back = 0_usize;
    for (k, (t, keep)) in log.time_s.iter().zip(&mut keep).enumerate() {
        if !t.is_finite() || *t < latest {
            *keep = false;
            back += 1;
            first.get_or_insert(k);
        } else {
            latest = *t;
        }
    }
    let Some(k) = first else { return Ok(()) };
    let line = line_of(k);
    if back as f64 > (MOST_BACK * log.time_s.len() as f64).max(3.0) {
        let text = log.time_s.get(k).map_or_else(String::new, f64::to_string);
        let source = Source::piece(
            log.name.as_str(),
            format!("{text} s"),
            line.saturating_sub(1) as usize,
            0,
        );
        let span = 0..text.len();
        let error = InputError::at(
            Place { source, span },
            format!(
                "the time goes back in {back} of {} rows, first here",
                log.time_s.len()
            ),
            "earlier than a row above",
        );
        return Err(error
            .help("is it two logs in one file, or sorted by something else? split it, or sort it by time")
            .into());
    }
    log.notes.push(Note::new(
        "rows whose time goes back, left out",
        back as u64,
        Some(line),
    ));
    retain(log, &keep);
    Ok(())
}

/// Rows with the time of the row before: of a coarse clock they are spread evenly up to the next time,
/// else the first of them is kept.
fn standing(log: &mut Measured, line_of: &dyn Fn(usize) -> u64) {
    let same = |w: &[f64]| w.first() == w.get(1);
    let count = log.time_s.windows(2).filter(|w| same(w)).count();
    if count == 0 {
        return;
    }
    let first = log.time_s.windows(2).position(same).unwrap_or(0) + 1;
    let line = Some(line_of(first));
    if count as f64 <= COARSE * log.time_s.len() as f64 {
        let mut keep = vec![true; log.time_s.len()];
        for (k, w) in log.time_s.windows(2).enumerate() {
            if let Some(keep) = keep.get_mut(k + 1).filter(|_| same(w)) {
                *keep = false;
            }
        }
        let what = "rows with the time of the row before, left out";
        log.notes.push(Note::new(what, count as u64, line));
        retain(log, &keep);
        return;
    }
    let what = "rows with the time of the row before: the clock is coarse, they are spread evenly";
    log.notes.push(Note::new(what, count as u64, line));
    spread(&mut log.time_s);
}

fn spread(times: &mut [f64]) {
    let mut start = 0;
    let mut tick = 0.0;
    while let Some(t) = times.get(start).copied() {
        let length = times
            .get(start..)
            .map_or(1, |r| r.iter().take_while(|u| **u == t).count());
        let next = times.get(start + length).copied();
        // The last run is as long as the one before it.
        tick = next.map_or(tick, |n| n - t);
        for (k, slot) in times.iter_mut().skip(start).take(length).enumerate() {
            *slot = t + tick * k as f64 / length as f64;
        }
        start += length;
    }
}

/// The median of the time between samples, seconds; of a long log that of many samples spread over it.
fn usual_interval(times: &[f64]) -> f64 {
    let step = (times.len() / 100_000).max(1);
    let mut gaps: Vec<f64> = times
        .windows(2)
        .step_by(step)
        .map(|w| w.get(1).copied().unwrap_or(0.0) - w.first().copied().unwrap_or(0.0))
        .collect();
    let middle = gaps.len() / 2;
    if gaps.is_empty() {
        return 0.0;
    }
    *gaps.select_nth_unstable_by(middle, f64::total_cmp).1
}

fn gaps(log: &mut Measured, line_of: &dyn Fn(usize) -> u64) {
    let limit = GAP * log.interval_s;
    let mut first = None;
    let (mut count, mut lost_s) = (0, 0.0);
    for (k, w) in log.time_s.windows(2).enumerate() {
        let pause = w.get(1).copied().unwrap_or(0.0) - w.first().copied().unwrap_or(0.0);
        if pause > limit {
            first.get_or_insert(k + 1);
            count += 1;
            lost_s += pause;
        }
    }
    if let Some(k) = first {
        let what = format!("gaps, {lost_s:.3} s together");
        log.notes.push(Note::new(what, count, Some(line_of(k))));
    }
}

/// A current that stays exactly at its highest value while it moves everywhere else.
fn flat_top(log: &mut Measured, line_of: &dyn Fn(usize) -> u64) {
    let top = log
        .current_a
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() || top <= 0.0 {
        return;
    }
    let (mut run, mut longest, mut at_top) = (0, 0, 0_u64);
    let (mut still, mut elsewhere) = (0_usize, 0_usize);
    let mut last = f64::NAN;
    let mut first = None;
    let readings = log.current_a.iter().enumerate();
    for (k, a) in readings.filter(|(_, a)| !a.is_nan()) {
        if *a == top {
            first.get_or_insert(k);
            at_top += 1;
            run += 1;
            longest = longest.max(run);
        } else {
            run = 0;
            elsewhere += 1;
            still += usize::from(*a == last);
        }
        last = *a;
    }
    if longest < FLAT || elsewhere == 0 || still as f64 > STILL * elsewhere as f64 {
        return;
    }
    for a in log.current_a.iter_mut().filter(|a| **a == top) {
        *a = f64::NAN;
    }
    let what = format!("readings flat at {top:.4} A, the end of the range as it seems, left out");
    log.notes.push(Note::new(what, at_top, first.map(line_of)));
}
