//! The colours of a layer: a group of pixels at a time, from nothing but place and time.

mod embers;
mod lattice;
mod noise;
mod sparks;
mod stops;
mod wave;

use embers::EmbersFrame;
use noise::NoiseFrame;
use sparks::SparksFrame;
use stops::StopsFrame;
use wave::WaveFrame;

use crate::color::Color;
use crate::fixed::{fraction, lerp, phase, wave_sine, Length};
use crate::lanes::{Lane, Lights, Pixel, Stretch, LANES};
use crate::preset::{Direction, Paint};

/// A paint at one moment, set up for many pixels.
#[derive(Debug, Clone)]
pub(crate) enum PaintFrame<'p> {
    Flat([u16; 4]),
    Gradient { stops: StopsFrame<'p>, shift: u32 },
    Wave(WaveFrame),
    Noise(NoiseFrame<'p>),
    Sparks(SparksFrame),
    Embers(EmbersFrame<'p>),
}

/// A moment in a course of equal spans of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Beat {
    /// Number of the span.
    span: u32,
    /// How much of it has gone by.
    within: u16,
}

impl Beat {
    /// The moment `elapsed` ms after the start of spans of `span_ms`; without spans time stands
    /// still.
    fn at(elapsed: u32, span_ms: u32) -> Beat {
        match elapsed.checked_div(span_ms) {
            Some(span) => Beat {
                span,
                within: fraction(elapsed - span * span_ms, span_ms),
            },
            None => Beat { span: 0, within: 0 },
        }
    }
}

/// How far something that repeats over 2³² has moved.
fn travelled(elapsed: u32, period_ms: u32, direction: Direction) -> u32 {
    let way = u32::from(phase(elapsed, period_ms)) << 16;
    match direction {
        // What moves towards the end shows at each place what was nearer the start.
        Direction::TowardsEnd => way.wrapping_neg(),
        Direction::TowardsStart => way,
    }
}

/// Of something that repeats every `length`: how much of it one pixel is, of 2³².
fn per_pixel(length: Length) -> u32 {
    // One pixel is 16 sixteenths; (2³² − 1)·16 does not fit, so divide first, to the nearest.
    let per_sixteenth = u32::MAX / u32::from(length.0).max(16);
    per_sixteenth.wrapping_mul(16)
}

/// The same in cells of a grid, 16 bits before and 16 after the point.
fn cells_per_pixel(length: Length) -> u32 {
    (16 << 16) / u32::from(length.0).max(16)
}

impl<'p> PaintFrame<'p> {
    /// The paint `elapsed` ms after its start; `seed` is that of this run of the layer.
    pub(crate) fn at(paint: &'p Paint, elapsed: u32, seed: u32) -> PaintFrame<'p> {
        match paint {
            Paint::Solid { color } => PaintFrame::Flat(color.to_array()),
            Paint::Gradient {
                stops,
                scroll_ms,
                direction,
            } => PaintFrame::Gradient {
                stops: StopsFrame::new(stops),
                shift: travelled(elapsed, *scroll_ms, *direction),
            },
            Paint::Wave {
                low,
                high,
                wavelength,
                period_ms,
                direction,
                shape,
            } => PaintFrame::Wave(WaveFrame {
                low: low.to_array(),
                high: high.to_array(),
                per_pixel: per_pixel(*wavelength),
                shift: travelled(elapsed, *period_ms, *direction),
                shape: *shape,
            }),
            Paint::Noise {
                stops,
                grain,
                period_ms,
                octaves,
            } => PaintFrame::Noise(NoiseFrame::new(
                stops,
                cells_per_pixel(*grain),
                Beat::at(elapsed, *period_ms),
                *octaves,
                seed,
            )),
            Paint::Sparks {
                color,
                chance_every_ms,
                chance,
                decay,
            } => PaintFrame::Sparks(SparksFrame::new(
                color.to_array(),
                Beat::at(elapsed, *chance_every_ms),
                *chance,
                *decay,
                seed,
            )),
            Paint::Embers {
                stops,
                patch,
                kick_every_ms,
                cooling,
                base,
                drift,
            } => PaintFrame::Embers(EmbersFrame {
                stops: StopsFrame::new(stops),
                per_pixel: cells_per_pixel(*patch),
                shift: embers::drifted(elapsed, *drift, *patch),
                heat: embers::Heat::new(Beat::at(elapsed, *kick_every_ms), *cooling, *base, seed),
                pair: lattice::Pair::NONE,
            }),
            Paint::Breathing {
                low,
                high,
                period_ms,
            } => PaintFrame::Flat(breath(*low, *high, phase(elapsed, *period_ms))),
        }
    }

    /// Fills the first `channels` channels with the colours of a stretch. Where the paint is
    /// clear it takes away from `cover`.
    #[inline]
    pub(crate) fn fill(
        &self,
        stretch: &Stretch,
        channels: usize,
        out: &mut Lights,
        cover: &mut Lane,
    ) {
        match self {
            PaintFrame::Flat(color) => flat(out, *color, channels),
            PaintFrame::Gradient { stops, shift } => {
                stops.map(&stretch.places(*shift), channels, out);
            }
            PaintFrame::Wave(wave) => wave.fill(stretch, channels, out),
            PaintFrame::Noise(noise) => noise.fill(stretch, channels, out),
            PaintFrame::Sparks(sparks) => sparks.fill(stretch, channels, out, cover),
            PaintFrame::Embers(embers) => embers.fill(stretch, channels, out),
        }
    }

    /// Whether it takes away from the cover it is given.
    pub(crate) const fn is_clear(&self) -> bool {
        matches!(self, PaintFrame::Sparks(_))
    }

    /// The same, pixel by pixel: `out` and `covers` hold the pixels of the stretch. Where nothing is
    /// covered colours have no meaning.
    #[inline(never)]
    pub(crate) fn each(
        &mut self,
        stretch: &Stretch,
        channels: usize,
        out: &mut [Pixel],
        covers: &mut [u16],
    ) {
        match self {
            PaintFrame::Flat(color) => flat_each(out, *color),
            PaintFrame::Gradient { stops, shift } => {
                gradient_each(stops, *shift, stretch, channels, out);
            }
            PaintFrame::Wave(wave) => wave.each(stretch, channels, out),
            PaintFrame::Noise(noise) => noise.each(stretch, channels, out),
            PaintFrame::Sparks(sparks) => {
                sparks.each(stretch, covers);
                flat_each(out, sparks.color());
            }
            PaintFrame::Embers(embers) => embers.each(stretch, channels, out),
        }
    }
}

/// One colour in every lane.
#[inline]
fn flat(out: &mut Lights, color: [u16; 4], channels: usize) {
    for (lane, value) in out.iter_mut().zip(color).take(channels) {
        lane.fill(value);
    }
}

/// Colours by place, pixel by pixel.
#[inline(never)]
fn gradient_each(
    stops: &StopsFrame<'_>,
    shift: u32,
    stretch: &Stretch,
    channels: usize,
    out: &mut [Pixel],
) {
    let mut places = [0; LANES];
    let places = places.get_mut(stretch.range()).unwrap_or_default();
    for (place, at) in places.iter_mut().zip(stretch.walk_places(shift)) {
        *place = (at >> 16) as u16;
    }
    stops.each(places, channels, out);
}

/// One colour in every pixel.
fn flat_each(out: &mut [Pixel], color: Pixel) {
    for pixel in out {
        *pixel = color;
    }
}

fn breath(low: Color, high: Color, phase: u16) -> [u16; 4] {
    let level = wave_sine(phase);
    let mut out = low.to_array();
    for (value, high) in out.iter_mut().zip(high.to_array()) {
        *value = lerp(*value, high, level);
    }
    out
}

#[cfg(test)]
mod tests;
