//! Playing by hand: an engine that goes on from step to step, with cues as they are pressed.

use super::answers::Refusal;
use super::reading::Reading;
use super::series::{names, row};
use super::sheet::Sheet;
use super::wish::Wish;
use crate::build::prop::Prop;
use crate::profile::bench::Bench;
use crate::profile::circuit::Circuit;
use crate::profile::figures::Moment;
use crate::profile::{sound, CueAt, FrameMeta};
use crate::study::watch::StudyError;
use lampwright_model::{Angle, Cue, CueKind, Engine, FrameSource, Millis};
use serde::Deserialize;
use serde_json::json;

/// Most frames of one step: a second and more at any sensible rate.
const MOST_FRAMES: u32 = 240;

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

/// What is said where there is no preset.
pub(super) fn by_hand_no() -> Refusal {
    Refusal::Live("recorded frames cannot be played by hand")
}

/// A play by hand.
pub(super) struct HandPlay<'a> {
    prop: &'a Prop,
    engine: Engine<'a>,
    bench: Bench<'a>,
    circuit: Circuit,
    rate_hz: f64,
    levels: Vec<u8>,
    values: Vec<f64>,
    index: u64,
    last: Option<CueAt>,
}

impl<'a> HandPlay<'a> {
    /// From the dark.
    pub(super) fn new(reading: &'a Reading, wish: &Wish) -> Result<Self, Refusal> {
        let prop = &reading.shown.prop;
        let Some(preset) = reading.play(wish)?.preset() else {
            return Err(by_hand_no());
        };
        let mut engine =
            Engine::new(preset).map_err(|_| Refusal::Live("the preset is not sound"))?;
        engine.set_cap(wish.cap);
        let bench = Bench::new(prop, wish.condition(prop)).map_err(StudyError::from)?;
        Ok(Self {
            circuit: bench.circuit().clone(),
            rate_hz: f64::from(preset.frame_rate_hz),
            levels: vec![0; engine.layout().frame_len()],
            prop,
            engine,
            bench,
            values: Vec::new(),
            index: 0,
            last: None,
        })
    }

    /// The next frames, after the cues; `None` where there are no more.
    pub(super) fn step(&mut self, cues: &[HandCue], frames: u32) -> Option<Vec<u8>> {
        let mut sheet = Sheet::new(names(&self.circuit));
        sheet.frame_len = self.levels.len();
        let cues: Vec<Cue> = cues.iter().filter_map(HandCue::cue).collect();
        let mut new_cues = u32::try_from(cues.len()).unwrap_or(u32::MAX);
        let period_s = 1.0 / self.rate_hz;
        for k in 0..frames.min(MOST_FRAMES) {
            let time_s = self.index as f64 / self.rate_hz;
            // The board's counter wraps at 32 bits as well.
            let at = Millis((time_s * 1e3).round() as u64 as u32);
            if k == 0 {
                for cue in &cues {
                    self.engine.cue(at, *cue);
                    self.last = Some(CueAt { time_s, cue: *cue });
                }
            }
            let state = self.engine.frame(at, &mut self.levels).ok()?;
            let meta = FrameMeta {
                index: self.index,
                time_s,
                state: Some(state),
                layers: self.engine.active_layers(),
                cue: self.last,
                new_cues: std::mem::take(&mut new_cues),
                first_cue: 0,
            };
            let moment = Moment::from(&meta);
            let loud = sound::level(&self.prop.sound, &moment);
            let figures = self.bench.step(&self.levels, moment, period_s, loud);
            row(figures, &self.circuit, period_s, &mut self.values);
            sheet.push(self.values.iter().copied());
            sheet.levels.extend_from_slice(&self.levels);
            self.index += 1;
        }
        Some(sheet.bytes(json!({ "period_s": period_s, "estimate": false })))
    }
}
