//! What the page asks, answered from a reading: the same for the server and for the engine within a report.

use super::reading::{held, Reading};
use super::series::{names, row};
use super::sheet::Sheet;
use super::wish::Wish;
use crate::build::diag::{InputError, InputErrors};
use crate::profile::bench::Bench;
use crate::profile::{cap_levels, shown, Chunk, FrameStream};
use crate::study::digest::{digestible, Digest};
use crate::study::trace::{cap_of, Search, Trace};
use crate::study::verdict::CheckResult;
use crate::study::watch::{watch_each, worst_first, worst_of, StudyError};
use lampwright_model::Layout;
use rayon::prelude::*;
use serde::Deserialize;
use serde_json::{json, Value};

/// Longest play that is shown frame by frame, bytes of its answer; what lies beyond is judged but not shown.
const MOST_BYTES: usize = 96 << 20;
const CHUNK_FRAMES: usize = 256;

/// Why there is no answer.
#[derive(Debug)]
pub(super) enum Refusal {
    /// The input has faults, or the circuit cannot be solved.
    Input(InputErrors),
    /// The page no longer wants it.
    Dropped,
    /// It cannot be played by hand, or not now.
    Live(&'static str),
}

impl From<InputErrors> for Refusal {
    fn from(errors: InputErrors) -> Self {
        Self::Input(errors)
    }
}

impl From<StudyError> for Refusal {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Input(errors) => Self::Input(errors),
            StudyError::Network(error) => {
                let error = InputError::whole(format!("the netlist cannot be solved: {error}"));
                Self::Input(error.help("the wiring findings say what is wrong").into())
            }
        }
    }
}

/// Asked now and then: whether nobody waits for the answer any more.
pub(super) type IsDropped<'a> = dyn Fn() -> bool + Sync + 'a;

/// A stream that ends with a fault once nobody wants it.
struct Unless<'a> {
    inner: Box<dyn FrameStream + 'a>,
    dropped: &'a IsDropped<'a>,
}

impl FrameStream for Unless<'_> {
    fn layout(&self) -> Layout {
        self.inner.layout()
    }

    fn period_s(&self) -> f64 {
        self.inner.period_s()
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        if (self.dropped)() {
            return Err(InputError::whole("no longer wanted").into());
        }
        self.inner.fill(chunk, frames)
    }
}

fn results_json(wish: &Wish, mut each: Vec<Vec<CheckResult>>) -> Value {
    let mut results = if wish.over_set {
        worst_of(each)
    } else {
        each.pop().unwrap_or_default()
    };
    worst_first(&mut results);
    json!(results)
}

/// The digest of a play at the wish's cap: the very frames of the trace at that cap, where they can be had by
/// themselves. A recording knows no other cap than by scaling, so that scaled frames are the very ones too; those of a
/// program are near them.
fn digest_at(
    play: &dyn Trace,
    wish: &Wish,
    digest: &Digest,
) -> Result<(Digest, bool), InputErrors> {
    let wanted = digest.frames().map(|(frame, _)| frame.moment.frame);
    match play.only(wanted.collect(), wish.cap)? {
        Some(mut stream) => Ok((digest.retaken(stream.as_mut())?, true)),
        None => Ok((
            digest.with_levels(|levels| cap_levels(levels, wish.cap)),
            false,
        )),
    }
}

/// The levels of the frame that is shown at a time; empty where it cannot be had by itself.
fn light_at(play: &dyn Trace, wish: &Wish, at_s: f64) -> Result<Vec<u8>, InputErrors> {
    let Some(preset) = play.preset() else {
        return Ok(Vec::new());
    };
    // As the page looks a frame up: the last that begins at or before the time. Casts saturate.
    let rate_hz = f64::from(preset.frame_rate_hz);
    let until_s = at_s.max(0.0) * (1.0 + 1e-7) + 1e-4;
    let mut index = (until_s * rate_hz).floor() as u64;
    if let Some(length_s) = play.length_s() {
        let frames = (length_s * rate_hz - 1e-6).ceil() as u64;
        index = index.min(frames.saturating_sub(1));
    }
    let Some(mut stream) = play.only(vec![index], wish.cap)? else {
        return Ok(Vec::new());
    };
    let mut chunk = Chunk::new();
    stream.fill(&mut chunk, 1)?;
    Ok(chunk.levels)
}

/// What is asked of [`quick`].
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct QuickAsk {
    /// What the page wants to see.
    pub(super) wish: Wish,
    /// The moment whose light is shown, seconds from the start.
    pub(super) at_s: f64,
}

/// An estimate from a digest: margins that a digest can give, currents over time, and the light of one moment. What makes
/// it an estimate is that each frame of a digest stands for those around it; the light is exact.
pub(super) fn quick(reading: &Reading, ask: &QuickAsk) -> Result<Vec<u8>, Refusal> {
    let wish = &ask.wish;
    let prop = &reading.shown.prop;
    let play = reading.play(wish)?;
    let digest = reading.digest(wish)?;
    let (capped, rendered) = digest_at(play, wish, &digest)?;
    let light = light_at(play, wish, ask.at_s)?;
    let (each, columns) = rayon::join(
        || {
            let conditions = wish.judged_under(prop).into_par_iter();
            let each = conditions.map(|c| capped.play(prop, play.preset(), c));
            each.collect::<Result<Vec<_>, _>>()
        },
        || -> Result<Sheet, StudyError> {
            let mut bench = Bench::new(prop, wish.condition(prop))?;
            let circuit = bench.circuit().clone();
            let (mut sheet, mut values) = (Sheet::new(names(&circuit)), Vec::new());
            bench.play(capped.shown(prop), |frame, figures| {
                row(figures, &circuit, frame.period_s, &mut values);
                sheet.push(values.iter().copied());
            });
            Ok(sheet)
        },
    );
    let mut each = each?;
    for results in &mut each {
        results.retain(digestible);
    }
    let mut sheet = columns?;
    sheet.frame_len = light.len();
    sheet.levels = light;
    let head = json!({
        "margins": results_json(wish, each), "estimate": true, "cap": wish.cap,
        "rendered": rendered, "light_at_s": ask.at_s,
    });
    Ok(sheet.bytes(head))
}

/// Every frame under the wish's condition.
pub(super) fn play(
    reading: &Reading,
    wish: &Wish,
    dropped: &IsDropped<'_>,
) -> Result<Vec<u8>, Refusal> {
    let prop = &reading.shown.prop;
    let play = reading.play(wish)?;
    let mut bench = Bench::new(prop, wish.condition(prop)).map_err(StudyError::from)?;
    let circuit = bench.circuit().clone();
    let mut stream = play.open(prop, wish.cap)?;
    let period_s = stream.period_s();
    let columns = names(&circuit);
    let most = MOST_BYTES / (stream.layout().frame_len() + 4 * columns.len()).max(1);
    let (mut sheet, mut values) = (Sheet::new(columns), Vec::new());
    let (mut chunk, mut cues, mut whole) = (Chunk::new(), Vec::new(), true);
    while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
        if dropped() {
            return Err(Refusal::Dropped);
        }
        sheet.frame_len = chunk.frame_len;
        bench.play(shown(prop, &chunk, period_s), |_, figures| {
            row(figures, &circuit, period_s, &mut values);
            sheet.push(values.iter().copied());
        });
        sheet.levels.extend_from_slice(&chunk.levels);
        let new = chunk.cues.iter();
        cues.extend(new.map(|c| json!({ "time_s": c.time_s, "cue": c.cue.kind().name() })));
        if sheet.len() >= most {
            whole = false;
            break;
        }
    }
    let head = json!({
        "period_s": period_s, "cap": wish.cap, "cues": cues, "whole": whole,
        "condition": wish.condition(prop).to_string(), "estimate": false,
    });
    Ok(sheet.bytes(head))
}

/// The checks over the whole trace.
pub(super) fn margins(
    reading: &Reading,
    wish: &Wish,
    dropped: &IsDropped<'_>,
) -> Result<Value, Refusal> {
    let prop = &reading.shown.prop;
    let play = reading.play(wish)?;
    let inner = play.open(prop, wish.cap)?;
    let mut stream = Unless { inner, dropped };
    let conditions = wish.judged_under(prop);
    let each = watch_each(prop, play.preset(), conditions, &mut stream, &|_| {})?;
    Ok(json!({ "margins": results_json(wish, each), "estimate": false, "cap": wish.cap }))
}

/// The highest safe cap of what is played, over the cautious conditions. Whoever asks while it is being made waits for it.
pub(super) fn cap(reading: &Reading, wish: &Wish) -> Result<Value, Refusal> {
    let play = reading.play(wish)?;
    let Some(slot) = reading.caps.get(wish.play) else {
        return Err(Refusal::Dropped);
    };
    let mut slot = held(slot);
    if let Some(found) = slot.as_ref() {
        return Ok(found.clone());
    }
    let found = cap_of(&reading.shown.prop, play, Search::Likely, &|_, _| {})?;
    let told = json!({
        "cap": found.cap, "binding": found.binding, "part": found.binding_part,
        "not_mended": found.not_mended.len(),
    });
    *slot = Some(told.clone());
    Ok(told)
}
