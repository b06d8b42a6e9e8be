//! Travelling wave.

use crate::fixed::{lerp, wave_sine, wave_triangle};
use crate::lanes::{high_halves, Lane, Lights, Stretch};
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
    #[inline(never)]
    pub(super) fn fill(&self, stretch: &Stretch, channels: usize, out: &mut Lights) {
        let mut level = high_halves(&stretch.middles(self.per_pixel, self.shift));
        match self.shape {
            Shape::Sine => each(&mut level, wave_sine),
            Shape::Triangle => each(&mut level, wave_triangle),
            Shape::Square => each(&mut level, |phase| ((phase as i16) >> 15) as u16),
            Shape::Saw => {}
        }
        let ends = self.low.iter().zip(self.high);
        for (lane, (low, high)) in out.iter_mut().zip(ends).take(channels) {
            for (value, level) in lane.iter_mut().zip(&level) {
                *value = lerp(*low, high, *level);
            }
        }
    }
}

#[inline]
fn each(lane: &mut Lane, shape: impl Fn(u16) -> u16) {
    for value in lane {
        *value = shape(*value);
    }
}
