//! Drive levels of a frame: copied strip by strip, and summed up as light.

use super::figures::Light;
use crate::build::parts::Strip;
use crate::build::prop::Prop;
use crate::electrical::LevelSums;
#[cfg(feature = "proptest")]
use lampwright_model::Layout;

/// Sums of light over all pixels.
#[derive(Default)]
pub(super) struct LightSum {
    sums: [u64; 4],
    pixels: u64,
}

impl LightSum {
    /// Of sums of levels, channel by channel, over all pixels.
    pub(super) fn new(sums: [u64; 4], pixels: u64) -> Self {
        Self { sums, pixels }
    }

    /// Adds a strip whose levels have been summed up, and gives the channels that are lit anywhere.
    pub(super) fn add(&mut self, sums: &LevelSums, pixels: usize) -> u8 {
        let mut lit = 0;
        for (c, (total, [level, _, _, count])) in
            self.sums.iter_mut().zip(&sums.channels).enumerate()
        {
            *total += level;
            lit |= u8::from(*count > 0) << c;
        }
        self.pixels += pixels as u64;
        lit
    }

    pub(super) fn finish(self) -> Light {
        if self.pixels == 0 {
            return Light::default();
        }
        let full = self.pixels as f64 * 255.0;
        let [r, g, b, w] = self.sums.map(|s| s as f64 / full);
        let rgb = [(r + w).min(1.0), (g + w).min(1.0), (b + w).min(1.0)];
        // Relative luminance of linear sRGB, WCAG 2.2 / IEC 61966-2-1.
        Light {
            rgb,
            luminance: 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2],
        }
    }
}

/// Reads the light of frames without solving them, as a bench does.
#[derive(Debug, Clone)]
pub struct LightMeter {
    /// First byte, pixels and channels of each strip.
    strips: Vec<(usize, usize, usize)>,
    frame_channels: usize,
}

impl LightMeter {
    /// For the strips of a prop.
    pub fn of(prop: &Prop) -> Self {
        let frame_channels = prop.frame_channels();
        let strip = |s: &Strip| {
            let first = s.first as usize * frame_channels;
            (first, s.pixels as usize, s.channels())
        };
        Self {
            strips: prop.strips().map(|(_, s)| strip(s)).collect(),
            frame_channels,
        }
    }

    /// For each channel, where in a frame its levels on the strips are.
    pub(super) fn places(&self) -> [Vec<usize>; 4] {
        let mut places: [Vec<usize>; 4] = Default::default();
        for (first, pixels, channels) in &self.strips {
            for (c, places) in places.iter_mut().enumerate().take(*channels) {
                places.extend((0..*pixels).map(|pixel| first + pixel * self.frame_channels + c));
            }
        }
        places
    }

    /// Pixels of all strips.
    pub(super) fn pixels(&self) -> u64 {
        self.strips
            .iter()
            .map(|(_, pixels, _)| *pixels as u64)
            .sum()
    }

    /// The light of a frame.
    pub fn read(&self, levels: &[u8]) -> Light {
        let mut light = LightSum::default();
        for (first, pixels, channels) in &self.strips {
            let own = levels.get(*first..).unwrap_or_default();
            for pixel in own.chunks_exact(self.frame_channels).take(*pixels) {
                for (sum, level) in light.sums.iter_mut().zip(pixel).take(*channels) {
                    *sum += u64::from(*level);
                }
            }
            light.pixels += *pixels as u64;
        }
        light.finish()
    }
}

/// The light of a frame as a source gave it, every pixel counted.
#[cfg(feature = "proptest")]
pub fn light_of_levels(layout: Layout, levels: &[u8]) -> Light {
    let mut light = LightSum::default();
    for pixel in levels.chunks_exact(layout.channels.count()) {
        for (sum, level) in light.sums.iter_mut().zip(pixel) {
            *sum += u64::from(*level);
        }
        light.pixels += 1;
    }
    light.finish()
}

/// Copies a strip's part of the frame, leaving out the white channel where its pixels have none.
pub(super) fn take_levels(frame: &[u8], frame_channels: usize, channels: usize, out: &mut [u8]) {
    let pixels = frame.chunks_exact(frame_channels);
    for (to, from) in out.chunks_exact_mut(channels).zip(pixels) {
        to.iter_mut().zip(from).for_each(|(t, f)| *t = *f);
    }
}
