//! One moment of a preset, set up to be drawn.

use heapless::Vec;

use super::course::Course;
use super::life::Life;
use crate::blend;
use crate::fixed::{scale, Length};
use crate::lanes::{pixel_share, stretches, Lane, Lights, Stretch, LANES};
use crate::mask::{Front, MaskFrame, Setting};
use crate::output::Output;
use crate::paint::PaintFrame;
use crate::preset::{Blend, Layer, Origin, Preset, TransitionStyle, Zone, MAX_LAYERS};
use crate::rng::hash;
use crate::time::Millis;

/// What shows at one moment.
pub(super) struct Picture<'p> {
    preset: &'p Preset,
    layers: Vec<LayerFrame<'p>, MAX_LAYERS>,
    gain: Gain,
}

/// A layer at one moment.
struct LayerFrame<'p> {
    zone: &'p Zone,
    pixel: u32,
    paint: PaintFrame<'p>,
    mask: MaskFrame,
    gain: u16,
    blend: Blend,
}

/// The gain of a rise or fall at one moment.
enum Gain {
    Full,
    Even(u16),
    Sweep {
        from: Origin,
        soft: Length,
        way: u16,
    },
}

impl<'p> Picture<'p> {
    pub(super) fn at(
        preset: &'p Preset,
        course: &Course,
        lives: &[Life; MAX_LAYERS],
        now: Millis,
    ) -> Picture<'p> {
        let mut layers = Vec::new();
        for (index, (layer, life)) in (0u32..).zip(preset.layers.iter().zip(lives)) {
            if let Some(frame) = LayerFrame::at(preset, index, layer, life, now) {
                // As many as there are layers, so there is room.
                let _ = layers.push(frame);
            }
        }
        let gain = match course.picture(preset, now) {
            None => Gain::Full,
            Some((transition, way)) => match transition.style {
                TransitionStyle::Fade => Gain::Even(way),
                TransitionStyle::Sweep { from, soft } => Gain::Sweep { from, soft, way },
            },
        };
        Picture {
            preset,
            layers,
            gain,
        }
    }

    /// Draws all pixels; `bytes` is a whole frame.
    pub(super) fn draw(&self, output: &Output, bytes: &mut [u8]) {
        let channels = self.preset.channels.count();
        let groups = bytes.chunks_mut(LANES * channels);
        for (base, group) in (0u32..).step_by(LANES).zip(groups) {
            let mut lights = [[0; LANES]; 4];
            for layer in &self.layers {
                layer.draw(base, channels, &mut lights);
            }
            self.dim(base, channels, &mut lights);
            output.write(&mut lights, base, group);
        }
    }

    /// The gain of rise or fall on finished light.
    fn dim(&self, base: u32, channels: usize, lights: &mut Lights) {
        let gain = match self.gain {
            Gain::Full => return,
            Gain::Even(way) => [way; LANES],
            Gain::Sweep { from, soft, way } => self.sweep(from, soft, way, base),
        };
        for lane in lights.iter_mut().take(channels) {
            for (value, gain) in lane.iter_mut().zip(&gain) {
                *value = scale(*value, *gain);
            }
        }
    }

    /// Gain of a sweep: a pixel in several zones follows the first of them.
    fn sweep(&self, from: Origin, soft: Length, way: u16, base: u32) -> Lane {
        let mut gain = [0; LANES];
        for zone in self.preset.zones.iter().rev() {
            let pixel = pixel_share(zone.len());
            let front = Front::at(from, way, soft, pixel);
            for stretch in stretches(zone, base, pixel) {
                let cover = front.cover(&stretch);
                for (lane, (gain, cover)) in gain.iter_mut().zip(cover).enumerate() {
                    if stretch.inside(lane) {
                        *gain = cover;
                    }
                }
            }
        }
        gain
    }
}

impl<'p> LayerFrame<'p> {
    /// The layer at `now`, if it shows.
    fn at(
        preset: &'p Preset,
        index: u32,
        layer: &'p Layer,
        life: &Life,
        now: Millis,
    ) -> Option<LayerFrame<'p>> {
        let run = life.run()?;
        let gain = life.gain(layer, now);
        if gain == 0 {
            return None;
        }
        let zone = preset.zones.get(usize::from(layer.zone))?;
        let pixel = pixel_share(zone.len());
        let elapsed = run.paint.elapsed(now);
        let seed = hash(preset.seed, index, life.count());
        Some(LayerFrame {
            zone,
            pixel,
            paint: PaintFrame::at(&layer.paint, elapsed, seed),
            mask: MaskFrame::at(
                &layer.mask,
                elapsed,
                Setting {
                    pixel,
                    seed,
                    place: run.place,
                },
            ),
            gain,
            blend: layer.blend,
        })
    }

    /// Coverage by mask and gain.
    #[inline(always)]
    fn cover(&self, stretch: &Stretch) -> Lane {
        if let MaskFrame::Whole = self.mask {
            return [self.gain; LANES];
        }
        let mut cover = self.mask.cover(stretch);
        if self.gain != u16::MAX {
            for value in &mut cover {
                *value = scale(*value, self.gain);
            }
        }
        cover
    }

    #[inline(always)]
    fn draw(&self, base: u32, channels: usize, lights: &mut Lights) {
        for stretch in stretches(self.zone, base, self.pixel) {
            let mut cover = self.cover(&stretch);
            stretch.clip(&mut cover);
            if cover.iter().fold(0, |any, value| any | value) == 0 {
                continue;
            }
            let mut paint = [[0; LANES]; 4];
            self.paint.fill(&stretch, channels, &mut paint, &mut cover);
            blend::apply(self.blend, lights, &paint, &cover, channels);
        }
    }
}
