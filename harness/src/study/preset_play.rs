//! A preset of the own engine with a cue trace, to be played again and again.

use super::trace::Trace;
use crate::build::cues::CueTrace;
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::profile::{FrameStream, LightMeter, Played, Uncapped};
use lampwright_model::{Engine, Preset};

/// A preset with its cues.
#[derive(Debug, Clone)]
pub struct PresetPlay {
    /// The preset's name.
    pub name: String,
    /// The preset.
    pub preset: Box<Preset>,
    /// Its cue trace.
    pub cues: CueTrace,
}

fn played<'a>(
    name: &str,
    preset: &'a Preset,
    cues: &'a CueTrace,
    cap: u8,
) -> Result<Played<'a, Engine<'a>>, InputErrors> {
    let engine = Engine::new(preset)
        .map_err(|e| InputErrors::from(InputError::whole(format!("{name}: {e}"))))?;
    let rate = f64::from(preset.frame_rate_hz);
    Ok(Played::new(engine, cues, rate).with_cap(cap))
}

/// A preset with its cues, from the start.
///
/// # Errors
/// The preset is not sound.
pub fn open_preset<'a>(
    name: &str,
    preset: &'a Preset,
    cues: &'a CueTrace,
    cap: u8,
) -> Result<Box<dyn FrameStream + 'a>, InputErrors> {
    Ok(Box::new(played(name, preset, cues, cap)?))
}

/// A preset with its cues drawn once for every cap, as the strips of a prop show it.
///
/// # Errors
/// The preset is not sound.
pub fn open_uncapped<'a>(
    prop: &Prop,
    name: &str,
    preset: &'a Preset,
    cues: &'a CueTrace,
) -> Result<Uncapped<'a>, InputErrors> {
    let played = played(name, preset, cues, u8::MAX)?;
    Ok(Uncapped::new(played, &LightMeter::of(prop)))
}

impl Trace for PresetPlay {
    fn preset_name(&self) -> Option<String> {
        Some(self.name.clone())
    }

    fn cues_name(&self) -> String {
        self.cues.name.clone()
    }

    fn preset(&self) -> Option<&Preset> {
        Some(&self.preset)
    }

    fn length_s(&self) -> Option<f64> {
        Some(self.cues.end_ms as f64 / 1e3)
    }

    fn open(&self, _: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        open_preset(&self.name, &self.preset, &self.cues, cap)
    }

    fn uncapped(&self, prop: &Prop) -> Result<Option<Uncapped<'_>>, InputErrors> {
        open_uncapped(prop, &self.name, &self.preset, &self.cues).map(Some)
    }

    fn only(
        &self,
        frames: Vec<u64>,
        cap: u8,
    ) -> Result<Option<Box<dyn FrameStream + '_>>, InputErrors> {
        // A frame of the own engine follows from cues and time alone.
        let stream = played(&self.name, &self.preset, &self.cues, cap)?;
        Ok(Some(Box::new(stream.only(frames))))
    }
}
