//! One moment of a preset, set up to be drawn.

use heapless::Vec;

use super::course::Course;
use super::life::Life;
use crate::blend;
use crate::fixed::{scale, Length, VECTORS};
use crate::lanes::{pixel_share, stretches, Lane, Lights, Pixel, Pixels, Stretch, LANES};
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

/// Where a layer is drawn before it joins what lies below, pixel by pixel.
struct Paper {
    colors: Pixels,
    covers: Lane,
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
    /// Nothing yet.
    #[inline(always)]
    pub(super) const fn blank(preset: &'p Preset) -> Picture<'p> {
        Picture {
            preset,
            layers: Vec::new(),
            gain: Gain::Full,
        }
    }

    /// Sets up what shows at a moment. In place: all layers together are what most of the stack goes
    /// to, and a second copy of them would double it.
    #[inline(never)]
    pub(super) fn set(&mut self, course: &Course, lives: &[Life; MAX_LAYERS], now: Millis) {
        let layers = self.preset.layers.iter().zip(lives);
        for (index, (layer, life)) in (0u32..).zip(layers) {
            if let Some(frame) = LayerFrame::at(self.preset, index, layer, life, now) {
                // As many as there are layers, so there is room.
                let _ = self.layers.push(frame);
            }
        }
        if let Some((transition, way)) = course.picture(self.preset, now) {
            self.gain = match transition.style {
                TransitionStyle::Fade => Gain::Even(way),
                TransitionStyle::Sweep { from, soft } => Gain::Sweep { from, soft, way },
            };
        }
    }

    /// Draws all pixels; `bytes` is a whole frame.
    #[inline]
    pub(super) fn draw(&mut self, output: &Output, bytes: &mut [u8]) {
        if VECTORS {
            let groups = bytes.chunks_mut(LANES * self.preset.channels.count());
            self.draw_groups(groups, |base, lights, group| {
                output.write(lights, base, group);
            });
        } else {
            self.draw_each(output, bytes);
        }
    }

    /// Draws all pixels without cap and rounding; both slices are whole frames.
    #[inline]
    pub(super) fn draw_values(&self, output: &Output, values: &mut [u16], rounding: &mut [u8]) {
        let length = LANES * self.preset.channels.count();
        let groups = values.chunks_mut(length).zip(rounding.chunks_mut(length));
        self.draw_groups(groups, |base, lights, (values, rounding)| {
            output.write_values(lights, base, values, rounding);
        });
    }

    /// In one array per quantity, for vector units.
    #[inline]
    fn draw_groups<G>(&self, groups: impl Iterator<Item = G>, write: impl Fn(u32, &mut Lights, G)) {
        let channels = self.preset.channels.count();
        for (base, group) in (0u32..).step_by(LANES).zip(groups) {
            let mut lights = [[0; LANES]; 4];
            for layer in &self.layers {
                layer.draw(base, channels, &mut lights);
            }
            self.dim(base, channels, &mut lights);
            write(base, &mut lights, group);
        }
    }

    /// Pixel by pixel.
    #[inline(never)]
    pub(super) fn draw_each(&mut self, output: &Output, bytes: &mut [u8]) {
        let channels = self.preset.channels.count();
        let groups = bytes.chunks_mut(LANES * channels);
        let mut paper = Paper {
            colors: [[0; 4]; LANES],
            covers: [0; LANES],
        };
        for (base, group) in (0u32..).step_by(LANES).zip(groups) {
            let mut lights = [[0; 4]; LANES];
            for layer in &mut self.layers {
                layer.draw_each(base, channels, &mut lights, &mut paper);
            }
            self.dim_each(base, &mut lights);
            output.write_each(&lights, base, group);
        }
    }

    /// The gain of rise or fall on finished light, pixel by pixel.
    #[inline(never)]
    fn dim_each(&self, base: u32, lights: &mut Pixels) {
        let mut gains = [0; LANES];
        match self.gain {
            Gain::Full => return,
            Gain::Even(way) => gains = [way; LANES],
            Gain::Sweep { from, soft, way } => {
                for zone in self.preset.zones.iter().rev() {
                    let pixel = pixel_share(zone.len());
                    let front = Front::at(from, way, soft, pixel);
                    for stretch in stretches(zone, base, pixel) {
                        let own = gains.get_mut(stretch.range()).unwrap_or_default();
                        for (gain, at) in own.iter_mut().zip(stretch.walk_places(0)) {
                            *gain = front.at_place((at >> 16) as u16);
                        }
                    }
                }
            }
        }
        for (light, gain) in lights.iter_mut().zip(gains) {
            for value in light {
                *value = scale(*value, gain);
            }
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

    /// Pixel by pixel.
    #[inline(never)]
    fn draw_each(&mut self, base: u32, channels: usize, lights: &mut Pixels, paper: &mut Paper) {
        for stretch in stretches(self.zone, base, self.pixel) {
            let range = stretch.range();
            let (Some(covers), Some(colors), Some(lights)) = (
                paper.covers.get_mut(range.clone()),
                paper.colors.get_mut(range.clone()),
                lights.get_mut(range),
            ) else {
                continue;
            };
            let (any, all) = self.mask.each(&stretch, self.gain, covers);
            if any == 0 {
                continue;
            }
            // A layer that hides what is below it is painted where it belongs at once.
            let hides = all == u16::MAX && self.blend == Blend::Over && !self.paint.is_clear();
            let target: &mut [Pixel] = if hides { &mut *lights } else { &mut *colors };
            self.paint.each(&stretch, channels, target, covers);
            if !hides {
                blend::each_pixel(self.blend, lights, colors, covers, channels);
            }
        }
    }
}
