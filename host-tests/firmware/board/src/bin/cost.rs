//! Plays the scenarios of `in.bin` and writes to `cost.raw` for every frame the ticks of the system timer that
//! rendering, limiting and encoding for the data line took (4 bytes each), and at the end of each scenario the depth of
//! the stack so far (4 bytes).
#![no_std]
#![no_main]

use core::convert::Infallible;

use board::counter::{start, ticks};
use board::scenario::{Scenario, FRAME_LEN, PACK_LEN};
use board::stack::deepest;
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
    end(run(PACK, PRESET, FRAME))
}

fn run(bytes: &mut [u8; PACK_LEN], preset: &mut Preset, frame: &mut [u8]) -> Result<(), Failed> {
    let mut input = File::open(c"in.bin").map_err(|_| Failed::File)?;
    let mut output = File::create(c"cost.raw").map_err(|_| Failed::File)?;
    while let Some(scenario) = Scenario::read(&mut input, bytes)? {
        play(scenario, &mut input, &mut output, preset, frame)?;
    }
    Ok(())
}

fn play(
    mut scenario: Scenario<'_>,
    input: &mut File,
    output: &mut File,
    preset: &mut Preset,
    buffer: &mut [u8],
) -> Result<(), Failed> {
    let into = scenario.pack.preset_into(scenario.preset, preset);
    into.map_err(|_| Failed::Preset)?;
    let preset = &*preset;
    let frame = buffer.get_mut(..preset.frame_len()).ok_or(Failed::Frame)?;
    let mut engine = Engine::new(preset).map_err(|_| Failed::Preset)?;
    engine.set_cap(scenario.pack.head().cap);
    let limits = scenario.limits();
    let strips = scenario.strips.clone();
    let mut limiter = Limiter::new(&strips, preset.channels.count(), limits);
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).map_err(|_| Failed::Scenario)?;
    let mut writer = PulseWriter::<_, RGB8>::new(Port, code, Order::GRB);
    let mut grid = FrameGrid::new(preset.frame_rate_hz, scenario.origin);
    let mut cue = scenario.next_cue(input)?;
    for _ in 0..scenario.frames {
        let now: Millis = grid.take(grid.due()).at;
        while let Some((at, due)) = cue.filter(|(at, _)| *at <= now.since(scenario.origin)) {
            engine.cue(scenario.origin.plus(at), due);
            cue = scenario.next_cue(input)?;
        }
        let (render, drawn) = ticks(|| engine.render(now, frame));
        drawn.map_err(|_| Failed::Frame)?;
        let (limit, _) = ticks(|| limiter.apply(now, frame));
        let (send, _) = ticks(|| show_rgb(&mut writer, frame, preset.channels));
        let mut record = [0; 12];
        for (four, number) in record.chunks_exact_mut(4).zip([render, limit, send]) {
            four.copy_from_slice(&number.to_le_bytes());
        }
        output.write_all(&record).map_err(|_| Failed::File)?;
    }
    scenario.skip_cues(input)?;
    output
        .write_all(&deepest().to_le_bytes())
        .map_err(|_| Failed::File)
}
