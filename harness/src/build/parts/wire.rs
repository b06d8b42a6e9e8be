//! A wire between two terminals.

use crate::build::netlist::Terminal;
use crate::build::rated::Rated;
use crate::units::{Gauge, Length, Resistance, ResistancePerLength, Temperature};

/// What makes a wire's resistance.
#[derive(Debug, Clone, PartialEq)]
pub enum WireSize {
    /// Gauge and length; resistance follows from the standard or from `per_length` where given.
    Gauge {
        /// Conductor size.
        gauge: Gauge,
        /// Length of the wire as laid.
        length: Length,
        /// Resistance per length of this construction at 20 °C, where stated.
        per_length: Option<Rated<ResistancePerLength>>,
    },
    /// A resistance typed in directly.
    Resistance(Rated<Resistance>),
}

/// A wire as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Wire {
    /// Its label on the drawing.
    pub name: String,
    /// One end.
    pub from: Terminal,
    /// The other end.
    pub to: Terminal,
    /// What makes its resistance.
    pub size: WireSize,
    /// Extra length to cut, on top of the laid length.
    pub slack: Option<Length>,
    /// How far each end is stripped, where stated.
    pub strip_length: Option<Length>,
    /// Insulation colour, the builder's own choice.
    pub colour: Option<String>,
    /// Insulation material.
    pub insulation: Option<String>,
    /// Temperature the insulation is rated for.
    pub insulation_max: Option<Rated<Temperature>>,
    /// Free remark.
    pub note: Option<String>,
}

impl Wire {
    /// A wire that is not drawn, of so much resistance.
    pub fn of_resistance(name: &str, from: Terminal, to: Terminal, ohm: Resistance) -> Self {
        Self {
            name: name.to_owned(),
            from,
            to,
            size: WireSize::Resistance(Rated::exact(ohm)),
            slack: None,
            strip_length: None,
            colour: None,
            insulation: None,
            insulation_max: None,
            note: None,
        }
    }
}
