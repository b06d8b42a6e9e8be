//! From finished light to drive levels: white extraction, transfer curve, cap, rounding.

use crate::color::{extract_white, Channels};
use crate::curve::Transfer;
use crate::fixed::{scale, Share};
use crate::lanes::{Lane, Lights, Pixels, LANES};
use crate::preset::Preset;
use crate::rng::mix;

/// How light becomes drive levels in one frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output {
    channels: Channels,
    white: Share,
    transfer: Transfer,
    /// The cap as a fraction.
    cap: u16,
    /// Number of the frame for the dithering, if there is any.
    dither: Option<u16>,
}

impl Output {
    /// The output of a preset, `elapsed` ms after the prop left the dark.
    pub(crate) fn new(preset: &Preset, cap: u8, elapsed: u32) -> Output {
        // 24 bits of time times 250 Hz stay within 32 bits; the pattern starts over every 4.7 h.
        let frame = (elapsed & 0xff_ffff) * u32::from(preset.frame_rate_hz) / 1000;
        Output {
            channels: preset.channels,
            white: preset.white_extraction,
            transfer: preset.transfer,
            cap: u16::from(cap) * 257,
            dither: preset.dither.then_some(frame as u16),
        }
    }

    /// Writes the drive levels of the pixels from `base` on; `bytes` holds up to [`LANES`] pixels.
    #[inline]
    pub(crate) fn write(&self, lights: &mut Lights, base: u32, bytes: &mut [u8]) {
        bend(self, lights);
        write_levels(self, lights, base, bytes);
    }

    /// Writes what the drive levels of the pixels from `base` on are made of whatever the cap: values, and the
    /// thresholds that [`drive_level`] rounds them by.
    pub(crate) fn write_values(
        &self,
        lights: &mut Lights,
        base: u32,
        values: &mut [u16],
        rounding: &mut [u8],
    ) {
        bend(self, lights);
        interleave(self.channels, lights, values);
        let mut each = [[HALF; LANES]; 4];
        if let Some(frame) = self.dither {
            for (channel, own) in (0u16..).zip(&mut each) {
                *own = thresholds(frame, base, channel);
            }
        }
        interleave(self.channels, &each, rounding);
    }

    /// The same as [`Output::write`], pixel by pixel.
    #[inline(never)]
    pub(crate) fn write_each(&self, lights: &Pixels, base: u32, bytes: &mut [u8]) {
        // Each curve has a loop of its own.
        match self.transfer {
            Transfer::Linear => self.write_through(Transfer::Linear, lights, base, bytes),
            Transfer::Lightness => self.write_through(Transfer::Lightness, lights, base, bytes),
        }
    }

    #[inline(always)]
    fn write_through(&self, curve: Transfer, lights: &Pixels, base: u32, bytes: &mut [u8]) {
        let (cap, mut rest) = (self.cap, bytes);
        for (light, pixel) in lights.iter().zip(base..) {
            // Without dithering all thresholds are half a level.
            let (first, step) = match self.dither {
                Some(frame) => (threshold_course(frame, pixel), CHANNEL_STEP),
                None => (u16::from(HALF) << 8, 0),
            };
            let level = |value, channel: u16| {
                let threshold = first.wrapping_add(step.wrapping_mul(channel)) >> 8;
                round_one(scale(curve.drive(value), cap), threshold as u8)
            };
            if self.channels == Channels::Rgbw {
                let [r, g, b, w] = extract_white(*light, self.white);
                let Some((pixel, behind)) = rest.split_first_chunk_mut() else {
                    return;
                };
                *pixel = [level(r, 0), level(g, 1), level(b, 2), level(w, 3)];
                rest = behind;
            } else {
                let [r, g, b, _] = *light;
                let Some((pixel, behind)) = rest.split_first_chunk_mut() else {
                    return;
                };
                *pixel = [level(r, 0), level(g, 1), level(b, 2)];
                rest = behind;
            }
        }
    }
}

/// White extraction and transfer curve, in 16 bits.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn bend(output: &Output, lights: &mut Lights) {
    if output.channels == Channels::Rgbw {
        let [red, green, blue, white] = &mut *lights;
        let rgb = red.iter_mut().zip(green).zip(blue);
        for (((r, g), b), w) in rgb.zip(white) {
            [*r, *g, *b, *w] = extract_white([*r, *g, *b, *w], output.white);
        }
    }
    if output.transfer == Transfer::Lightness {
        for lane in lights.iter_mut().take(output.channels.count()) {
            for value in lane {
                *value = Transfer::Lightness.drive(*value);
            }
        }
    }
}

/// Writes the drive levels of bent lights.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn write_levels(output: &Output, lights: &mut Lights, base: u32, bytes: &mut [u8]) {
    let mut drive = [[0; LANES]; 4];
    let lanes = lights
        .iter_mut()
        .zip(&mut drive)
        .take(output.channels.count());
    for (channel, (lane, drive)) in (0u16..).zip(lanes) {
        if output.cap != u16::MAX {
            for value in &mut *lane {
                *value = scale(*value, output.cap);
            }
        }
        // A loop of its own without dithering: the thresholds are all one.
        match output.dither {
            None => round(lane, &[HALF; LANES], drive),
            Some(frame) => round(lane, &thresholds(frame, base, channel), drive),
        }
    }
    interleave(output.channels, &drive, bytes);
}

/// The drive level, 0..=255, of a value from [`Engine::render_values`](crate::Engine::render_values) at a cap.
#[inline(always)]
#[must_use]
pub const fn drive_level(value: u16, threshold: u8, cap: u8) -> u8 {
    round_one(scale(value, cap as u16 * 257), threshold)
}

/// The threshold that rounds to the nearest level.
const HALF: u8 = 128;

/// Rounds to 8 bits, up where what is left of a level and the threshold together reach one (256).
/// Whatever the threshold, 0 gives 0, full gives 255 and the level is monotone in the value.
#[inline(always)]
fn round(lane: &Lane, thresholds: &[u8; LANES], out: &mut [u8; LANES]) {
    for ((value, threshold), level) in lane.iter().zip(thresholds).zip(out) {
        *level = round_one(*value, *threshold);
    }
}

/// The same for one value.
#[inline(always)]
const fn round_one(value: u16, threshold: u8) -> u8 {
    // 255/65535 of the value with 8 bits after the point; full is exactly 255.
    let exact = value - (value >> 8);
    ((exact + threshold as u16) >> 8) as u8
}

/// How far the thresholds of neighbouring channels lie apart, of 65536.
const CHANNEL_STEP: u16 = 21845;

/// The threshold of a pixel's first channel in a frame, of 65536.
#[inline(always)]
const fn threshold_course(frame: u16, pixel: u32) -> u16 {
    frame.wrapping_mul(40503).wrapping_add(mix(pixel) as u16)
}

/// Thresholds that over the frames take on all values evenly (a step of the golden ratio), at a
/// different point of that course for each pixel and channel so that no pattern shows.
#[inline(always)]
fn thresholds(frame: u16, base: u32, channel: u16) -> [u8; LANES] {
    let start = channel.wrapping_mul(CHANNEL_STEP);
    let mut out = [0; LANES];
    for (threshold, pixel) in out.iter_mut().zip(base..) {
        *threshold = (start.wrapping_add(threshold_course(frame, pixel)) >> 8) as u8;
    }
    out
}

/// Lays the channels of each pixel side by side.
#[inline(always)]
fn interleave<T: Copy + Default>(channels: Channels, drive: &[[T; LANES]; 4], bytes: &mut [T]) {
    match channels {
        Channels::Rgb => interleave_into::<3, T>(drive, bytes),
        Channels::Rgbw => interleave_into::<4, T>(drive, bytes),
    }
}

#[inline(always)]
fn interleave_into<const N: usize, T: Copy + Default>(drive: &[[T; LANES]; 4], bytes: &mut [T]) {
    // By index and through a group of fixed size: of that the compiler makes vector code.
    let mut group = [[T::default(); N]; LANES];
    for pixel in 0..LANES {
        for channel in 0..N.min(4) {
            group[pixel][channel] = drive[channel][pixel];
        }
    }
    let group = group.as_flattened();
    if bytes.len() == group.len() {
        bytes.copy_from_slice(group);
    } else {
        // The last group of a frame.
        for (byte, level) in bytes.iter_mut().zip(group) {
            *byte = *level;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(cap: u8) -> Output {
        let mut preset = Preset::new("t", 16, Channels::Rgb);
        preset.transfer = Transfer::Linear;
        Output::new(&preset, cap, 0)
    }

    fn level(output: &Output, value: u16) -> u8 {
        let (mut bytes, mut one_by_one) = ([0; 3 * LANES], [0; 3 * LANES]);
        output.write(&mut [[value; LANES]; 4], 0, &mut bytes);
        output.write_each(&[[value; 4]; LANES], 0, &mut one_by_one);
        assert_eq!(bytes, one_by_one);
        bytes[0]
    }

    #[test]
    fn levels_are_rounded_to_the_nearest() {
        let output = output(255);
        for value in 0..=65535u16 {
            let exact = f64::from(value) * 255.0 / 65535.0;
            let got = f64::from(level(&output, value));
            assert!((got - exact).abs() <= 0.502, "{value}: {got} {exact}");
        }
        for byte in 0..=255u8 {
            assert_eq!(level(&output, u16::from(byte) * 257), byte);
        }
    }

    #[test]
    fn the_cap_is_the_level_of_full() {
        for cap in 0..=255u8 {
            assert_eq!(level(&output(cap), 65535), cap);
            assert_eq!(level(&output(cap), 0), 0);
        }
    }

    #[test]
    fn dithering_gives_the_level_between_on_average_and_keeps_the_ends() {
        let frames = 4096u32;
        for value in [0u16, 1, 100, 128, 257, 300, 20_000, 65_500, 65_535] {
            let mut sum = 0;
            for frame in 0..frames {
                let output = Output {
                    dither: Some(frame as u16),
                    ..output(255)
                };
                sum += u32::from(level(&output, value));
            }
            let exact = f64::from(value) * 255.0 / 65535.0;
            let mean = f64::from(sum) / f64::from(frames);
            assert!((mean - exact).abs() < 0.005, "{value}: {mean} {exact}");
            if value == 0 || value == 65535 {
                assert_eq!(sum, frames * u32::from(level(&output(255), value)));
            }
        }
    }

    #[test]
    fn white_goes_to_the_fourth_byte() {
        let mut preset = Preset::new("t", 16, Channels::Rgbw);
        preset.transfer = Transfer::Linear;
        let output = Output::new(&preset, 255, 0);
        let mut bytes = [0; 4 * LANES];
        let mut lights = [[65535; LANES], [25700; LANES], [2570; LANES], [0; LANES]];
        output.write(&mut lights, 0, &mut bytes);
        assert_eq!(bytes[4 * LANES - 4..], [245, 90, 0, 10]);
        let mut one_by_one = [0; 4 * LANES];
        output.write_each(&[[65535, 25700, 2570, 0]; LANES], 0, &mut one_by_one);
        assert_eq!(bytes, one_by_one);
    }
}
