use embedded_hal::{delay::DelayNs, spi::SpiBus};
use lampwright_model::driver::{show_rgb, Order, PulseCode, PulseTimes, PulseWriter};
use lampwright_model::limiter::{Limiter, Limits};
use lampwright_model::pack::Pack;
use lampwright_model::scheduler::{Clock, Scheduler};
use lampwright_model::{Cue, Engine, Preset};
use smart_leds_trait::RGB8;

fn play<S: SpiBus>(
    spi: S,
    clock: impl Clock,
    delay: impl DelayNs,
    mut next_cue: impl FnMut() -> Option<Cue>,
    packed: &[u8],
    preset: &mut Preset,
    frame: &mut [u8],
) -> Option<()> {
    let pack = Pack::read(packed).ok()?;
    let head = *pack.head();
    pack.preset_into(0, preset).ok()?;
    let mut engine = Engine::new(preset).ok()?;
    engine.set_cap(head.cap);
    // One strip; with several, hand each its part of the frame.
    let strip = pack.strips().next()?;
    let loads = [strip.load()];
    let limits = Limits { budget_ua: head.budget_ua, ..Limits::none() };
    let mut limiter = Limiter::new(&loads, head.channels.count(), limits);
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).ok()?;
    let mut writer = PulseWriter::<_, RGB8>::new(spi, code, Order::GRB);
    let frame = frame.get_mut(..preset.frame_len())?;
    let mut scheduler = Scheduler::new(clock, delay, preset.frame_rate_hz);
    loop {
        let tick = scheduler.wait();
        while let Some(cue) = next_cue() {
            engine.cue(tick.at, cue);
        }
        engine.render(tick.at, frame).ok()?;
        limiter.apply(tick.at, frame);
        show_rgb(&mut writer, frame, head.channels).ok()?;
    }
}
