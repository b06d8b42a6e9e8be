//! Playing by hand over the server: a thread for each play, which goes on for as long as the page asks.

use super::answers::Refusal;
use super::api::{compute, Shared};
use super::hand::{by_hand_no, HandCue, HandPlay};
use super::reading::{held, Reading};
use super::wish::Wish;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::Json;
use serde::Deserialize;
use serde_json::{json, Value};
use std::collections::HashMap;
use std::sync::mpsc::{channel, Receiver, Sender};
use std::sync::Mutex;
use std::time::Duration;

/// Most live plays at a time.
const MOST_SESSIONS: usize = 8;
/// A play nobody asks for ends after this.
const IDLE: Duration = Duration::from_secs(30);

struct Step {
    cues: Vec<HandCue>,
    frames: u32,
    answer: Sender<Vec<u8>>,
}

/// The live plays.
#[derive(Default)]
pub(super) struct Sessions {
    open: Mutex<HashMap<String, Sender<Step>>>,
}

/// Begins a live play and gives its id.
pub(super) async fn start(
    State(shared): State<Shared>,
    Json(wish): Json<Wish>,
) -> Result<Json<Value>, Refusal> {
    compute(move |_| {
        let reading = shared.desk.reading(wish.variant.as_deref())?;
        if reading.play(&wish)?.preset().is_none() {
            return Err(by_hand_no());
        }
        let id = super::guard::new_token().map_err(|_| Refusal::Live("no random numbers"))?;
        let (sender, receiver) = channel();
        {
            let mut open = held(&shared.sessions.open);
            if open.len() >= MOST_SESSIONS {
                return Err(Refusal::Live("too many live plays; close a window"));
            }
            open.insert(id.clone(), sender);
        }
        let (own, sessions) = (id.clone(), shared.sessions.clone());
        std::thread::spawn(move || {
            let _ = play(&reading, &wish, &receiver);
            held(&sessions.open).remove(&own);
        });
        Ok(Json(json!({ "id": id })))
    })
    .await
}

/// What a step asks for.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Ask {
    id: String,
    cues: Vec<HandCue>,
    /// How many frames; 0 ends the play.
    frames: u32,
}

/// The next frames of a live play, after the cues.
pub(super) async fn step(
    State(shared): State<Shared>,
    Json(ask): Json<Ask>,
) -> Result<Response, Refusal> {
    compute(move |_| {
        let sender = {
            let mut open = held(&shared.sessions.open);
            if ask.frames == 0 {
                open.remove(&ask.id);
            }
            open.get(&ask.id).cloned()
        };
        let over = Refusal::Live("this live play is over");
        let Some(sender) = sender else {
            return Err(over);
        };
        let (answer, answered) = channel();
        let step = Step {
            cues: ask.cues,
            frames: ask.frames,
            answer,
        };
        let bytes = sender.send(step).ok().and_then(|()| answered.recv().ok());
        match bytes {
            Some(bytes) => {
                let kind = [(header::CONTENT_TYPE, "application/octet-stream")];
                Ok((kind, bytes).into_response())
            }
            None => Err(over),
        }
    })
    .await
}

/// Plays until nobody asks any more.
fn play(reading: &Reading, wish: &Wish, asked: &Receiver<Step>) -> Result<(), Refusal> {
    let mut hand = HandPlay::new(reading, wish)?;
    while let Ok(step) = asked.recv_timeout(IDLE) {
        let Some(bytes) = hand.step(&step.cues, step.frames) else {
            return Ok(());
        };
        let _ = step.answer.send(bytes);
    }
    Ok(())
}
