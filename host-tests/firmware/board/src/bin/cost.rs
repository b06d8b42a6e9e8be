//! Plays the scenarios of `in.bin` and writes to `cost.raw` for every frame the ticks of the system timer that
//! rendering, limiting and encoding for the data line took (4 bytes each), and at the end of each scenario eight numbers
//! (4 bytes each): the stack that decoding, rendering, limiting and encoding took at most, and the bytes that preset,
//! engine, limiter and driver hold.
#![no_std]
#![no_main]

use core::convert::Infallible;
use core::mem::size_of;

use board::counter::{start, ticks};
use board::scenario::{FRAME_LEN, PACK_LEN};
use board::stack::depth_of;
use board::stage::{each, Room, Stage};
use board::{end, Failed};
use cortex_m_rt::entry;
use embedded_hal::spi::{ErrorType, SpiBus};
use lampwright_model::driver::{show_rgb, Order, PulseCode, PulseTimes, PulseWriter};
use lampwright_model::limiter::Limiter;
use lampwright_model::scheduler::FrameGrid;
use lampwright_model::{Engine, Millis, Preset};
use semihosting::fs::File;
use semihosting::io::Write;
use smart_leds_trait::RGB8;

/// A port that takes bytes as fast as they come: what is left is the work of making them.
struct Port;

impl ErrorType for Port {
    type Error = Infallible;
}

impl SpiBus for Port {
    fn read(&mut self, _: &mut [u8]) -> Result<(), Infallible> {
        Ok(())
    }
    fn write(&mut self, words: &[u8]) -> Result<(), Infallible> {
        core::hint::black_box(words);
        Ok(())
    }
    fn transfer(&mut self, _: &mut [u8], _: &[u8]) -> Result<(), Infallible> {
        Ok(())
    }
    fn transfer_in_place(&mut self, _: &mut [u8]) -> Result<(), Infallible> {
        Ok(())
    }
    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

#[entry]
fn main() -> ! {
    static mut PACK: [u8; PACK_LEN] = [0; PACK_LEN];
    static mut PRESET: Preset = Preset::empty();
    static mut FRAME: [u8; FRAME_LEN] = [0; FRAME_LEN];
    let Some(mut peripherals) = cortex_m::Peripherals::take() else {
        end(Err(Failed::File));
    };
    start(&mut peripherals.SYST);
    let room = Room {
        pack: PACK,
        preset: PRESET,
        buffer: FRAME,
    };
    end(each(room, c"cost.raw", play))
}

type Writer = PulseWriter<Port, RGB8>;

fn play(stage: Stage<'_, '_>) -> Result<(), Failed> {
    let Stage {
        mut scenario,
        input,
        output,
        preset,
        mut engine,
        mut limiter,
        buffer,
        read_stack,
    } = stage;
    let frame = buffer.get_mut(..preset.frame_len()).ok_or(Failed::Frame)?;
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).map_err(|_| Failed::Scenario)?;
    let mut writer = Writer::new(Port, code, Order::GRB);
    let mut grid = FrameGrid::new(preset.frame_rate_hz, scenario.origin);
    let mut stacks = [read_stack, 0, 0, 0];
    for _ in 0..scenario.frames {
        let now: Millis = grid.take(grid.due()).at;
        scenario.cues_until(now, input, |at, cue| engine.cue(at, cue))?;
        let (render_stack, (render, drawn)) = depth_of(|| ticks(|| engine.render(now, frame)));
        drawn.map_err(|_| Failed::Frame)?;
        let (limit_stack, (limit, _)) = depth_of(|| ticks(|| limiter.apply(now, frame)));
        let (send_stack, (send, _)) =
            depth_of(|| ticks(|| show_rgb(&mut writer, frame, preset.channels)));
        write(output, &[render, limit, send])?;
        for (most, stack) in stacks
            .iter_mut()
            .zip([0, render_stack, limit_stack, send_stack])
        {
            *most = stack.max(*most);
        }
    }
    scenario.skip_cues(input)?;
    write(output, &stacks)?;
    let held = [
        size_of::<Preset>(),
        size_of::<Engine<'_>>(),
        size_of::<Limiter<'_>>(),
        size_of::<Writer>(),
    ];
    write(output, &held.map(|bytes| bytes as u32))
}

/// Writes numbers, little-endian.
fn write(output: &mut File, numbers: &[u32]) -> Result<(), Failed> {
    for number in numbers {
        let bytes = number.to_le_bytes();
        output.write_all(&bytes).map_err(|_| Failed::File)?;
    }
    Ok(())
}
