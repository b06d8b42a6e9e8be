//! What a board reads: bytes of a preset, bytes of a packed prop.

use lampwright_model::codec::{self, checksum};
use lampwright_model::limiter::{Limiter, Limits};
use lampwright_model::pack::{self, NewEntry, Pack};
use lampwright_model::{CueKind, Engine, FrameSource, Millis, Preset};

/// Most pixels that are rendered: a frame of 4095 says no more than one of these.
const MOST_PIXELS: u16 = 300;

/// The bytes between version and checksum of a preset, with both put around them, so that the fuzzer gets past
/// them. What decodes is played, and encodes to what decodes to the same.
pub(crate) fn preset(body: &[u8]) {
    let bytes = sealed(&codec::MAGIC, codec::VERSION, body);
    let Ok(preset) = codec::decode(&bytes) else {
        return;
    };
    let mut buffer = [0; codec::MAX_LEN];
    let again = codec::encode(&preset, &mut buffer).expect("what decodes encodes");
    assert_eq!(codec::decode(again), Ok(preset.clone()));
    play(&preset, body);
}

/// The same with a packed prop.
pub(crate) fn packed(body: &[u8]) {
    let bytes = sealed(&pack::MAGIC, pack::VERSION, body);
    let Ok(read) = Pack::read(&bytes) else {
        return;
    };
    let strips: Vec<_> = read.strips().collect();
    let pixels: u32 = strips.iter().map(|s| u32::from(s.pixels)).sum();
    assert_eq!(pixels, u32::from(read.head().pixels));
    assert_eq!(strips.len(), usize::from(read.head().strips));
    assert_eq!(read.presets().count(), usize::from(read.head().presets));
    let loads: Vec<_> = strips.iter().map(pack::StripData::load).collect();
    let mut sound = true;
    for (index, entry) in (0..).zip(read.presets()) {
        let Ok(preset) = read.preset(index) else {
            sound = false;
            continue;
        };
        assert_eq!(codec::decode(entry.preset), Ok(preset.clone()));
        if let Some(mut frame) = play(&preset, body) {
            let limits = read.head().budget_ua.map_or(Limits::none(), Limits::budget);
            let mut limiter = Limiter::new(&loads, preset.channels.count(), limits);
            limiter.apply(Millis(0), &mut frame);
            let dark: u64 = strips
                .iter()
                .map(|s| u64::from(s.pixels) * u64::from(s.dark_ua))
                .sum();
            let left = u64::from(limiter.estimate_ua(&frame));
            if let Some(budget) = read.head().budget_ua {
                let least = dark.min(u64::from(u32::MAX));
                assert!(left <= u64::from(budget).max(least), "{left} of {budget}");
            }
        }
    }
    if sound {
        write_again(&read, &strips, &bytes);
    }
}

/// What is read can be written, and says the same.
fn write_again(read: &Pack<'_>, strips: &[pack::StripData<'_>], bytes: &[u8]) {
    let cues: Vec<Vec<&str>> = read.presets().map(|e| e.cues().collect()).collect();
    let entries: Vec<NewEntry<'_>> = read
        .presets()
        .zip(&cues)
        .map(|(entry, cues)| NewEntry {
            name: entry.name,
            cues,
            preset: entry.preset,
        })
        .collect();
    let mut out = vec![0; bytes.len() + 64];
    let written = pack::write(read.head(), strips, &entries, &mut out).expect("what reads writes");
    let again = Pack::read(written).expect("what is written reads");
    assert_eq!(again.head(), read.head());
    assert!(again.strips().eq(read.strips()));
}

/// Plays a preset with cues and times made of the bytes; the last frame.
fn play(preset: &Preset, bytes: &[u8]) -> Option<Vec<u8>> {
    if preset.pixels > MOST_PIXELS {
        return None;
    }
    let mut engine = Engine::new(preset).expect("what decodes plays");
    let mut frame = vec![0; preset.frame_len()];
    let mut now = Millis(u32::MAX - 500);
    engine.cue(now, preset.rise_on.with(30_000));
    for pair in bytes.chunks(2).rev().take(12) {
        let [step, what] = [pair[0], *pair.last().unwrap_or(&0)];
        now = now.plus(u32::from(step) * u32::from(step));
        if let Some(kind) = CueKind::ALL.get(usize::from(what % 16)) {
            engine.cue(now, kind.with(u16::from(what) * 257));
        }
        engine.set_cap(step);
        engine.frame(now, &mut frame).expect("the buffer fits");
        assert!(frame.iter().all(|level| *level <= step));
    }
    Some(frame)
}

/// A body with what stands around it.
fn sealed(magic: &[u8; 4], version: u8, body: &[u8]) -> Vec<u8> {
    let mut bytes = [magic, [version].as_slice(), body].concat();
    bytes.extend(checksum(&bytes).to_le_bytes());
    bytes
}
