//! Frames of the own engine drawn once, whose light can be had at every cap.
//!
//! The engine scales its values to the cap and rounds them only at its end ([`drive_level`]). Who wants to know how a
//! preset looks at every cap need not draw it for each.

use super::light::{LightMeter, LightSum};
use super::source::Played;
use super::stream::Chunk;
use super::{figures::Light, FrameMeta};
use crate::build::diag::InputErrors;
use lampwright_model::{drive_level, Engine, FrameLength, FrameSource as _};

/// Some frames of a preset at a time.
pub struct Uncapped<'p> {
    played: Played<'p, Engine<'p>>,
    /// For each channel, where in a frame its levels on the strips are.
    places: [Vec<usize>; 4],
    pixels: u64,
    chunk: Chunk,
    /// The values of the frames, channel by channel, and what they are rounded by.
    values: Vec<u16>,
    thresholds: Vec<u8>,
}

impl<'p> Uncapped<'p> {
    /// A preset from its start, as the meter sees it.
    pub fn new(played: Played<'p, Engine<'p>>, meter: &LightMeter) -> Self {
        Self {
            played,
            places: meter.places(),
            pixels: meter.pixels(),
            chunk: Chunk::default(),
            values: Vec::new(),
            thresholds: Vec::new(),
        }
    }

    /// Draws the next frames, up to `frames` of them, in place of those before; returns how many.
    ///
    /// # Errors
    /// Whatever the source reports; the engine has nothing to report.
    pub fn draw(&mut self, frames: usize) -> Result<usize, InputErrors> {
        let length = self.played.source().layout().frame_len();
        let (mut values, mut thresholds) = (vec![0; length], vec![0; length]);
        self.values.clear();
        self.thresholds.clear();
        let (all, each) = (&mut self.values, &mut self.thresholds);
        let places = &self.places;
        self.played.each(&mut self.chunk, frames, |engine, now, _| {
            let state = engine.render_values(now, &mut values, &mut thresholds)?;
            let places = || places.iter().flatten();
            all.extend(places().map(|at| values.get(*at).copied().unwrap_or(0)));
            each.extend(places().map(|at| thresholds.get(*at).copied().unwrap_or(0)));
            Ok::<_, FrameLength>(state)
        })
    }

    /// The frames drawn, each with its light at a cap.
    pub fn lights(&self, cap: u8) -> impl Iterator<Item = (&FrameMeta, Light)> {
        let length = self.places.iter().map(Vec::len).sum::<usize>().max(1);
        let values = self.values.chunks_exact(length);
        let frames = values.zip(self.thresholds.chunks_exact(length));
        let lights = frames.map(move |(values, thresholds)| self.light(values, thresholds, cap));
        self.chunk.meta.iter().zip(lights)
    }

    fn light(&self, mut values: &[u16], mut thresholds: &[u8], cap: u8) -> Light {
        let sums = self.places.each_ref().map(|places| {
            let (own, rest) = values.split_at(places.len().min(values.len()));
            let (by, rest_by) = thresholds.split_at(places.len().min(thresholds.len()));
            (values, thresholds) = (rest, rest_by);
            sum_of_levels(own, by, cap)
        });
        LightSum::new(sums, self.pixels).finish()
    }
}

fn sum_of_levels(values: &[u16], thresholds: &[u8], cap: u8) -> u64 {
    let levels = values.iter().zip(thresholds);
    // 65,535 pixels at 255 stay within 32 bits, which vector units add up in.
    let sum: u32 = levels
        .map(|(value, by)| u32::from(drive_level(*value, *by, cap)))
        .sum();
    u64::from(sum)
}
