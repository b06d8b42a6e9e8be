//! Paints and masks: what a layer looks like and where it shows.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::MAX_STOPS;
use crate::color::Color;
use crate::fixed::{Length, Share};

/// The colours of a layer. Its time starts with the layer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Paint {
    /// One colour.
    Solid {
        /// The colour.
        color: Color,
    },
    /// Colours along the zone.
    Gradient {
        /// Colours by place; before the first and after the last stop the colour stays.
        stops: Stops,
        /// Time in which the pattern moves on by the length of the zone, ms; 0 stands still.
        scroll_ms: u32,
        /// Which way it moves.
        direction: Direction,
    },
    /// A travelling wave between two colours.
    Wave {
        /// Colour of the troughs.
        low: Color,
        /// Colour of the crests.
        high: Color,
        /// From crest to crest, at least one pixel.
        wavelength: Length,
        /// Time in which it moves on by one wavelength, ms; 0 stands still.
        period_ms: u32,
        /// Which way it moves.
        direction: Direction,
        /// Its shape.
        shape: Shape,
    },
    /// Smooth random variation along the zone and in time.
    Noise {
        /// Colours by value, from the lowest to the highest.
        stops: Stops,
        /// Distance between independent values, at least one pixel.
        grain: Length,
        /// Time between independent values, ms; 0 stands still.
        period_ms: u32,
        /// How many sizes of grain are laid over each other, each half the size and half the
        /// strength of the one before, 1..=3.
        octaves: u8,
    },
    /// Sparks: pixels that flash up at random and die down. Between sparks the layer is clear.
    Sparks {
        /// Colour of a fresh spark.
        color: Color,
        /// Every pixel has one chance of a spark in each such time, ms, at least 1.
        chance_every_ms: u32,
        /// The chance.
        chance: Share,
        /// How long a spark lasts, as a share of `chance_every_ms`, not 0.
        decay: Share,
    },
    /// Embers: patches that heat up at random and cool down, and glow by their heat.
    Embers {
        /// Colours by heat, from cold to hottest.
        stops: Stops,
        /// Distance between the middles of patches, at least one pixel.
        patch: Length,
        /// Every patch is heated once in each such time, at a random moment and to a random heat,
        /// ms, at least 1.
        kick_every_ms: u32,
        /// How long a heated patch takes to cool, as a share of `kick_every_ms`, not 0.
        cooling: Share,
        /// Heat of a patch that has cooled.
        base: Share,
        /// How fast the patches drift towards the end of the zone, in 1/16 pixel a second;
        /// negative towards its start.
        drift: i16,
    },
    /// The whole zone swells and fades as a sine.
    Breathing {
        /// Colour at the lowest point, where it starts.
        low: Color,
        /// Colour at the highest point.
        high: Color,
        /// Time of one round, ms, at least 1.
        period_ms: u32,
    },
}

/// A colour at a place or value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stop {
    /// The place along the zone, or the value.
    pub at: Share,
    /// The colour there.
    pub color: Color,
}

/// Colours by place or value, 1 to [`MAX_STOPS`], in ascending order of [`Stop::at`]; in between
/// they are mixed in proportion. Two stops at one place make a hard change.
pub type Stops = Vec<Stop, MAX_STOPS>;

/// The shape of a wave over one wavelength.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Shape {
    /// Smooth.
    #[default]
    Sine,
    /// Straight up, straight down.
    Triangle,
    /// Half low, half high.
    Square,
    /// Straight up, then a drop.
    Saw,
}

/// A way along a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Direction {
    /// From the start to the end.
    #[default]
    TowardsEnd,
    /// From the end to the start.
    TowardsStart,
}

/// Where something spreads from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Origin {
    /// The start of the zone.
    #[default]
    Start,
    /// Its end.
    End,
    /// Its centre, both ways.
    Centre,
}

/// One of the two ends of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Side {
    /// Its start.
    Start,
    /// Its end.
    #[default]
    End,
}

/// Where in its zone a layer shows. Its time starts with the layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mask {
    /// Everywhere.
    #[default]
    Whole,
    /// Between two places.
    Span {
        /// Where it begins.
        from: Share,
        /// Where it ends; not before `from`.
        to: Share,
        /// Width of the soft edges, inside the span.
        soft: Length,
    },
    /// A front that moves over the zone and leaves it covered.
    Front {
        /// Where it comes from.
        from: Origin,
        /// How long it takes, ms; 0 is at once.
        duration_ms: u32,
        /// Width of its soft edge.
        soft: Length,
        /// Whether it then goes back the way it came, in the same time.
        returning: bool,
    },
    /// Full, and running out to nothing at one side.
    Taper {
        /// The side where it runs out.
        towards: Side,
        /// The share of the zone over which it runs out, not 0.
        length: Share,
        /// The curve of it: 1 straight, 2 square, 3 cube.
        power: u8,
    },
    /// A spot around a place.
    Spot {
        /// The place, if fixed.
        centre: Share,
        /// From the centre to where the spot ends.
        radius: Length,
        /// Width of the soft rim, inside the radius.
        soft: Length,
        /// How the place is found.
        placement: Placement,
    },
}

/// How the place of a spot is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Placement {
    /// At its centre as given.
    #[default]
    Fixed,
    /// At random, another place each time the layer starts.
    Scattered,
    /// Where the cue that started the layer points (see [`Cue::place`](crate::Cue::place)).
    ByCue,
}
