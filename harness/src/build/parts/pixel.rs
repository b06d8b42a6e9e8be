//! A pixel type: what one addressable LED package draws, needs and gives.

use crate::build::rated::{
    need_not_negative, need_positive, need_rated, rated, rated_not_negative, Rated,
};
use crate::build::reader::Table;
use crate::units::{Current, Frequency, Intensity, Length, Quantity, Ratio, Time, Voltage};

/// The light channels a pixel may have, in frame order.
pub const CHANNEL_NAMES: [&str; 4] = ["red", "green", "blue", "white"];

/// One light channel. Current at drive level d and supply V: `d · current · clip((V − off)/(full − off), 0, 1)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// "red", "green", "blue" or "white".
    pub name: &'static str,
    /// Current at full drive and ample supply.
    pub current: Rated<Current>,
    /// Supply at and below which the channel is off.
    pub off: Rated<Voltage>,
    /// Supply from which the current is in full regulation.
    pub full: Rated<Voltage>,
    /// Luminous intensity at full drive, where the data sheet has one.
    pub intensity: Option<Rated<Intensity>>,
    /// Dominant wavelength, where the data sheet has one; white has none.
    pub wavelength: Option<Rated<Length>>,
}

/// A logic threshold: a share of the pixel's supply, or a voltage.
#[derive(Debug, Clone, PartialEq)]
pub enum Threshold {
    /// Share of the supply at the pixel.
    OfSupply(Rated<Ratio>),
    /// A fixed voltage against the pixel's own minus.
    Fixed(Rated<Voltage>),
}

impl Threshold {
    /// The threshold in volts at a supply voltage, nominal.
    pub fn volts(&self, supply_v: f64) -> f64 {
        match self {
            Self::OfSupply(share) => share.si() * supply_v,
            Self::Fixed(volts) => volts.si(),
        }
    }

    /// The source of the figure.
    pub fn source(&self) -> &str {
        match self {
            Self::OfSupply(share) => share.source_or_given(),
            Self::Fixed(volts) => volts.source_or_given(),
        }
    }
}

/// How data reaches the pixel.
// A pixel type is read once and kept for the whole run: the size of a variant does not matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, PartialEq)]
pub enum DataTiming {
    /// One wire, a bit is a high and a low time; the frame ends with a long low.
    OneWire {
        /// High time of a 0 bit.
        zero_high: Rated<Time>,
        /// Low time of a 0 bit.
        zero_low: Rated<Time>,
        /// High time of a 1 bit.
        one_high: Rated<Time>,
        /// Low time of a 1 bit.
        one_low: Rated<Time>,
        /// Low time that ends a frame, at least.
        reset: Rated<Time>,
    },
    /// Data and clock wire, sent as a start frame, words and an end frame.
    Clocked {
        /// Highest clock frequency.
        clock_max: Rated<Frequency>,
        /// Brightness field, 1 to 31, that the channel currents are stated for.
        brightness: u8,
    },
}

/// Everything known of a pixel type.
#[derive(Debug, Clone, PartialEq)]
pub struct PixelType {
    /// Catalogue id, or the name under which the build file defines it.
    pub id: String,
    /// What a person calls it.
    pub title: String,
    /// Three or four channels in the order red, green, blue, white.
    pub channels: Vec<Channel>,
    /// Current with every channel at zero.
    pub dark: Rated<Current>,
    /// Supply at and below which even the dark current vanishes.
    pub dark_off: Rated<Voltage>,
    /// Supply from which the dark current is full.
    pub dark_full: Rated<Voltage>,
    /// Lowest supply the data sheet allows.
    pub supply_min: Option<Rated<Voltage>>,
    /// Highest supply the data sheet allows.
    pub supply_max: Option<Rated<Voltage>>,
    /// Input level read as high.
    pub logic_high: Option<Threshold>,
    /// Input level read as low.
    pub logic_low: Option<Threshold>,
    /// Data timing.
    pub timing: Option<DataTiming>,
    /// Pulse-width-modulation frequency of the channels.
    pub pwm: Option<Rated<Frequency>>,
    /// Order in which channels are sent, such as "GRB".
    pub order: String,
}

impl PixelType {
    /// Reads a pixel type; faults go to the table's sink.
    pub fn read(id: &str, table: &Table<'_>) -> Option<Self> {
        let title = table
            .text("title")
            .map_or_else(|| id.to_owned(), |t| t.value);
        let channels: Vec<Option<Channel>> = CHANNEL_NAMES
            .iter()
            .filter(|name| **name != "white" || table.has("white"))
            .map(|name| channel(table, name))
            .collect();
        let dark = need_not_negative(table, "dark-current");
        let dark_off =
            rated(table, "dark-off").unwrap_or_else(|| Rated::exact(Voltage::from_si(0.0)));
        let dark_full =
            rated(table, "dark-full").unwrap_or_else(|| Rated::exact(Voltage::from_si(1.5)));
        if dark_full.low.si() <= dark_off.high.si() {
            table.fault(
                table.own_key(&["dark-full", "dark-off"]),
                format!("`{}.dark-full` must be above `dark-off`", table.path()),
                "not above dark-off",
                "the dark current rises from zero at dark-off to its full value at dark-full",
            );
        }
        let timing = timing(table);
        let order_default = if table.has("white") { "GRBW" } else { "GRB" };
        let order = table.text("order").map_or_else(
            || order_default.to_owned(),
            |t| check_order(table, &t.value),
        );
        let pixel = Self {
            id: id.to_owned(),
            title,
            dark_off,
            dark_full,
            supply_min: rated(table, "supply-min"),
            supply_max: rated(table, "supply-max"),
            logic_high: threshold(table, "logic-high"),
            logic_low: threshold(table, "logic-low"),
            timing,
            pwm: rated(table, "pwm-frequency"),
            order,
            dark: dark?,
            channels: channels.into_iter().collect::<Option<_>>()?,
        };
        Some(pixel)
    }

    /// Whether the pixel has a white channel.
    pub fn has_white(&self) -> bool {
        self.channels.len() == 4
    }

    /// Time to send one pixel's data, seconds; `None` without timing data.
    pub fn seconds_per_pixel(&self) -> Option<f64> {
        let bits = 8.0 * self.channels.len() as f64;
        match self.timing.as_ref()? {
            DataTiming::OneWire {
                zero_high,
                zero_low,
                one_high,
                one_low,
                ..
            } => Some(bits * (zero_high.si() + zero_low.si()).max(one_high.si() + one_low.si())),
            DataTiming::Clocked { clock_max, .. } => Some((bits + 8.0) / clock_max.si()),
        }
    }

    /// Time that ends a frame, seconds.
    pub fn reset_seconds(&self) -> f64 {
        match &self.timing {
            Some(DataTiming::OneWire { reset, .. }) => reset.si(),
            Some(DataTiming::Clocked { clock_max, .. }) => 64.0 / clock_max.si(),
            None => 0.0,
        }
    }
}

fn channel(table: &Table<'_>, name: &'static str) -> Option<Channel> {
    if !table.has(name) {
        table.missing(
            name,
            "{ current = \"12 mA\", off = \"2.5 V\", full = \"3.4 V\" }",
        );
    }
    let inner = table.table(name)?;
    let current = need_not_negative(&inner, "current");
    let off = need_rated::<Voltage>(&inner, "off");
    let full = need_rated::<Voltage>(&inner, "full");
    let intensity = rated_not_negative(&inner, "intensity");
    let wavelength = rated_not_negative(&inner, "wavelength");
    inner.finish();
    let (off, full) = (off?, full?);
    if full.low.si() <= off.high.si() {
        inner.fault(
            inner.own_key(&["full", "off"]),
            format!(
                "`{}.full` must be above `off`, also at the ends of their spreads",
                inner.path()
            ),
            format!("full is from {} V, but off goes to {} V", full.low.si(), off.high.si()),
            "the channel's current rises from zero at off to its full value at full: make full the higher one",
        );
        return None;
    }
    Some(Channel {
        name,
        current: current?,
        off,
        full,
        intensity,
        wavelength,
    })
}

fn threshold(table: &Table<'_>, key: &str) -> Option<Threshold> {
    if !table.has(key) {
        return None;
    }
    let is_share = if table.is_table(key) {
        table
            .whole_table(key)?
            .text("value")
            .is_some_and(|t| t.value.contains('%'))
    } else {
        table.text(key).is_some_and(|t| t.value.contains('%'))
    };
    if is_share {
        rated_not_negative::<Ratio>(table, key).map(Threshold::OfSupply)
    } else {
        rated_not_negative::<Voltage>(table, key).map(Threshold::Fixed)
    }
}

fn timing(table: &Table<'_>) -> Option<DataTiming> {
    let inner = table.table("timing")?;
    let timing = if inner.has("clock-max") {
        let brightness = inner.integer("brightness", 1..=31).unwrap_or(31);
        need_positive(&inner, "clock-max").map(|clock_max| DataTiming::Clocked {
            clock_max,
            brightness: u8::try_from(brightness).unwrap_or(31),
        })
    } else {
        let zero_high = need_positive(&inner, "zero-high");
        let zero_low = need_positive(&inner, "zero-low");
        let one_high = need_positive(&inner, "one-high");
        let one_low = need_positive(&inner, "one-low");
        let reset = need_positive(&inner, "reset");
        (|| {
            Some(DataTiming::OneWire {
                zero_high: zero_high?,
                zero_low: zero_low?,
                one_high: one_high?,
                one_low: one_low?,
                reset: reset?,
            })
        })()
    };
    inner.finish();
    timing
}

fn check_order(table: &Table<'_>, order: &str) -> String {
    let mut letters: Vec<char> = order.chars().collect();
    letters.sort_unstable();
    let wanted: &[char] = if table.has("white") {
        &['B', 'G', 'R', 'W']
    } else {
        &['B', 'G', 'R']
    };
    if letters != wanted {
        table.fault(
            "order",
            format!("`{}.order` must name each channel once", table.path()),
            "not an order of the channels",
            if table.has("white") {
                "write order = \"GRBW\", each letter once"
            } else {
                "write order = \"GRB\", each letter once (a fourth, W, only for a pixel with white)"
            },
        );
    }
    order.to_owned()
}
