//! Is the data signal still a clear high and a clear low at the first pixel?
//!
//! Driver and pixel have grounds of their own: the strip's ground is higher than the board's by
//! what its return current loses on the way, which takes from the high level and adds to the low
//! one. A pixel's thresholds follow its own supply or are fixed, as the data sheet says.

/// A logic threshold of a pixel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Threshold {
    /// A share of the pixel's own supply, for example 0.7.
    OfSupply(f64),
    /// A fixed voltage, in volt.
    Volts(f64),
}

impl Threshold {
    /// The threshold at a supply, in volt.
    pub fn at(self, supply_v: f64) -> f64 {
        match self {
            Threshold::OfSupply(share) => share * supply_v,
            Threshold::Volts(v) => v,
        }
    }
}

/// What drives the line and what listens, at one moment. Voltages in volt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DataLine {
    /// Output of the driver at high, against the board's ground.
    pub high_v: f64,
    /// Output of the driver at low, against the board's ground.
    pub low_v: f64,
    /// Board ground, against any common reference.
    pub board_ground_v: f64,
    /// Negative pad of the first pixel, against the same reference.
    pub pixel_ground_v: f64,
    /// Supply of the first pixel.
    pub pixel_supply_v: f64,
    /// Lowest input the pixel takes for high.
    pub threshold_high: Threshold,
    /// Highest input the pixel takes for low.
    pub threshold_low: Threshold,
}

/// Margins of a data line: positive is safe, in volt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DataMargins {
    /// Input at high minus the threshold for high.
    pub high_v: f64,
    /// Threshold for low minus the input at low.
    pub low_v: f64,
}

impl DataLine {
    /// Both margins.
    pub fn margins(&self) -> DataMargins {
        let shift = self.board_ground_v - self.pixel_ground_v;
        DataMargins {
            high_v: self.high_v + shift - self.threshold_high.at(self.pixel_supply_v),
            low_v: self.threshold_low.at(self.pixel_supply_v) - (self.low_v + shift),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: DataLine = DataLine {
        high_v: 3.3,
        low_v: 0.0,
        board_ground_v: 0.0,
        pixel_ground_v: 0.0,
        pixel_supply_v: 4.71,
        threshold_high: Threshold::OfSupply(0.7),
        threshold_low: Threshold::OfSupply(0.3),
    };

    // With VIH = 0.7·VDD (data sheets of WS2812B and others) 3.3 V is enough up to 4.71 V.
    #[test]
    fn a_3v3_line_is_in_specification_up_to_4v71() {
        assert!((0.0..0.004).contains(&LINE.margins().high_v));
        let over = DataLine {
            pixel_supply_v: 4.72,
            ..LINE
        };
        assert!(over.margins().high_v < 0.0);
    }

    #[test]
    fn a_raised_strip_ground_takes_from_the_high_level() {
        let raised = DataLine {
            pixel_ground_v: 0.2,
            pixel_supply_v: 4.0,
            ..LINE
        };
        assert!((raised.margins().high_v - (3.3 - 0.2 - 2.8)).abs() < 1e-12);
        assert!((raised.margins().low_v - (1.2 + 0.2)).abs() < 1e-12);
        let lowered = DataLine {
            pixel_ground_v: -0.2,
            pixel_supply_v: 4.0,
            ..LINE
        };
        assert!((lowered.margins().low_v - (1.2 - 0.2)).abs() < 1e-12);
    }
}
