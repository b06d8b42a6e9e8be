//! `rise-fall-time`: rising and falling must last as long as the preset says, to a frame.

use super::Check;
use crate::profile::figures::{Figures, Moment};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;
use lampwright_model::{Preset, State};

const ID: &str = "rise-fall-time";
const PROTECTS: &str = "the stated rise and fall times";

struct Phase {
    /// Only a phase that starts here runs its whole time: one that takes up a half-done change is shorter.
    from: State,
    state: State,
    next: State,
    stated_s: f64,
    since: Option<f64>,
    worst: Worst,
}

struct RiseFallTime {
    phases: Vec<Phase>,
    period_s: f64,
    last: Option<State>,
}

pub(super) fn check(preset: Option<&Preset>) -> Box<dyn Check> {
    let phase = |from, state, next, ms: u32| Phase {
        from,
        state,
        next,
        stated_s: f64::from(ms) / 1e3,
        since: None,
        worst: Worst::new(Side::AtMost),
    };
    let phases = preset.map_or_else(Vec::new, |p| {
        vec![
            phase(State::Dark, State::Rising, State::Lit, p.rise.duration_ms),
            phase(State::Lit, State::Falling, State::Dark, p.fall.duration_ms),
        ]
    });
    let period_s = preset.map_or(0.0, |p| 1.0 / f64::from(p.frame_rate_hz));
    Box::new(RiseFallTime {
        phases,
        period_s,
        last: None,
    })
}

impl Phase {
    fn see(&mut self, last: Option<State>, moment: &Moment) {
        let Some(state) = moment.state else { return };
        if state == self.state && last != Some(self.state) {
            self.since = (last == Some(self.from)).then_some(moment.time_s);
        }
        if last == Some(self.state) && state != self.state {
            // Cut short by another cue: nothing to measure.
            if let Some(start) = self.since.take().filter(|_| state == self.next) {
                self.worst
                    .see((moment.time_s - start - self.stated_s).abs(), moment);
            }
        }
    }
}

impl Check for RiseFallTime {
    fn observe(&mut self, figures: &Figures) {
        for phase in &mut self.phases {
            phase.see(self.last, &figures.moment);
        }
        self.last = figures.moment.state;
    }

    fn results(&self) -> Vec<CheckResult> {
        if self.phases.is_empty() {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "s",
                "recorded frames carry no states",
            )];
        }
        let result = |p: &Phase| {
            // A millisecond is added for the rounding of frame times to whole milliseconds.
            let judged = p.worst.judge(ID, PROTECTS, "s", self.period_s + 1e-3);
            let judged = judged.map(|r| {
                r.why(format!(
                    "difference from the stated {:.2} s, one frame allowed",
                    p.stated_s
                ))
                .source("the preset")
            });
            let word = p.state.name();
            judged
                .unwrap_or_else(|| {
                    CheckResult::not_checked(
                        ID,
                        PROTECTS,
                        "s",
                        format!("{word} is never completed in this trace"),
                    )
                })
                .part(word)
        };
        self.phases.iter().map(result).collect()
    }
}
