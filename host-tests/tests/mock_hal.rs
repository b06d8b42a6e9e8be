//! Button, driver and scheduler on mocks of pins, buses and delays (embedded-hal-mock): every call in its
//! order, and errors of the hardware. Bytes on the line are checked against encoders of their own, written from
//! the data sheets, and against the drivers `ws2812-spi` and `apa102-spi`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use embedded_hal::spi::ErrorKind;
use embedded_hal_mock::eh1::delay::{CheckedDelay, Transaction as DelayTx};
use embedded_hal_mock::eh1::digital::{Mock as PinMock, State, Transaction as PinTx};
use embedded_hal_mock::eh1::spi::{Mock as SpiMock, Transaction as SpiTx};
use embedded_hal_mock::eh1::MockError;
use lampwright_model::button::{Active, Button, PressTiming};
use lampwright_model::driver::{
    clocked_tail_len, show_rgb, show_rgbw, Order, PulseCode, PulseTimes, PulseWriter,
};
use lampwright_model::scheduler::{Clock, Scheduler};
use lampwright_model::{Channels, Cue, Millis};
use smart_leds_trait::{RGB8, RGBW};
use std::cell::Cell;
use std::io;
use std::rc::Rc;

const PIXELS: [[u8; 3]; 3] = [[255, 0, 1], [0x12, 0x34, 0x56], [0, 0x80, 0xaa]];

fn frame() -> Vec<u8> {
    PIXELS.concat()
}

/// Pulses as the WS2812B data sheet draws them: G, R, B, highest bit first; `zero` and `one` are the SPI bits of
/// a bit as text.
fn pulses(bytes: &[u8], zero: &str, one: &str) -> Vec<u8> {
    let bits = bytes.iter().map(|byte| format!("{byte:08b}"));
    let text: String = bits
        .flat_map(|bits| {
            bits.chars()
                .map(|b| if b == '1' { one } else { zero })
                .collect::<Vec<_>>()
        })
        .collect();
    let octets = text.as_bytes().chunks(8);
    octets
        .map(|octet| u8::from_str_radix(std::str::from_utf8(octet).unwrap(), 2).unwrap())
        .collect()
}

/// One write a pixel, then zeros, then a flush.
fn expected(pixels: &[Vec<u8>], zero: &str, one: &str, mut reset: usize) -> Vec<SpiTx<u8>> {
    let writes = pixels
        .iter()
        .map(|p| SpiTx::write_vec(pulses(p, zero, one)));
    let mut calls: Vec<SpiTx<u8>> = writes.collect();
    while reset > 0 {
        let some = reset.min(32);
        calls.push(SpiTx::write_vec(vec![0; some]));
        reset -= some;
    }
    calls.push(SpiTx::flush());
    calls
}

fn green_first() -> Vec<Vec<u8>> {
    PIXELS.iter().map(|[r, g, b]| vec![*g, *r, *b]).collect()
}

#[test]
fn a_ws2812b_strip_gets_the_pulses_of_its_data_sheet() {
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).unwrap();
    // 280 µs at 2.4 MHz are 672 bits, 84 bytes.
    let mut spi = SpiMock::new(&expected(&green_first(), "100", "110", 84));
    let mut writer = PulseWriter::<_, RGB8>::new(spi.clone(), code, Order::GRB);
    show_rgb(&mut writer, &frame(), Channels::Rgb).unwrap();
    spi.done();
}

#[test]
fn an_rgbw_strip_gets_four_channels_in_its_order() {
    let code = PulseCode::fit(&PulseTimes::SK6812RGBW, 3_200_000).unwrap();
    let levels = [1, 2, 3, 4, 250, 128, 0, 77];
    let sent = [vec![2, 1, 3, 4], vec![128, 250, 0, 77]];
    // 80 µs at 3.2 MHz are 256 bits, 32 bytes.
    let mut spi = SpiMock::new(&expected(&sent, "1000", "1100", 32));
    let mut writer = PulseWriter::<_, RGBW<u8>>::new(spi.clone(), code, Order::GRBW);
    show_rgbw(&mut writer, &levels, Channels::Rgbw).unwrap();
    spi.done();
    // A frame of three channels leaves the white of such a strip dark.
    let sent: Vec<Vec<u8>> = green_first()
        .into_iter()
        .map(|p| [p, vec![0]].concat())
        .collect();
    let mut spi = SpiMock::new(&expected(&sent, "1000", "1100", 32));
    let mut writer = PulseWriter::<_, RGBW<u8>>::new(spi.clone(), code, Order::GRBW);
    show_rgbw(&mut writer, &frame(), Channels::Rgb).unwrap();
    spi.done();
}

#[test]
fn another_order_is_sent_as_stated() {
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).unwrap();
    let sent: Vec<Vec<u8>> = PIXELS.iter().map(|[r, g, b]| vec![*b, *r, *g]).collect();
    let mut spi = SpiMock::new(&expected(&sent, "100", "110", 84));
    let order = Order::parse("BRG").unwrap();
    let mut writer = PulseWriter::<_, RGB8>::new(spi.clone(), code, order);
    show_rgb(&mut writer, &frame(), Channels::Rgb).unwrap();
    spi.done();
}

/// A bus that keeps what is written to it, and fails at one of its calls if told to.
#[derive(Default, Clone)]
struct Tape(Rc<std::cell::RefCell<Vec<u8>>>, Rc<Cell<Option<usize>>>);

impl Tape {
    fn call(&self) -> Result<(), ErrorKind> {
        match self.1.get() {
            Some(0) => {
                self.1.set(None);
                Err(ErrorKind::Overrun)
            }
            left => {
                self.1.set(left.map(|n| n - 1));
                Ok(())
            }
        }
    }
}

impl embedded_hal::spi::ErrorType for Tape {
    type Error = ErrorKind;
}

impl embedded_hal::spi::SpiBus for Tape {
    fn read(&mut self, _: &mut [u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn write(&mut self, words: &[u8]) -> Result<(), ErrorKind> {
        self.call()?;
        self.0.borrow_mut().extend(words);
        Ok(())
    }
    fn transfer(&mut self, _: &mut [u8], _: &[u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn transfer_in_place(&mut self, _: &mut [u8]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
    fn flush(&mut self) -> Result<(), ErrorKind> {
        self.call()
    }
}

#[test]
fn every_level_is_sent_as_the_reference_driver_sends_it() {
    let levels: Vec<u8> = (0..=254).collect();
    let theirs = Tape::default();
    show_rgb(
        &mut ws2812_spi::Ws2812::new(theirs.clone()),
        &levels,
        Channels::Rgb,
    )
    .unwrap();
    // At 3.2 MHz both write 1000 and 1110.
    let ours = Tape::default();
    let code = PulseCode::fit(&PulseTimes::WS2812B, 3_200_000).unwrap();
    let mut writer = PulseWriter::<_, RGB8>::new(ours.clone(), code, Order::GRB);
    show_rgb(&mut writer, &levels, Channels::Rgb).unwrap();
    let pixels = levels.len() * 4;
    assert_eq!(ours.0.borrow()[..pixels], theirs.0.borrow()[..pixels]);
    assert!(ours.0.borrow()[pixels..].iter().all(|byte| *byte == 0));
    // 280 µs at 3.2 MHz are 896 bits.
    assert_eq!(ours.0.borrow().len(), pixels + 112);
}

#[test]
fn pixels_with_a_clock_line_get_their_frames_through_the_kept_driver() {
    let tape = Tape::default();
    let order = apa102_spi::PixelOrder::BGR;
    let tail = clocked_tail_len(3);
    let mut writer = apa102_spi::Apa102::new_with_options(tape.clone(), tail, true, order);
    show_rgb(&mut writer, &frame(), Channels::Rgb).unwrap();
    // APA102 data sheet: 32 zeros, then for each LED 111, five bits of brightness, blue, green, red; then at least
    // half a clock a pixel. The zeros between are for the SK9822.
    let mut sent = vec![0; 4];
    for [r, g, b] in PIXELS {
        sent.extend([0b1111_1111, b, g, r]);
    }
    let tape = tape.0.borrow();
    assert_eq!(tape[..sent.len()], sent);
    assert_eq!(tape[sent.len()..], [0; 5]);
    for pixels in 0..=4016u16 {
        assert!(u16::from(clocked_tail_len(pixels)) * 8 >= 32 + pixels.div_ceil(2));
    }
}

#[test]
fn an_error_of_the_bus_is_reported_and_the_next_frame_goes_through() {
    let code = PulseCode::fit(&PulseTimes::WS2812B, 2_400_000).unwrap();
    // Three pixels, 84 bytes of reset in three writes, the flush.
    for failing in 0..7 {
        let tape = Tape::default();
        tape.1.set(Some(failing));
        let mut writer = PulseWriter::<_, RGB8>::new(tape.clone(), code, Order::GRB);
        let failed = show_rgb(&mut writer, &frame(), Channels::Rgb);
        assert_eq!(failed, Err(ErrorKind::Overrun), "call {failing}");
        tape.0.borrow_mut().clear();
        show_rgb(&mut writer, &frame(), Channels::Rgb).unwrap();
        let pixels = pulses(&green_first().concat(), "100", "110");
        assert_eq!(*tape.0.borrow(), [pixels, vec![0; 84]].concat());
    }
}

/// Polls a button once a millisecond with these levels, high for pressed.
fn poll_all(levels: &[bool]) -> Vec<(usize, Cue)> {
    let calls: Vec<PinTx> = levels
        .iter()
        .map(|high| PinTx::get(if *high { State::High } else { State::Low }))
        .collect();
    let mut pin = PinMock::new(&calls);
    let mut button = Button::new(pin.clone(), Active::High, PressTiming::default());
    let mut cues = Vec::new();
    for t in 0..levels.len() {
        if let Some(cue) = button.poll(Millis(t as u32)).unwrap() {
            cues.push((t, cue));
        }
    }
    pin.done();
    cues
}

/// Levels from stretches of (level, ms).
fn levels(stretches: &[(bool, usize)]) -> Vec<bool> {
    let each = stretches.iter().map(|(level, ms)| vec![*level; *ms]);
    each.collect::<Vec<_>>().concat()
}

#[test]
fn bouncing_contacts_give_one_cue_a_press() {
    // Going down and coming up a contact closes and opens a few times within 6 ms.
    let bounce = [(true, 1), (false, 2), (true, 1), (false, 1), (true, 1)];
    let press = |ms: usize| {
        let mut all = bounce.to_vec();
        all.push((true, ms));
        all.extend(bounce.iter().map(|(level, ms)| (!level, *ms)));
        all.push((false, 30));
        all
    };
    let idle = [(false, 100)];
    let short = [&idle[..], &press(80), &[(false, 500)]].concat();
    assert_eq!(poll_all(&levels(&short)).len(), 1);
    assert_eq!(poll_all(&levels(&short))[0].1, Cue::ShortPress);
    let double = [
        &idle[..],
        &press(80),
        &[(false, 60)],
        &press(90),
        &[(false, 500)],
    ]
    .concat();
    let cues = poll_all(&levels(&double));
    assert_eq!(cues.len(), 1);
    assert_eq!(cues[0].1, Cue::DoublePress);
    let long = [&idle[..], &press(700), &[(false, 500)]].concat();
    let cues = poll_all(&levels(&long));
    assert_eq!(cues.len(), 1);
    // The contact closes for good 5 ms after its first touch at 100.
    assert_eq!(cues[0], (705, Cue::LongPress));
}

#[test]
fn an_error_of_the_pin_is_reported_and_changes_nothing() {
    let broken = || PinTx::get(State::High).with_error(MockError::Io(io::ErrorKind::TimedOut));
    let high = |n: usize| vec![PinTx::get(State::High); n];
    let low = |n: usize| vec![PinTx::get(State::Low); n];
    let calls = [low(50), high(30), vec![broken(); 20], high(30), low(400)].concat();
    let mut pin = PinMock::new(&calls);
    let mut button = Button::new(pin.clone(), Active::High, PressTiming::default());
    let (mut errors, mut cues) = (0, Vec::new());
    for t in 0..calls.len() as u32 {
        match button.poll(Millis(t)) {
            Ok(cue) => cues.extend(cue),
            Err(error) => {
                assert_eq!(error, MockError::Io(io::ErrorKind::TimedOut));
                errors += 1;
            }
        }
    }
    assert_eq!((errors, cues), (20, vec![Cue::ShortPress]));
    pin.done();
}

/// A clock that stands where it is put.
#[derive(Clone)]
struct Hand(Rc<Cell<u32>>);

impl Clock for Hand {
    fn now(&mut self) -> Millis {
        Millis(self.0.get())
    }
}

#[test]
fn the_scheduler_asks_the_delay_for_what_is_left_of_each_period() {
    // 60 frames a second: due at 0, 17, 33, 50 ms; work of 4, 9, 30 and 1 ms.
    let mut delay = CheckedDelay::new(&[
        DelayTx::delay_ms(13),
        DelayTx::delay_ms(7),
        DelayTx::delay_ms(3),
    ]);
    let hand = Hand(Rc::new(Cell::new(0)));
    let mut scheduler = Scheduler::new(hand.clone(), delay.clone(), 60);
    let mut tick = |at: u32| {
        hand.0.set(at);
        let tick = scheduler.wait();
        (tick.at.0, tick.overrun.map(|o| (o.late_ms, o.skipped)))
    };
    assert_eq!(tick(0), (0, None));
    assert_eq!(tick(4), (17, None));
    assert_eq!(tick(26), (33, None));
    assert_eq!(tick(63), (50, Some((13, 0))));
    assert_eq!(tick(64), (67, None));
    delay.done();
}
