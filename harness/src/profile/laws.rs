//! Laws of single parts in a condition: what a pixel draws, what a wire resists.

use super::condition::Condition;
use crate::build::parts::{PixelType, Wire, WireSize};
use crate::build::rated::Corner;
use crate::electrical::wire::{copper_temperature_factor, Conductor};
use crate::electrical::{Channel, NetworkError, PixelType as PixelLaw, Ramp};
use crate::units::{Gauge, Quantity};

/// The electrical law of a pixel type. At the high corner currents are high and thresholds low: more current flows.
pub fn pixel_law(pixel: &PixelType, corner: Corner) -> Result<PixelLaw, NetworkError> {
    let low_of = |v: &crate::build::rated::Rated<crate::units::Voltage>| match corner {
        Corner::High => v.low_si(),
        Corner::Nominal => v.si(),
        Corner::Low => v.high_si(),
    };
    let channels: Vec<Channel> = pixel
        .channels
        .iter()
        .map(|c| Channel {
            full_a: c.current.at(corner),
            ramp: Ramp {
                off_v: low_of(&c.off),
                full_v: low_of(&c.full),
            },
        })
        .collect();
    let dark = Ramp {
        off_v: low_of(&pixel.dark_off),
        full_v: low_of(&pixel.dark_full),
    };
    PixelLaw::new(&channels, pixel.dark.at(corner), dark)
}

/// Resistance of a wire in a condition, ohms.
pub fn wire_ohm(wire: &Wire, condition: &Condition) -> f64 {
    match &wire.size {
        WireSize::Resistance(r) => r.at(if condition.cautious {
            Corner::High
        } else {
            Corner::Nominal
        }),
        WireSize::Gauge {
            gauge,
            length,
            per_length,
        } => {
            let at_20 = match (per_length, gauge) {
                (Some(r), _) if condition.cautious => r.high_si(),
                (Some(r), _) => r.si(),
                (None, Gauge::Awg(n)) => Conductor::Awg(*n).ohm_per_m_20c(),
                (None, Gauge::Metric(area)) => {
                    Conductor::Class5Mm2(area.si() * 1e6).ohm_per_m_20c()
                }
            };
            let longer = if condition.cautious {
                1.0 + condition.wire_length_tolerance
            } else {
                1.0
            };
            at_20
                * copper_temperature_factor(condition.temperature_k - 273.15)
                * length.si()
                * longer
        }
    }
}
