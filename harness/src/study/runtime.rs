//! How long the cell lasts under a usage pattern, by steps over its state of charge.
//!
//! # Method
//! When a trace is played again and again, cell current and voltages settle to a cycle that depends on
//! the state of charge alone: the state of charge falls by little in a loop, and the cell's RC pairs
//! follow within a minute. So the mean current `I(s)` is read from a digest of each preset played at a
//! held state of charge, and the time from full to `s` is `∫ Q/I ds`. The integral is taken by Simpson's
//! rule on intervals that are halved until halving changes them by less than a share of
//! [`TOLERANCE`]; an end (cut-off, brown-out, first failing check) is found by halving over `s`.
//!
//! # Error
//! Given with the result: what halving still changes, plus the mean square by which the drive of a
//! digest's runs scatters about its frames (the mean itself is corrected for). Not in it: the state of charge at which an end falls within a loop, at
//! most one loop's length, and everything that the cell model itself does not know (recovery at rest,
//! self-discharge, warming).

use super::digest::Digest;
use super::trace::{digest, Trace};
use super::verdict::{CheckResult, Verdict};
use super::watch::{StudyError, Watcher};
use crate::build::parts::CellType;
use crate::build::prop::{PartKind, Prop};
use crate::profile::condition::Condition;
use crate::profile::figures::Moment;
use crate::profile::{sound, Shown};
use crate::units::math;
use crate::units::{Charge, Quantity};
use lampwright_model::State;
use serde::Serialize;
use std::collections::BTreeMap;

/// Share of an interval's time that halving it may still change.
pub const TOLERANCE: f64 = 2e-3;
/// Capacity, coulombs, with which a state of charge stays where it is.
const HELD_C: f64 = 1e15;
/// Frames of a digest.
const DIGEST_FRAMES: usize = 150;
/// State of charge to which ends are found.
const RESOLUTION: f64 = 1e-3;
/// Below this a current is that of the model's open switch, not of the prop, amperes.
const NOTHING_A: f64 = 1e-7;
/// Resistance of an open switch, ohms.
const OPEN_OHM: f64 = 1e9;

/// An end of the show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct End {
    /// What happens: `cut-off`, `protection-trip`, `brown-out`, `first-limit`.
    pub what: &'static str,
    /// The check and part that it is about, where it is one.
    pub check: Option<String>,
    /// Minutes from full; null where it never happens down to the cell's end.
    pub minutes: Option<f64>,
    /// State of charge then.
    pub soc: Option<f64>,
}

/// Runtime of a prop under one condition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Runtime {
    /// The condition, in words.
    pub condition: String,
    /// Mean current at 60 % charge, amperes.
    pub mean_a: f64,
    /// The ends in order of the build's importance.
    pub ends: Vec<End>,
    /// Which of cut-off, protection and brown-out comes first and so ends the show.
    pub ended_by: &'static str,
    /// Error of the minutes, as a share: see the module.
    pub error_share: f64,
    /// Frames solved.
    pub frames: u64,
}

/// What a forgotten prop draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Standby {
    /// Current with the switch on and the prop dark, amperes; null where it cannot be solved.
    pub on_a: Option<f64>,
    /// Hours from full to empty with that.
    pub on_hours: Option<f64>,
    /// Current with every switch open, amperes.
    pub off_a: Option<f64>,
    /// Hours from full to empty with that; null where nothing is drawn.
    pub off_hours: Option<f64>,
}

/// A preset's share of the time.
pub struct Use<'a> {
    /// What is played.
    pub trace: &'a dyn Trace,
    /// Share of the time, 0..1.
    pub share: f64,
}

/// Shares of time for traces: those of the build's `[usage]`, else the same for each. Several cue traces
/// of one preset share its time.
pub fn usage<'a>(prop: &Prop, traces: &[&'a dyn Trace]) -> Vec<Use<'a>> {
    let named = |name: &str| {
        traces
            .iter()
            .filter(|t| t.preset_name().as_deref() == Some(name))
            .count()
    };
    traces
        .iter()
        .map(|trace| {
            let share = if prop.usage.is_empty() {
                1.0 / traces.len() as f64
            } else {
                let name = trace.preset_name().unwrap_or_default();
                let stated = prop.usage.iter().find(|(n, _)| *n == name);
                stated.map_or(0.0, |(n, s)| s.si() / named(n).max(1) as f64)
            };
            Use {
                trace: *trace,
                share,
            }
        })
        .collect()
}

struct Study<'a> {
    held: &'a Prop,
    digests: Vec<(&'a Use<'a>, Digest)>,
    condition: Condition,
    /// Mean current switched on but dark, and its share of the time.
    off_share: f64,
    points: BTreeMap<u64, Point>,
    frames: u64,
}

#[derive(Debug, Clone)]
struct Point {
    mean_a: f64,
    least_cell_v: f64,
    failing: Vec<(&'static str, String)>,
}

/// The runtime of a prop under a condition whose state of charge is not used, at a cap.
///
/// # Errors
/// Faulty frames, or a netlist that cannot be solved.
pub fn runtime(
    prop: &Prop,
    uses: &[Use<'_>],
    condition: Condition,
    cap: u8,
) -> Result<Runtime, StudyError> {
    let mut held = prop.clone();
    for part in &mut held.parts {
        if let PartKind::Cell(cell) = &mut part.kind {
            let held = Charge::from_si(HELD_C);
            (cell.capacity.nominal, cell.capacity.low, cell.capacity.high) = (held, held, held);
        }
    }
    let played: Vec<&Use<'_>> = uses.iter().filter(|u| u.share > 0.0).collect();
    let mut digests = Vec::new();
    let mut deviation: f64 = 0.0;
    for used in played {
        let digest = digest(prop, used.trace, &[], DIGEST_FRAMES)?
            .with_levels(|l| crate::profile::cap_levels(l, cap));
        deviation = deviation.max(scatter(&digest));
        digests.push((used, digest));
    }
    let off_share = (1.0 - uses.iter().map(|u| u.share).sum::<f64>()).max(0.0);
    let mut study = Study {
        held: &held,
        digests,
        condition,
        off_share,
        points: BTreeMap::new(),
        frames: 0,
    };
    let cell = prop.cell().map(|(_, c)| c);
    let capacity_c = cell.map_or(0.0, |c| capacity_c(c, &condition));
    let cut_off_v = cell.map_or(0.0, |c| c.cut_off.si());
    let empty = study.lowest(|p| p.least_cell_v >= cut_off_v)?;
    let mean_a = study.point(0.6)?.mean_a;
    let mut ends = Vec::new();
    let mut error: f64 = 0.0;
    let mut end = |study: &mut Study<'_>, what, check: Option<String>, soc: Option<f64>| {
        let minutes = match soc {
            Some(soc) if soc < 1.0 => {
                let (seconds, off) = study.integral(soc, 1.0, capacity_c)?;
                error = error.max(off);
                Some(seconds / 60.0)
            }
            Some(_) => Some(0.0),
            None => None,
        };
        ends.push(End {
            what,
            check,
            minutes,
            soc,
        });
        Ok::<(), StudyError>(())
    };
    end(&mut study, "cut-off", None, Some(empty))?;
    let trip = |f: &(&str, String)| f.0 == "protection-trip";
    let (soc, check) = study.first_failing(empty, &trip)?;
    end(&mut study, "protection-trip", check, soc)?;
    // A card below its least supply may fail; the board goes on.
    let brown = |f: &(&str, String)| f.0 == "board-supply" && !f.1.ends_with(" card");
    let (soc, check) = study.first_failing(empty, &brown)?;
    end(&mut study, "brown-out", check, soc)?;
    let (soc, check) = study.first_failing(empty, &|_| true)?;
    end(&mut study, "first-limit", check, soc)?;
    Ok(Runtime {
        condition: words(&condition),
        mean_a,
        ended_by: first_of(&ends),
        ends,
        error_share: error + deviation,
        frames: study.frames,
    })
}

/// The end that comes first, other than that of a check that only warns.
fn first_of(ends: &[End]) -> &'static str {
    ends.iter()
        .filter(|e| e.what != "first-limit")
        .filter_map(|e| Some((e.minutes?, e.what)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or("cut-off", |(_, what)| what)
}

/// The condition without its state of charge, which runs from full to empty.
fn words(condition: &Condition) -> String {
    let all = condition.to_string();
    all.split_once(", ")
        .map_or(all.clone(), |(_, rest)| rest.to_owned())
}

fn capacity_c(cell: &CellType, condition: &Condition) -> f64 {
    let new = if condition.cautious {
        cell.capacity.low_si()
    } else {
        cell.capacity.si()
    };
    if condition.aged {
        new * (1.0 - cell.ageing_capacity.si())
    } else {
        new
    }
}

/// Mean square by which the drive of runs differs from that of the frames that stand for them. The first
/// order of it is corrected for, so this is the size of what is left.
fn scatter(digest: &Digest) -> f64 {
    let (mut sum, mut time_s) = (0.0, 0.0);
    for (frame, _) in digest.frames() {
        sum += math::powi(frame.weight - 1.0, 2).min(1.0) * frame.period_s;
        time_s += frame.period_s;
    }
    sum / time_s
}

impl Study<'_> {
    fn at(&self, soc: f64) -> Condition {
        Condition {
            soc,
            ..self.condition
        }
    }

    /// The settled cycle at a state of charge.
    fn point(&mut self, soc: f64) -> Result<Point, StudyError> {
        let key = (soc * 1e6).round() as u64;
        if let Some(point) = self.points.get(&key) {
            return Ok(point.clone());
        }
        let mut point = Point {
            mean_a: 0.0,
            least_cell_v: f64::INFINITY,
            failing: Vec::new(),
        };
        let off = dark(self.held, self.at(soc))?;
        self.frames += 1;
        for (used, digest) in &self.digests {
            let preset = used.trace.preset();
            let (watcher, mean_a) =
                digest.play_settled(self.held, preset, self.at(soc), off.mean_a())?;
            self.frames += 2 * digest.len() as u64;
            point.mean_a += used.share * mean_a;
            point.least_cell_v = point.least_cell_v.min(watcher.least_cell_v());
            point.failing.extend(failing(&watcher.results()));
        }
        if self.off_share > 0.0 {
            point.mean_a += self.off_share * off.mean_a();
            point.least_cell_v = point.least_cell_v.min(off.least_cell_v());
        }
        self.points.insert(key, point.clone());
        Ok(point)
    }

    /// The lowest state of charge at which something still holds, where it holds when full.
    fn lowest(&mut self, holds: impl Fn(&Point) -> bool) -> Result<f64, StudyError> {
        if !holds(&self.point(1.0)?) {
            return Ok(1.0);
        }
        if holds(&self.point(0.0)?) {
            return Ok(0.0);
        }
        let (mut low, mut high) = (0.0, 1.0);
        while high - low > RESOLUTION {
            let middle = f64::midpoint(low, high);
            if holds(&self.point(middle)?) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(f64::midpoint(low, high))
    }

    /// The highest state of charge at which a wanted check fails, above the cell's end, and which.
    fn first_failing(
        &mut self,
        empty: f64,
        wanted: &dyn Fn(&(&'static str, String)) -> bool,
    ) -> Result<(Option<f64>, Option<String>), StudyError> {
        let soc = self.lowest(|p| !p.failing.iter().any(wanted))?;
        if soc <= empty {
            return Ok((None, None));
        }
        let below = self.point((soc - RESOLUTION).max(0.0))?;
        let name = below
            .failing
            .iter()
            .find(|f| wanted(f))
            .map(|(id, part)| format!("{id} ({part})"));
        Ok((Some(soc), name))
    }

    /// Seconds from `high` down to `low`, and the share that halving still changes.
    fn integral(&mut self, low: f64, high: f64, capacity_c: f64) -> Result<(f64, f64), StudyError> {
        let mut total = 0.0;
        let mut off = 0.0;
        let mut open = vec![(low, high)];
        while let Some((a, b)) = open.pop() {
            let m = f64::midpoint(a, b);
            let mut slowness = |s: f64| Ok::<f64, StudyError>(capacity_c / self.point(s)?.mean_a);
            let (fa, fm, fb) = (slowness(a)?, slowness(m)?, slowness(b)?);
            let whole = (b - a) / 6.0 * (fa + 4.0 * fm + fb);
            // Simpson's rule against the trapezium rule: the latter's error is far above the former's.
            let coarse = (b - a) / 2.0 * (fa + fb);
            let change = (whole - coarse).abs() / 15.0;
            if change > TOLERANCE * whole && b - a > 0.02 {
                open.push((a, m));
                open.push((m, b));
                continue;
            }
            total += whole;
            off += change;
        }
        Ok((total, if total > 0.0 { off / total } else { 0.0 }))
    }
}

fn failing(results: &[CheckResult]) -> Vec<(&'static str, String)> {
    let timing = [
        "flash-rate",
        "response-time",
        "rise-fall-time",
        "frame-time",
        "polarity",
        "runtime",
    ];
    results
        .iter()
        .filter(|r| r.verdict == Verdict::Fails && !timing.contains(&r.id))
        .map(|r| (r.id, r.part.clone().unwrap_or_default()))
        .collect()
}

/// One dark frame without sound.
fn dark(prop: &Prop, condition: Condition) -> Result<Watcher<'_>, StudyError> {
    let mut watcher = Watcher::new(prop, None, condition)?;
    let moment = Moment {
        state: Some(State::Dark),
        ..Moment::at(0, 0.0)
    };
    let levels = vec![0; prop.pixels() as usize * prop.frame_channels()];
    let frame = Shown {
        levels: &levels,
        moment,
        period_s: 1.0,
        sound: sound::level(&prop.sound, &moment),
    };
    watcher.play_frames(std::iter::once(frame), |_, _| ());
    Ok(watcher)
}

/// What the prop draws when it is forgotten, at 60 % charge and room temperature.
///
/// # Errors
/// A netlist that cannot be solved.
pub fn standby(prop: &Prop) -> Result<Standby, StudyError> {
    let condition = Condition::nominal();
    let capacity_c = prop.cell().map_or(0.0, |(_, c)| c.capacity.si());
    let known = |a: f64| a.is_finite().then_some(a);
    let hours = |a: Option<f64>| {
        a.filter(|a| *a > NOTHING_A)
            .map(|a| capacity_c / a / 3600.0)
    };
    let on_a = known(dark(prop, condition)?.mean_a());
    let mut open = prop.clone();
    let mut switched = false;
    for part in &mut open.parts {
        if let PartKind::Switch(c) = &mut part.kind {
            let ohm = Quantity::from_si(OPEN_OHM);
            (c.resistance.nominal, c.resistance.low, c.resistance.high) = (ohm, ohm, ohm);
            switched = true;
        }
    }
    let off_a = match switched {
        // A load that cannot run behind an open switch draws nothing.
        true => Some(known(dark(&open, condition)?.mean_a()).unwrap_or(0.0)),
        false => on_a,
    };
    Ok(Standby {
        on_a,
        on_hours: hours(on_a),
        off_a,
        off_hours: hours(off_a),
    })
}
