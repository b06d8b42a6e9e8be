//! A trace as a film: one picture whose columns are moments and whose rows are pixels, true to the eye.
//!
//! A column is the mean light of the frames within its slice of time, as sRGB (IEC 61966-2-1), which is what the
//! eye makes of quick changes. The picture is a PNG, so that a page can both show it whole and play it column
//! by column. It is made to fit a size: first at a fine rate and with fine colours, then coarser.

use super::picture::{PictureError, StripColumns};
use crate::profile::circuit::Circuit;

/// Widest picture that every browser decodes, px.
const MOST_COLUMNS: usize = 16_000;
/// Columns a second and steps of each colour, the finest first.
const QUALITIES: [(f64, u16); 6] = [
    (30.0, 128),
    (30.0, 64),
    (20.0, 64),
    (15.0, 48),
    (10.0, 32),
    (5.0, 32),
];

/// A strip of the film.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmStrip {
    /// Its name.
    pub name: String,
    /// Its rows, from the top: the last pixel comes first.
    pub pixels: usize,
}

/// A trace as a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Film {
    /// The picture; each strip below the one before it.
    pub png: Vec<u8>,
    /// Its width: columns of equal length in time.
    pub columns: usize,
    /// Columns a second.
    pub rate_hz: f64,
    /// Steps of each colour.
    pub steps: u16,
    /// Length, seconds.
    pub length_s: f64,
    /// Strips from top to bottom.
    pub strips: Vec<FilmStrip>,
}

/// Gathers the frames of a trace.
#[derive(Debug)]
pub struct FilmGatherer {
    length_s: f64,
    channels: usize,
    /// First pixel in the frame, pixels, columns so far.
    strips: Vec<(usize, usize, StripColumns)>,
}

impl FilmGatherer {
    /// For a circuit and a trace of a known length, seconds; `channels` a pixel of a frame has.
    pub fn new(circuit: &Circuit, channels: usize, length_s: f64) -> Self {
        let columns = columns_at(QUALITIES[0].0, length_s);
        let strips = circuit.strips.iter().map(|s| {
            let pixels = s.pixels as usize;
            let image = StripColumns::new(&s.name, pixels, length_s, columns);
            (s.first as usize, pixels, image)
        });
        Self {
            length_s,
            channels: channels.max(1),
            strips: strips.collect(),
        }
    }

    /// Takes the frame that begins at `time_s`.
    pub fn add(&mut self, levels: &[u8], time_s: f64) {
        for (first, pixels, columns) in &mut self.strips {
            let own = levels.get(*first * self.channels..).unwrap_or_default();
            let light = own.chunks_exact(self.channels).take(*pixels).map(|p| {
                let share = |i: usize| p.get(i).map_or(0.0, |l| f64::from(*l) / 255.0);
                ([share(0), share(1), share(2)], share(3))
            });
            columns.push(time_s, light);
        }
    }

    /// The film in at most `most_bytes`, where the coarsest form does not exceed that too.
    ///
    /// # Errors
    /// The picture could not be written.
    pub fn finish(self, most_bytes: usize) -> Result<Film, PictureError> {
        let images: Vec<_> = self
            .strips
            .into_iter()
            .map(|(_, _, columns)| columns.finish())
            .collect();
        let strips = images.iter().map(|i| FilmStrip {
            name: i.name.clone(),
            pixels: i.pixels,
        });
        let strips: Vec<FilmStrip> = strips.collect();
        let mut film = None;
        for (rate_hz, steps) in QUALITIES {
            let columns = columns_at(rate_hz, self.length_s);
            let png = super::picture::film_png(&images, columns, steps)?;
            let fits = png.len() <= most_bytes;
            film = Some(Film {
                png,
                columns,
                rate_hz: columns as f64 / self.length_s.max(f64::MIN_POSITIVE),
                steps,
                length_s: self.length_s,
                strips: strips.clone(),
            });
            if fits {
                break;
            }
        }
        film.ok_or(PictureError::TooLarge {
            width: 0.0,
            height: 0.0,
        })
    }
}

fn columns_at(rate_hz: f64, length_s: f64) -> usize {
    ((rate_hz * length_s).round().max(1.0) as usize).min(MOST_COLUMNS)
}
