//! Travelling wave.

use crate::fixed::{lerp, wave_sine, wave_triangle, Way};
use crate::lanes::{high_halves, Lights, Pixel, Stretch};
use crate::preset::Shape;

/// A wave at one moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WaveFrame {
    pub(super) low: [u16; 4],
    pub(super) high: [u16; 4],
    /// Phase from pixel to pixel, 2³² a wavelength.
    pub(super) per_pixel: u32,
    /// Phase at the start of the zone.
    pub(super) shift: u32,
    pub(super) shape: Shape,
}

impl WaveFrame {
    #[inline]
    pub(super) fn fill(&self, stretch: &Stretch, channels: usize, out: &mut Lights) {
        fill(self, stretch, channels, out);
    }

    /// The same, pixel by pixel.
    #[inline(never)]
    pub(super) fn each(&self, stretch: &Stretch, channels: usize, out: &mut [Pixel]) {
        let ends = self.low.iter().zip(self.high);
        let mut ways = [Way::new(0, 0); 4];
        for (way, (low, high)) in ways.iter_mut().zip(ends) {
            *way = Way::new(*low, high);
        }
        let [to_red, to_green, to_blue, to_white] = ways;
        let phases = stretch.walk_middles(self.per_pixel, self.shift);
        for (pixel, phase) in out.iter_mut().zip(phases) {
            let level = height(self.shape, (phase >> 16) as u16);
            let [red, green, blue, white] = pixel;
            *red = to_red.at(level);
            *green = to_green.at(level);
            *blue = to_blue.at(level);
            if channels > 3 {
                *white = to_white.at(level);
            }
        }
    }
}

/// Fills the first `channels` channels.
#[cfg_attr(
    feature = "wide",
    multiversion::multiversion(targets("x86_64+avx+avx2"))
)]
fn fill(wave: &WaveFrame, stretch: &Stretch, channels: usize, out: &mut Lights) {
    let mut level = high_halves(&stretch.middles(wave.per_pixel, wave.shift));
    for value in &mut level {
        *value = height(wave.shape, *value);
    }
    let ends = wave.low.iter().zip(wave.high);
    for (lane, (low, high)) in out.iter_mut().zip(ends).take(channels) {
        for (value, level) in lane.iter_mut().zip(&level) {
            *value = lerp(*low, high, *level);
        }
    }
}

/// How high the wave stands at a phase.
#[inline(always)]
const fn height(shape: Shape, phase: u16) -> u16 {
    match shape {
        Shape::Sine => wave_sine(phase),
        Shape::Triangle => wave_triangle(phase),
        // Nothing in the first half turn, full in the second.
        Shape::Square => ((phase as i16) >> 15) as u16,
        Shape::Saw => phase,
    }
}
