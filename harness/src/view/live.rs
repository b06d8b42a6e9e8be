//! Playing by hand: an engine that goes on for as long as the page asks, with cues as they are pressed.

use super::api::{compute, Refusal, Shared};
use super::desk::{held, Reading};
use super::series::{names, row};
use super::sheet::Sheet;
use super::wish::Wish;
use crate::profile::bench::Bench;
use crate::profile::figures::Moment;
use crate::profile::{sound, CueAt, FrameMeta};
use crate::study::watch::StudyError;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::Json;
use lampwright_model::{Angle, Cue, CueKind, Engine, FrameSource, Millis};
use serde::Deserialize;
use serde_json::{json, Value};
use std::collections::HashMap;
use std::sync::mpsc::{channel, Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Most live plays at a time.
const MOST_SESSIONS: usize = 8;
/// Most frames of one step: a second and more at any sensible rate.
const MOST_FRAMES: u32 = 240;
/// A play nobody asks for ends after this.
const IDLE: Duration = Duration::from_secs(30);

/// A cue by hand.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HandCue {
    kind: String,
    /// A share 0..=1, or degrees for a twist.
    #[serde(default)]
    value: f64,
}

impl HandCue {
    fn cue(&self) -> Option<Cue> {
        let kind = CueKind::named(&self.kind)?;
        // What is no number is none of it; casts saturate.
        Some(kind.with(match kind {
            CueKind::Twist => Angle::from_degrees(self.value.clamp(-180.0, 180.0) as i16).0 as u16,
            _ => (self.value.clamp(0.0, 1.0) * 65535.0).round() as u16,
        }))
    }
}

struct Step {
    cues: Vec<Cue>,
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
            return Err(Refusal::Live("recorded frames cannot be played by hand"));
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
            cues: ask.cues.iter().filter_map(HandCue::cue).collect(),
            frames: ask.frames.min(MOST_FRAMES),
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
fn play(reading: &Arc<Reading>, wish: &Wish, asked: &Receiver<Step>) -> Result<(), StudyError> {
    let prop = &reading.shown.prop;
    let Some(preset) = reading.play(wish)?.preset() else {
        return Ok(());
    };
    let Ok(mut engine) = Engine::new(preset) else {
        return Ok(());
    };
    engine.set_cap(wish.cap);
    let mut bench = Bench::new(prop, wish.condition(prop))?;
    let circuit = bench.circuit().clone();
    let rate_hz = f64::from(preset.frame_rate_hz);
    let layout = engine.layout();
    let mut levels = vec![0; layout.frame_len()];
    let (mut index, mut last, mut values) = (0u64, None, Vec::new());
    while let Ok(step) = asked.recv_timeout(IDLE) {
        let mut sheet = Sheet::new(names(&circuit));
        sheet.frame_len = layout.frame_len();
        let mut new_cues = u32::try_from(step.cues.len()).unwrap_or(u32::MAX);
        for k in 0..step.frames {
            let time_s = index as f64 / rate_hz;
            // The board's counter wraps at 32 bits as well.
            let at = Millis((time_s * 1e3).round() as u64 as u32);
            if k == 0 {
                for cue in &step.cues {
                    engine.cue(at, *cue);
                    last = Some(CueAt { time_s, cue: *cue });
                }
            }
            let Ok(state) = engine.frame(at, &mut levels) else {
                return Ok(());
            };
            let meta = FrameMeta {
                index,
                time_s,
                state: Some(state),
                layers: engine.active_layers(),
                cue: last,
                new_cues: std::mem::take(&mut new_cues),
                first_cue: 0,
            };
            let moment = Moment::from(&meta);
            let loud = sound::level(&prop.sound, &moment);
            row(
                bench.step(&levels, moment, 1.0 / rate_hz, loud),
                &circuit,
                1.0 / rate_hz,
                &mut values,
            );
            sheet.push(values.iter().copied());
            sheet.levels.extend_from_slice(&levels);
            index += 1;
        }
        let bytes = sheet.bytes(json!({ "period_s": 1.0 / rate_hz, "estimate": false }));
        let _ = step.answer.send(bytes);
    }
    Ok(())
}
