//! How loud the board is in a frame.

use super::figures::Moment;
use crate::build::prop::Sound;
use crate::units::Quantity;
use lampwright_model::{CueKind, State};

/// Share of the amplifier's full power at a moment: the level of a cue for its time, else the level of a
/// lit prop, else silence. Frames that tell no state count as lit.
pub fn level(sound: &Sound, moment: &Moment) -> f64 {
    if let Some((at_s, cue)) = moment.cue {
        let audible = !matches!(cue.kind(), CueKind::LowCell | CueKind::Level);
        if audible && moment.time_s - at_s < sound.cue_time.si() {
            return sound.cue.si();
        }
    }
    match moment.state {
        Some(State::Dark) => 0.0,
        _ => sound.lit.si(),
    }
}
