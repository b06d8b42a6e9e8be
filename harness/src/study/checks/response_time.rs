//! `response-time`: from the cue that lights the prop to the first frame that answers it.

use super::Check;
use crate::profile::figures::{Figures, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;
use lampwright_model::{CueKind, Preset, State};

const ID: &str = "response-time";
const PROTECTS: &str = "the feeling that the prop answers at once";
/// From memory: below a tenth of a second a response feels immediate (R. B. Miller, 1968).
const LIMIT_S: f64 = 0.1;

struct ResponseTime {
    rise_on: Option<CueKind>,
    /// Time of the cue whose first light has not come yet, seconds.
    waiting: Option<f64>,
    last_state: State,
    worst: Worst,
    /// Longest time to the first light: a slow fade from darkness takes its time by intent.
    first_light_s: f64,
}

pub(super) fn check(preset: Option<&Preset>) -> Box<dyn Check> {
    Box::new(ResponseTime {
        rise_on: preset.map(|p| p.rise_on),
        waiting: None,
        last_state: State::Dark,
        worst: Worst::new(Side::AtMost),
        first_light_s: 0.0,
    })
}

impl ResponseTime {
    fn cue_time(&self, moment: &Moment) -> Option<f64> {
        let (time_s, cue) = moment.cue?;
        (Some(cue.kind()) == self.rise_on && moment.new_cues > 0).then_some(time_s)
    }
}

impl Check for ResponseTime {
    fn observe(&mut self, figures: &Figures) {
        let moment = &figures.moment;
        let Some(state) = moment.state else { return };
        let shown_s = moment.time_s + figures.period_s;
        if self.last_state == State::Dark && state != State::Dark {
            let start = self.cue_time(moment).unwrap_or(moment.time_s);
            self.worst.see(shown_s - start, moment);
            self.waiting = Some(start);
        }
        self.last_state = state;
        let lit = figures.strips.iter().any(|s| s.lit != 0);
        if state == State::Dark {
            self.waiting = None;
        } else if lit {
            if let Some(start) = self.waiting.take() {
                self.first_light_s = self.first_light_s.max(shown_s - start);
            }
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.rise_on.is_none() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "s",
                "frames from outside tell no state of the prop",
            )];
        }
        let judged = self.worst.judge(ID, PROTECTS, "s", LIMIT_S).map(|r| {
            r.source("from memory: R. B. Miller, Response time in man-computer conversational transactions, 1968")
                .why(format!("from the cue to the end of the first frame of the rise; first light after {:.2} s as the preset fades in; debounce of the button comes on top", self.first_light_s))
        });
        vec![judged.unwrap_or_else(|| {
            CheckResult::not_checked(
                ID,
                PROTECTS,
                "s",
                "the prop is never lit by a cue in this trace",
            )
        })]
    }
}
