//! The light of a strip as the eye sees it on a screen: drive levels to sRGB, frames to columns, columns to a
//! PNG.

use super::raster::PictureError;
use crate::units::light::{light_to_srgb, srgb_to_light};

/// Share of light, 0..1, to an sRGB code value (IEC 61966-2-1).
fn srgb_from_linear(share: f64) -> u8 {
    let encoded = light_to_srgb(share.clamp(0.0, 1.0));
    // A share that is not a number comes out as 0.
    (encoded * 255.0).round() as u8
}

/// An sRGB code value to a share of light, 0..1 (IEC 61966-2-1).
pub(crate) fn linear_from_srgb(code: u8) -> f64 {
    srgb_to_light(f64::from(code) / 255.0)
}

/// Screen colour of a pixel driven at `rgb`, each 0..1. Light is proportional to the drive level (a duty
/// cycle); the screen's own primaries stand in for the LED's.
pub fn srgb_from_drive(rgb: [f64; 3]) -> [u8; 3] {
    rgb.map(srgb_from_linear)
}

/// Screen colour of a pixel with a white channel: white light is added to each of the three. Light beyond what
/// the screen can show is scaled back so that the hue stays.
pub fn srgb_from_drive_rgbw(rgb: [f64; 3], white: f64) -> [u8; 3] {
    srgb_from_drive(shown(rgb, white))
}

fn shown(rgb: [f64; 3], white: f64) -> [f64; 3] {
    let sum = rgb.map(|share| share.max(0.0) + white.max(0.0));
    let brightest = sum[0].max(sum[1]).max(sum[2]).max(1.0);
    sum.map(|share| share / brightest)
}

/// A strip's light over time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripImage {
    /// Name of the strip, as in the build file.
    pub name: String,
    /// Pixels of the strip.
    pub pixels: usize,
    /// Equal slices of time from left to right; in each the sRGB colours of the pixels, first pixel first
    /// (it is drawn at the bottom). A column with fewer colours than pixels is missing from there on.
    pub columns: Vec<Vec<[u8; 3]>>,
}

impl StripImage {
    /// The strip as a PNG of at most `width` × `height`: columns and pixels beyond that are averaged as light.
    /// Missing parts are transparent.
    pub(crate) fn to_png(&self, width: usize, height: usize) -> Result<Vec<u8>, PictureError> {
        let width = self.columns.len().min(width).max(1);
        let height = self.pixels.min(height).max(1);
        let mut rgba = Vec::with_capacity(width * height * 4);
        for row in 0..height {
            // Row 0 is the top: the last pixels.
            let pixels = slice(height - 1 - row, height, self.pixels);
            for column in 0..width {
                let columns = slice(column, width, self.columns.len());
                rgba.extend_from_slice(&self.mean(columns, pixels.clone()));
            }
        }
        encode(&rgba, width, height)
    }

    /// Mean light of a block, as RGBA; transparent if nothing of it is there.
    fn mean(&self, columns: std::ops::Range<usize>, pixels: std::ops::Range<usize>) -> [u8; 4] {
        let mut light = [0.0; 3];
        let mut count = 0u32;
        let block = self.columns.get(columns).unwrap_or(&[]);
        for colour in block
            .iter()
            .flat_map(|column| column.iter().take(pixels.end).skip(pixels.start))
        {
            for (sum, code) in light.iter_mut().zip(colour) {
                *sum += linear_from_srgb(*code);
            }
            count += 1;
        }
        if count == 0 {
            return [0; 4];
        }
        let [r, g, b] = light.map(|sum| srgb_from_linear(sum / f64::from(count)));
        [r, g, b, 255]
    }
}

/// The part of `0..total` that belongs to part `index` of `parts` (`parts` ≤ `total`, or both tiny).
fn slice(index: usize, parts: usize, total: usize) -> std::ops::Range<usize> {
    // Wide arithmetic, so that an absurd pixel count cannot overflow; the share is at most `total`.
    let edge = |i: usize| (i as u128 * total as u128 / parts as u128) as usize;
    let start = edge(index);
    start..edge(index + 1).max(start.saturating_add(1))
}

/// Strips one below the other as one PNG of `width` columns, a row a pixel, the last pixel of each strip on top;
/// each colour in `steps` even steps of sRGB. What is missing is black.
pub(crate) fn film_png(
    strips: &[StripImage],
    width: usize,
    steps: u16,
) -> Result<Vec<u8>, PictureError> {
    let top = f64::from(steps.clamp(2, 256) - 1);
    let step = |code: u8| ((f64::from(code) * top / 255.0).round() * 255.0 / top).round() as u8;
    let table: Vec<u8> = (0..=255).map(step).collect();
    let height: usize = strips.iter().map(|s| s.pixels).sum();
    let mut rgb = Vec::with_capacity(width * height * 3);
    for strip in strips {
        for pixel in (0..strip.pixels).rev() {
            for column in 0..width {
                let from = slice(column, width, strip.columns.len());
                let [r, g, b, _] = strip.mean(from, pixel..pixel + 1);
                rgb.extend([r, g, b].map(|c| table.get(usize::from(c)).copied().unwrap_or(c)));
            }
        }
    }
    encode_as(&rgb, width, height.max(1), png::ColorType::Rgb)
}

fn encode(rgba: &[u8], width: usize, height: usize) -> Result<Vec<u8>, PictureError> {
    encode_as(rgba, width, height, png::ColorType::Rgba)
}

fn encode_as(
    samples: &[u8],
    width: usize,
    height: usize,
    colour: png::ColorType,
) -> Result<Vec<u8>, PictureError> {
    let too_large = || PictureError::TooLarge {
        width: width as f64,
        height: height as f64,
    };
    let w = u32::try_from(width).map_err(|_| too_large())?;
    let h = u32::try_from(height).map_err(|_| too_large())?;
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, w, h);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(samples)?;
    writer.finish()?;
    Ok(bytes)
}

/// Gathers frames into the columns of a [`StripImage`] as they come; memory does not grow with the trace.
///
/// A column is the mean light of the frames that begin in it, which is what the eye makes of quick changes; a
/// column in which no frame begins repeats the frame before it.
#[derive(Debug, Clone)]
pub struct StripColumns {
    name: String,
    pixels: usize,
    duration_s: f64,
    sums: Vec<Option<(u32, Vec<[f64; 3]>)>>,
    /// The frame last seen and its column; `None` while it is missing.
    last: Option<Vec<[f64; 3]>>,
    next_column: usize,
}

impl StripColumns {
    /// For a strip of `pixels` over `duration_s`, in `columns` slices of time (at least one).
    pub fn new(name: &str, pixels: usize, duration_s: f64, columns: usize) -> Self {
        Self {
            name: name.to_owned(),
            pixels,
            duration_s,
            sums: vec![None; columns.max(1)],
            last: None,
            next_column: 0,
        }
    }

    /// Adds the frame that begins at `t_s`: drive levels red, green, blue (0..1) of each pixel and, where the
    /// strip has it, white. Call in the order of time.
    pub fn push(&mut self, t_s: f64, frame: impl IntoIterator<Item = ([f64; 3], f64)>) {
        let light: Vec<[f64; 3]> = frame
            .into_iter()
            .take(self.pixels)
            .map(|(rgb, white)| shown(rgb, white))
            .collect();
        let column = self.column_of(t_s);
        self.hold_until(column);
        self.add(column, &light);
        self.last = Some(light);
    }

    /// Says that the frame at `t_s` is missing: its columns stay empty until the next frame.
    pub fn push_missing(&mut self, t_s: f64) {
        let column = self.column_of(t_s);
        self.hold_until(column);
        self.last = None;
    }

    /// The finished image; the last frame holds to the end.
    pub fn finish(mut self) -> StripImage {
        self.hold_until(self.sums.len());
        let columns = self
            .sums
            .into_iter()
            .map(|sum| {
                let (count, light) = sum.unwrap_or_default();
                light
                    .into_iter()
                    .map(|rgb| rgb.map(|s| srgb_from_linear(s / f64::from(count.max(1)))))
                    .collect()
            })
            .collect();
        StripImage {
            name: self.name,
            pixels: self.pixels,
            columns,
        }
    }

    fn column_of(&self, t_s: f64) -> usize {
        let share = t_s / self.duration_s;
        if !share.is_finite() {
            return 0;
        }
        // The hair's breadth keeps a frame that begins exactly on a column's edge in that column.
        ((share * self.sums.len() as f64 + 1e-9) as usize).min(self.sums.len() - 1)
    }

    /// Fills the columns before `column` that no frame has reached with the frame before them.
    fn hold_until(&mut self, column: usize) {
        if let Some(light) = self.last.take() {
            for skipped in self.next_column..column {
                self.add(skipped, &light);
            }
            self.last = Some(light);
        }
        self.next_column = self.next_column.max(column);
    }

    fn add(&mut self, column: usize, light: &[[f64; 3]]) {
        let Some(slot) = self.sums.get_mut(column) else {
            return;
        };
        let (count, sums) = slot.get_or_insert_with(|| (0, vec![[0.0; 3]; light.len()]));
        *count += 1;
        for (sum, rgb) in sums.iter_mut().zip(light) {
            for (s, share) in sum.iter_mut().zip(rgb) {
                *s += share;
            }
        }
        self.next_column = self.next_column.max(column + 1);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    // IEC 61966-2-1: half the light is code 188, 18 % grey is code 118, and the two pieces meet at 0.0031308.
    #[test]
    fn srgb_matches_known_code_values() {
        assert_eq!(srgb_from_drive([0.5, 0.18, 1.0]), [188, 118, 255]);
        assert_eq!(srgb_from_drive([0.0, -1.0, 2.0]), [0, 0, 255]);
        assert_eq!(srgb_from_drive([f64::NAN, 0.003_130_8, 0.0]), [0, 10, 0]);
        for code in 0..=255u8 {
            assert_eq!(srgb_from_linear(linear_from_srgb(code)), code);
        }
    }

    #[test]
    fn white_adds_light_and_keeps_the_hue() {
        assert_eq!(srgb_from_drive_rgbw([0.0; 3], 0.5), [188; 3]);
        let [r, g, b] = srgb_from_drive_rgbw([1.0, 0.0, 0.0], 1.0);
        assert_eq!(r, 255);
        assert_eq!((g, b), (188, 188), "twice as much red as green");
    }

    #[test]
    fn a_column_is_the_mean_light_of_its_frames() {
        let mut columns = StripColumns::new("ring", 1, 2.0, 2);
        for (t, level) in [(0.0, 1.0), (0.5, 0.0), (1.0, 0.25), (1.5, 0.25)] {
            columns.push(t, [([level; 3], 0.0)]);
        }
        let image = columns.finish();
        assert_eq!(image.columns, [[[188; 3]], [[137; 3]]]);
    }

    #[test]
    fn a_frame_holds_until_the_next_and_missing_frames_stay_empty() {
        let mut columns = StripColumns::new("ring", 1, 6.0, 6);
        columns.push(0.0, [([1.0; 3], 0.0)]);
        columns.push(2.0, [([0.0; 3], 0.0)]);
        columns.push_missing(3.0);
        columns.push(5.0, [([1.0; 3], 0.0)]);
        let lit: Vec<Option<u8>> = columns
            .finish()
            .columns
            .iter()
            .map(|c| c.first().map(|rgb| rgb[0]))
            .collect();
        assert_eq!(lit, [Some(255), Some(255), Some(0), None, None, Some(255)]);
    }

    #[test]
    fn a_film_stacks_strips_and_steps_colours() {
        let image = |pixels: usize, columns: Vec<Vec<[u8; 3]>>| StripImage {
            name: "s".into(),
            pixels,
            columns,
        };
        let strips = [
            image(2, vec![vec![[255, 0, 0], [10, 130, 255]]]),
            image(1, vec![vec![[0, 90, 0]]]),
        ];
        let bytes = film_png(&strips, 1, 2).unwrap_or_default();
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
            .read_info()
            .unwrap();
        let mut out = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut out).unwrap();
        assert_eq!((reader.info().width, reader.info().height), (1, 3));
        assert_eq!(
            out[..9],
            [0, 255, 255, 255, 0, 0, 0, 0, 0],
            "two steps: off or full"
        );
    }

    #[test]
    fn a_png_has_the_first_pixel_at_the_bottom_and_averages_what_does_not_fit() {
        let image = StripImage {
            name: "s".into(),
            pixels: 2,
            columns: vec![vec![[255, 0, 0], [0, 0, 255]], vec![[255, 0, 0]]],
        };
        let decode = |bytes: Vec<u8>| {
            let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
                .read_info()
                .ok()?;
            let mut out = vec![0; reader.output_buffer_size()?];
            reader.next_frame(&mut out).ok()?;
            Some(out)
        };
        let full = image.to_png(9, 9).ok().and_then(decode).unwrap_or_default();
        assert_eq!(full[..4], [0, 0, 255, 255]);
        assert_eq!(
            full[4..8],
            [0, 0, 0, 0],
            "the second column has one pixel only"
        );
        assert_eq!(full[8..12], [255, 0, 0, 255]);
        let small = image.to_png(1, 1).ok().and_then(decode).unwrap_or_default();
        assert_eq!(small.len(), 4);
        assert_eq!(small[3], 255);
    }
}
