//! How loud the board is in a frame.

use super::figures::Moment;
use crate::build::prop::Sound;
use crate::units::Quantity;
use lampwright_model::{CueKind, State};

/// Share of the amplifier's full power at a moment: the sound of the last cue while it lasts, else the level of a lit
/// prop, else silence. A cue with a sound trace follows it (over the hum of a lit prop); any other has one level for
/// its time. Frames that tell no state count as lit.
pub fn level(sound: &Sound, moment: &Moment) -> f64 {
    let hum = match moment.state {
        Some(State::Dark) => 0.0,
        _ => sound.lit.si(),
    };
    let Some((at_s, cue)) = moment.cue else {
        return hum;
    };
    let since_s = moment.time_s - at_s;
    if let Some(trace) = sound.traces.iter().find(|t| t.cue == cue.kind()) {
        return trace.level(since_s).map_or(hum, |level| level.max(hum));
    }
    let audible = !matches!(cue.kind(), CueKind::LowCell | CueKind::Level);
    if audible && since_s < sound.cue_time.si() {
        return sound.cue.si();
    }
    hum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::sounds::SoundTrace;
    use lampwright_model::Cue;

    fn at(time_s: f64, state: State, cue: Cue) -> Moment {
        Moment {
            state: Some(state),
            cue: Some((10.0, cue)),
            ..Moment::at(0, time_s)
        }
    }

    #[test]
    fn a_trace_wins_over_the_flat_level_and_the_hum_shows_through() {
        let sound = Sound {
            traces: vec![SoundTrace {
                cue: CueKind::ShortPress,
                rows: vec![(0.0, 0.9), (0.1, 0.1), (2.0, 0.0)],
            }],
            ..Sound::default()
        };
        let press = |t, state| level(&sound, &at(t, state, Cue::ShortPress));
        assert!((press(10.05, State::Lit) - 0.9).abs() < 1e-12);
        assert!((press(11.0, State::Lit) - 0.25).abs() < 1e-12);
        assert!((press(11.0, State::Dark) - 0.1).abs() < 1e-12);
        assert!(press(12.0, State::Dark).abs() < 1e-12);
        let other = |t| level(&sound, &at(t, State::Lit, Cue::DoublePress));
        assert!((other(10.59) - 1.0).abs() < 1e-12 && (other(10.61) - 0.25).abs() < 1e-12);
    }
}
