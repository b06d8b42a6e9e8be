//! What the page can ask.

use super::answers::{self, QuickAsk, Refusal};
use super::describe::describe;
use super::desk::Desk;
use super::faults::faults_json;
use super::live::Sessions;
use super::wish::Wish;
use axum::extract::State;
use axum::http::{header, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::Json;
use serde::Deserialize;
use serde_json::{json, Value};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::Arc;
use std::time::Duration;

/// How long a question for news waits before it is answered that there is none.
const WAIT: Duration = Duration::from_secs(25);

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
        let mut told = describe(&reading.shown);
        if let Some(told) = told.as_object_mut() {
            told.insert("generation".into(), json!(generation));
            let faults = shared.desk.faults().as_ref().map(faults_json);
            told.insert("faults".into(), faults.unwrap_or_else(|| json!([])));
        }
        Ok(Json(told))
    })
    .await
}

fn sheet(bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, "application/octet-stream")], bytes).into_response()
}

/// Answered by [`answers::quick`].
pub(super) async fn quick(
    State(shared): State<Shared>,
    Json(ask): Json<QuickAsk>,
) -> Result<Response, Refusal> {
    compute(move |_| {
        let reading = shared.desk.reading(ask.wish.variant.as_deref())?;
        Ok(sheet(answers::quick(&reading, &ask)?))
    })
    .await
}

/// Answered by [`answers::play`].
pub(super) async fn play(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Response, Refusal> {
    compute(move |dropped| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let is_dropped = || dropped.load(Ordering::Relaxed);
        Ok(sheet(answers::play(&reading, &wish, &is_dropped)?))
    })
    .await
}

/// Answered by [`answers::margins`].
pub(super) async fn margins(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Json<Value>, Refusal> {
    compute(move |dropped| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        let is_dropped = || dropped.load(Ordering::Relaxed);
        Ok(Json(answers::margins(&reading, &wish, &is_dropped)?))
    })
    .await
}

/// Answered by [`answers::cap`].
pub(super) async fn cap(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Json<Value>, Refusal> {
    compute(move |_| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        Ok(Json(answers::cap(&reading, &wish)?))
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
