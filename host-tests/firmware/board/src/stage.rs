//! What every image does with its scenarios: reads them one by one, decodes the preset and sets up engine and limiter.

use core::ffi::CStr;

use lampwright_model::limiter::Limiter;
use lampwright_model::{Engine, Preset};
use semihosting::fs::File;

use crate::scenario::{Scenario, PACK_LEN};
use crate::stack::depth_of;
use crate::Failed;

/// Memory that outlives a scenario: on a board these are statics.
pub struct Room<'r> {
    /// The packed prop.
    pub pack: &'r mut [u8; PACK_LEN],
    /// The preset that plays.
    pub preset: &'r mut Preset,
    /// The frame and what an image puts behind it.
    pub buffer: &'r mut [u8],
}

/// A scenario about to be played.
pub struct Stage<'s, 'b> {
    /// The scenario; its cues follow in `input`.
    pub scenario: Scenario<'b>,
    /// The file of scenarios.
    pub input: &'s mut File,
    /// The file of results.
    pub output: &'s mut File,
    /// The preset.
    pub preset: &'s Preset,
    /// The engine, with its cap set.
    pub engine: Engine<'s>,
    /// The limiter.
    pub limiter: Limiter<'s>,
    /// Room for the frame.
    pub buffer: &'s mut [u8],
    /// Stack that decoding the preset and making the engine took, in bytes.
    pub read_stack: u32,
}

/// Plays every scenario of `in.bin` and lets `play` write its results to a file.
pub fn each(
    room: Room<'_>,
    output: &CStr,
    mut play: impl FnMut(Stage<'_, '_>) -> Result<(), Failed>,
) -> Result<(), Failed> {
    let mut input = File::open(c"in.bin").map_err(|_| Failed::File)?;
    let mut output = File::create(output).map_err(|_| Failed::File)?;
    while let Some(scenario) = Scenario::read(&mut input, room.pack)? {
        let (read_stack, decoded) = depth_of(|| {
            scenario
                .pack
                .preset_into(scenario.preset, room.preset)
                .is_ok()
                && Engine::new(room.preset).is_ok()
        });
        if !decoded {
            return Err(Failed::Preset);
        }
        let preset = &*room.preset;
        let mut engine = Engine::new(preset).map_err(|_| Failed::Preset)?;
        engine.set_cap(scenario.pack.head().cap);
        let strips = scenario.strips.clone();
        let limiter = Limiter::new(&strips, preset.channels.count(), scenario.limits());
        play(Stage {
            scenario,
            input: &mut input,
            output: &mut output,
            preset,
            engine,
            limiter,
            buffer: room.buffer,
            read_stack,
        })?;
    }
    Ok(())
}
