//! A run of pixels on common rails; a single accent pixel is a strip of one.

use super::PixelType;
use crate::build::rated::{need_not_negative, rated_not_negative, Rated};
use crate::build::reader::Table;
use crate::units::{Current, Length, Quantity, Resistance};

/// A strip as built into the prop.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// What its pixels are.
    pub pixel: PixelType,
    /// Number of pixels.
    pub pixels: u32,
    /// Distance between neighbouring pixels.
    pub pitch: Option<Length>,
    /// Resistance of the positive rail between neighbouring pixels.
    pub rail_plus: Rated<Resistance>,
    /// Resistance of the negative rail between neighbouring pixels.
    pub rail_minus: Rated<Resistance>,
    /// Highest continuous current of a rail.
    pub rail_rating: Option<Rated<Current>>,
    /// Index of its first pixel in the frame.
    pub first: u32,
}

impl Strip {
    /// Reads a strip whose pixel type is known already; `first` is filled in later.
    pub fn read(table: &Table<'_>, pixel: Option<PixelType>) -> Option<Self> {
        if !table.has("pixels") {
            table.missing("pixels", "96");
        }
        let pixels = table.integer("pixels", 1..=20_000);
        let pitch = rated_not_negative::<Length>(table, "pitch").map(|r| r.nominal);
        let single = pixels == Some(1);
        let rail = |key: &str| {
            if single && !table.has(key) {
                return Some(Rated::exact(Resistance::from_si(0.0)));
            }
            need_not_negative(table, key)
        };
        let rail_plus = rail("rail-plus");
        let rail_minus = rail("rail-minus");
        let rail_rating = rated_not_negative(table, "rail-rating");
        Some(Self {
            rail_rating,
            pixel: pixel?,
            pixels: u32::try_from(pixels?).ok()?,
            pitch,
            rail_plus: rail_plus?,
            rail_minus: rail_minus?,
            first: 0,
        })
    }

    /// Channels per pixel.
    pub fn channels(&self) -> usize {
        self.pixel.channels.len()
    }
}
