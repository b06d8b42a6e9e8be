//! Plays the scenarios of `in.bin` and writes every frame to `out.raw`: its bytes, then the state (1) and the limiter's
//! scale (2, little-endian). Cues, states, limiter and overruns are logged on the way.
#![no_std]
#![no_main]

use core::cell::Cell;

use board::scenario::{FRAME_LEN, PACK_LEN};
use board::stage::{each, Room, Stage};
use board::{end, Failed};
use cortex_m_rt::entry;
use embedded_hal::delay::DelayNs;
use lampwright_model::scheduler::{Clock, Scheduler};
use lampwright_model::{Millis, Preset};
use semihosting::io::Write;

/// A clock that a delay moves on: the emulation plays as fast as it can.
struct Hand<'a>(&'a Cell<Millis>);

impl Clock for Hand<'_> {
    fn now(&mut self) -> Millis {
        self.0.get()
    }
}

impl DelayNs for Hand<'_> {
    fn delay_ns(&mut self, ns: u32) {
        self.0.set(self.0.get().plus(ns / 1_000_000));
    }
}

#[entry]
fn main() -> ! {
    static mut PACK: [u8; PACK_LEN] = [0; PACK_LEN];
    static mut PRESET: Preset = Preset::empty();
    static mut FRAME: [u8; FRAME_LEN + 3] = [0; FRAME_LEN + 3];
    let room = Room {
        pack: PACK,
        preset: PRESET,
        buffer: FRAME,
    };
    end(each(room, c"out.raw", play))
}

fn play(stage: Stage<'_, '_>) -> Result<(), Failed> {
    let Stage {
        mut scenario,
        input,
        output,
        preset,
        mut engine,
        mut limiter,
        buffer,
        ..
    } = stage;
    let len = preset.frame_len();
    let buffer = buffer.get_mut(..len + 3).ok_or(Failed::Frame)?;
    defmt::info!("play {}: {} pixels", preset.name.as_str(), preset.pixels);
    let time = Cell::new(scenario.origin);
    let mut scheduler = Scheduler::new(Hand(&time), Hand(&time), preset.frame_rate_hz);
    let mut cell_mv = scenario.cell_mv;
    for number in 0..scenario.frames {
        let tick = scheduler.wait();
        scenario.cues_until(tick.at, input, |at, cue| engine.cue(at, cue))?;
        let (frame, rest) = buffer.split_at_mut(len);
        let state = engine.render(tick.at, frame).map_err(|_| Failed::Frame)?;
        if let Some(mv) = &mut cell_mv {
            limiter.cell_voltage(*mv);
            *mv = mv.saturating_sub(1).max(2800);
        }
        let done = limiter.apply(tick.at, frame);
        let [low, high] = done.scale.0.to_le_bytes();
        rest.copy_from_slice(&[state as u8, low, high]);
        output.write_all(buffer).map_err(|_| Failed::File)?;
        if let Some((every, ms)) = scenario.slow {
            if number % every == every - 1 {
                time.set(time.get().plus(ms));
            }
        }
    }
    scenario.skip_cues(input)?;
    defmt::info!(
        "played {} frames, {} overruns",
        scenario.frames,
        scheduler.overruns()
    );
    Ok(())
}
