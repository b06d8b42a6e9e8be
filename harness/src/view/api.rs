//! What the page can ask.

use super::desk::{held, Desk, Reading};
use super::faults::faults_json;
use super::live::Sessions;
use super::series::{names, row, wires, REST};
use super::sheet::Sheet;
use super::wish::Wish;
use crate::build::diag::{InputError, InputErrors};
use crate::profile::bench::Bench;
use crate::profile::{cap_levels, shown, Chunk, FrameStream};
use crate::report::cautions::CAUTIONS;
use crate::report::diagram::live as live_diagram;
use crate::report::profile_picture::{current_limits, voltage_limits};
use crate::study::digest::digestible;
use crate::study::rules::findings;
use crate::study::trace::{cap_of, Search};
use crate::study::verdict::CheckResult;
use crate::study::watch::{watch_each, worst_first, worst_of, StudyError};
use crate::units::Quantity;
use axum::extract::State;
use axum::http::{header, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::Json;
use lampwright_model::Layout;
use rayon::prelude::*;
use serde::Deserialize;
use serde_json::{json, Value};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::Arc;
use std::time::Duration;

/// Longest play that is shown frame by frame, bytes of its answer; what lies beyond is judged but not shown.
const MOST_BYTES: usize = 96 << 20;
/// How long a question for news waits before it is answered that there is none.
const WAIT: Duration = Duration::from_secs(25);
const CHUNK_FRAMES: usize = 256;

/// What every answer needs.
#[derive(Clone)]
pub(super) struct Shared {
    pub(super) desk: Arc<Desk>,
    pub(super) sessions: Arc<Sessions>,
}

impl Shared {
    pub(super) fn new(desk: Arc<Desk>) -> Self {
        Self {
            desk,
            sessions: Arc::default(),
        }
    }
}

/// Why there is no answer.
pub(super) enum Refusal {
    /// The input has faults, or the circuit cannot be solved.
    Input(InputErrors),
    /// The page no longer wants it.
    Dropped,
    /// There are too many live plays, or there is no such one.
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

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let (code, faults) = match self {
            Self::Input(errors) => (StatusCode::UNPROCESSABLE_ENTITY, faults_json(&errors)),
            Self::Dropped => (StatusCode::CONFLICT, json!([])),
            Self::Live(why) => (StatusCode::CONFLICT, json!([{ "message": why }])),
        };
        (code, Json(json!({ "faults": faults }))).into_response()
    }
}

/// Says to the work behind a request that nobody waits for it any more.
struct Dropped(Arc<AtomicBool>);

impl Drop for Dropped {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Computes off the threads that serve; the work is told when the page has hung up.
pub(super) async fn compute<T: Send + 'static>(
    work: impl FnOnce(&AtomicBool) -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refusal> {
    let flag = Arc::new(AtomicBool::new(false));
    let guard = Dropped(flag.clone());
    let done = tokio::task::spawn_blocking(move || work(&flag)).await;
    drop(guard);
    done.unwrap_or(Err(Refusal::Dropped))
}

/// A stream that ends with a fault once nobody wants it.
struct Unless<'a> {
    inner: Box<dyn FrameStream + 'a>,
    dropped: &'a AtomicBool,
}

impl FrameStream for Unless<'_> {
    fn layout(&self) -> Layout {
        self.inner.layout()
    }

    fn period_s(&self) -> f64 {
        self.inner.period_s()
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        if self.dropped.load(Ordering::Relaxed) {
            return Err(InputError::whole("no longer wanted").into());
        }
        self.inner.fill(chunk, frames)
    }
}

/// Which variant is asked about.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Which {
    variant: Option<String>,
}

/// The prop and what can be played, and the faults of the last reading.
pub(super) async fn prop(
    State(shared): State<Shared>,
    Json(which): Json<Which>,
) -> Result<Json<Value>, Refusal> {
    let generation = *shared.desk.generation().borrow();
    compute(move |_| {
        let reading = shared.desk.reading(which.variant.as_deref())?;
        let mut told = describe(&reading);
        if let Some(told) = told.as_object_mut() {
            told.insert("generation".into(), json!(generation));
            let faults = shared.desk.faults().as_ref().map(faults_json);
            told.insert("faults".into(), faults.unwrap_or_else(|| json!([])));
        }
        Ok(Json(told))
    })
    .await
}

fn describe(reading: &Reading) -> Value {
    let shown = &reading.shown;
    let prop = &shown.prop;
    let bench = Bench::new(prop, crate::profile::condition::Condition::nominal()).ok();
    let carrying: Vec<usize> = bench
        .as_ref()
        .map_or_else(Vec::new, |b| wires(b.circuit()).map(|(_, w)| w).collect());
    let plays = shown.plays.iter().map(|p| {
        json!({ "preset": p.preset_name(), "cues": p.cues_name(), "length_s": p.length_s(), "live": p.preset().is_some() })
    });
    let strips = prop.strips().map(|(i, s)| {
        let name = prop.parts.get(i).map_or("", |p| p.name.as_str());
        let pitch_m = s.pitch.as_ref().map(|p| p.si());
        json!({ "name": name, "first": s.first, "pixels": s.pixels, "pitch_m": pitch_m })
    });
    let limit = |l: crate::report::picture::Limit| json!({ "name": l.name, "value": l.value });
    json!({
        "schema": "lampwright/view-prop/1",
        "name": prop.name, "note": prop.note, "variant": prop.variant, "variants": shown.variants, "cap": shown.cap,
        "channels": prop.frame_channels(), "strips": strips.collect::<Vec<_>>(), "plays": plays.collect::<Vec<_>>(),
        "current_limits": current_limits(prop).into_iter().map(limit).collect::<Vec<_>>(),
        "voltage_limits": voltage_limits(prop).into_iter().map(limit).collect::<Vec<_>>(),
        "wires": prop.wires.iter().map(|w| w.name.clone()).collect::<Vec<_>>(),
        "rest": REST, "diagram": live_diagram(prop, &carrying), "findings": findings(prop), "cautions": CAUTIONS,
    })
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

fn sheet(bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, "application/octet-stream")], bytes).into_response()
}

/// An estimate from a digest: margins that a digest can give, and currents over time.
pub(super) async fn quick(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Response, Refusal> {
    compute(move |_| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let prop = &reading.shown.prop;
        let play = reading.play(&wish)?;
        let digest = reading.digest(&wish)?;
        let capped = digest.with_levels(|levels| cap_levels(levels, wish.cap));
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
        let head =
            json!({ "margins": results_json(&wish, each), "estimate": true, "cap": wish.cap });
        Ok(sheet(columns?.bytes(head)))
    })
    .await
}

/// Every frame under the wish's condition.
pub(super) async fn play(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Response, Refusal> {
    compute(move |dropped| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let prop = &reading.shown.prop;
        let play = reading.play(&wish)?;
        let mut bench = Bench::new(prop, wish.condition(prop)).map_err(StudyError::from)?;
        let circuit = bench.circuit().clone();
        let mut stream = play.open(prop, wish.cap)?;
        let period_s = stream.period_s();
        let columns = names(&circuit);
        let most = MOST_BYTES / (stream.layout().frame_len() + 4 * columns.len()).max(1);
        let (mut sheet_, mut values) = (Sheet::new(columns), Vec::new());
        let (mut chunk, mut cues, mut whole) = (Chunk::new(), Vec::new(), true);
        while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
            if dropped.load(Ordering::Relaxed) {
                return Err(Refusal::Dropped);
            }
            sheet_.frame_len = chunk.frame_len;
            bench.play(shown(prop, &chunk, period_s), |_, figures| {
                row(figures, &circuit, period_s, &mut values);
                sheet_.push(values.iter().copied());
            });
            sheet_.levels.extend_from_slice(&chunk.levels);
            let new = chunk.cues.iter();
            cues.extend(new.map(|c| json!({ "time_s": c.time_s, "cue": c.cue.kind().name() })));
            if sheet_.len() >= most {
                whole = false;
                break;
            }
        }
        let head = json!({
            "period_s": period_s, "cap": wish.cap, "cues": cues, "whole": whole,
            "condition": wish.condition(prop).to_string(), "estimate": false,
        });
        Ok(sheet(sheet_.bytes(head)))
    })
    .await
}

/// The checks over the whole trace.
pub(super) async fn margins(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Json<Value>, Refusal> {
    compute(move |dropped| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let prop = &reading.shown.prop;
        let play = reading.play(&wish)?;
        let inner = play.open(prop, wish.cap)?;
        let mut stream = Unless { inner, dropped };
        let conditions = wish.judged_under(prop);
        let each = watch_each(prop, play.preset(), conditions, &mut stream, &|_| {})?;
        Ok(Json(
            json!({ "margins": results_json(&wish, each), "estimate": false, "cap": wish.cap }),
        ))
    })
    .await
}

/// The highest safe cap of what is played, over the cautious conditions.
pub(super) async fn cap(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Json<Value>, Refusal> {
    compute(move |_| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let play = reading.play(&wish)?;
        let Some(slot) = reading.caps.get(wish.play) else {
            return Err(Refusal::Dropped);
        };
        // Whoever asks while it is being made waits for it.
        let mut slot = held(slot);
        if let Some(found) = slot.as_ref() {
            return Ok(Json(found.as_ref().clone()));
        }
        let found = cap_of(&reading.shown.prop, play, Search::Screened(0), &|_, _| {})?;
        let told = Arc::new(json!({
            "cap": found.cap, "binding": found.binding, "part": found.binding_part,
            "not_mended": found.not_mended.len(),
        }));
        *slot = Some(told.clone());
        Ok(Json(told.as_ref().clone()))
    })
    .await
}

/// Which reading the page has.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Seen {
    generation: u64,
}

/// Answers when there is a newer reading, or after a while that there is none.
pub(super) async fn wait(State(shared): State<Shared>, Json(seen): Json<Seen>) -> Json<Value> {
    let mut generation = shared.desk.generation();
    let newer = generation.wait_for(|g| *g != seen.generation);
    let _ = tokio::time::timeout(WAIT, newer).await;
    let now = *shared.desk.generation().borrow();
    Json(json!({ "generation": now }))
}
