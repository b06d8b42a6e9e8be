//! A validated prop: parts, wires, conditions.

use super::catalogue::{CatalogueText, OwnPart};
use super::diag::Place;
use super::parts::{
    Board, Capacitor, CellType, Contact, Diode, Fuse, Protection, Resistor, SecondSupply, Strip,
    Tube, Wire,
};
use super::sounds::SoundTrace;
use crate::units::{Length, Quantity, Ratio, Temperature, Time};

/// What a part is.
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// A cell.
    Cell(Box<CellType>),
    /// A switch in a supply leg.
    Switch(Contact),
    /// A lone contact, such as a spring.
    Contact(Contact),
    /// A connector with named poles of one kind of contact.
    Connector {
        /// Each pole.
        contact: Contact,
        /// Names of the poles.
        poles: Vec<String>,
    },
    /// A momentary button; it carries no supply current.
    Button,
    /// A fuse.
    Fuse(Fuse),
    /// A cell-protection circuit.
    Protection(Protection),
    /// A soldered joint of several wires.
    Splice,
    /// The controller board.
    Board(Box<Board>),
    /// A strip of pixels.
    Strip(Box<Strip>),
    /// A bulk capacitor.
    Capacitor(Capacitor),
    /// A resistor.
    Resistor(Resistor),
    /// A reverse-polarity device: a diode, or a transistor that acts as one.
    Diode(Diode),
    /// A supply from outside, such as a USB lead.
    Supply(SecondSupply),
}

impl PartKind {
    /// The word for it in files and messages.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Cell(_) => "cell",
            Self::Switch(_) => "switch",
            Self::Contact(_) => "contact",
            Self::Connector { .. } => "connector",
            Self::Button => "button",
            Self::Fuse(_) => "fuse",
            Self::Protection(_) => "protection",
            Self::Splice => "splice",
            Self::Board(_) => "board",
            Self::Strip(_) => "strip",
            Self::Capacitor(_) => "capacitor",
            Self::Resistor(_) => "resistor",
            Self::Diode(_) => "diode",
            Self::Supply(_) => "supply",
        }
    }
}

/// A part of the prop.
#[derive(Debug, Clone)]
pub struct Part {
    /// Its name in the build file.
    pub name: String,
    /// The catalogue entry it stands on.
    pub from: Option<String>,
    /// What it is.
    pub kind: PartKind,
    /// Where it is defined, for findings.
    pub place: Place,
    /// The zone of the enclosure it sits in.
    pub zone: Option<String>,
    /// Parts that must be in place before it.
    pub after: Vec<String>,
    /// Free remark.
    pub note: Option<String>,
}

/// A zone of the enclosure, for the order of work.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Its name.
    pub name: String,
    /// How deep it is buried: what is deeper goes in first.
    pub depth: u8,
    /// Zones that must be filled before it.
    pub after: Vec<String>,
}

/// Under which conditions the checks are run.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// Lowest state of charge at which the prop must still work.
    pub soc_floor: Ratio,
    /// Coldest and hottest surroundings.
    pub temperature_min: Temperature,
    /// Hottest surroundings.
    pub temperature_max: Temperature,
    /// Whether the cautious runs take an aged cell.
    pub aged: bool,
    /// Spread of laid wire lengths against the drawing.
    pub wire_length_tolerance: Ratio,
    /// How long the cell should last, where the builder says so.
    pub runtime: Option<Time>,
}

impl Default for Conditions {
    fn default() -> Self {
        Self {
            soc_floor: Ratio::from_si(0.2),
            temperature_min: Temperature::from_si(273.15),
            temperature_max: Temperature::from_si(313.15),
            aged: true,
            wire_length_tolerance: Ratio::from_si(0.1),
            runtime: None,
        }
    }
}

/// How loud the board is when.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// Share of the amplifier's full power while the prop is not dark.
    pub lit: Ratio,
    /// Share of the amplifier's full power after a cue.
    pub cue: Ratio,
    /// How long a cue's sound lasts.
    pub cue_time: Time,
    /// Sounds over time of some kinds of cue; they win over `cue` and `cue_time`.
    pub traces: Vec<SoundTrace>,
}

impl Default for Sound {
    fn default() -> Self {
        Self {
            lit: Ratio::from_si(0.25),
            cue: Ratio::from_si(1.0),
            cue_time: Time::from_si(0.6),
            traces: Vec::new(),
        }
    }
}

/// One or two diffusing layers before the strips.
#[derive(Debug, Clone, PartialEq)]
pub struct Diffuser {
    /// Share of the light that passes all layers.
    pub transmission: Ratio,
    /// Distance from the strips to the first layer and, with two, from there to the second.
    pub distances: Vec<Length>,
    /// Width of the lit face along the strips, where stated: it makes light a luminance.
    pub width: Option<Length>,
}

/// A validated prop.
#[derive(Debug, Clone)]
pub struct Prop {
    /// Its name.
    pub name: String,
    /// Free remark.
    pub note: Option<String>,
    /// Version of the drawing.
    pub version: Option<String>,
    /// Date of the drawing.
    pub date: Option<String>,
    /// The variant that was laid over the build, if any.
    pub variant: Option<String>,
    /// Every part, in file order.
    pub parts: Vec<Part>,
    /// Zones of the enclosure, in file order.
    pub zones: Vec<Zone>,
    /// Every wire, in file order.
    pub wires: Vec<Wire>,
    /// Where each wire is defined, for findings.
    pub wire_places: Vec<Place>,
    /// The closed tubes around the parts, in file order; empty where none is described.
    pub enclosure: Vec<Tube>,
    /// Conditions of the checks.
    pub conditions: Conditions,
    /// Sound levels.
    pub sound: Sound,
    /// Share of time for each preset by name, and for `off`: switched on but dark. Empty where not stated.
    pub usage: Vec<(String, Ratio)>,
    /// What the light passes through, where stated.
    pub diffuser: Option<Diffuser>,
    /// Highest brightness the board is set to, 0..255.
    pub cap: u8,
    /// The catalogue that it was read with.
    pub catalogue: CatalogueText,
    /// The entries it stands on that do not ship with the program.
    pub own_parts: Vec<OwnPart>,
}

impl Prop {
    /// The strips in frame order with their part index.
    pub fn strips(&self) -> impl Iterator<Item = (usize, &Strip)> {
        self.parts
            .iter()
            .enumerate()
            .filter_map(|(i, p)| match &p.kind {
                PartKind::Strip(strip) => Some((i, strip.as_ref())),
                _ => None,
            })
    }

    /// Number of pixels in a frame.
    pub fn pixels(&self) -> u32 {
        self.strips().map(|(_, s)| s.pixels).sum()
    }

    /// Channels per pixel in a frame: 4 as soon as one strip has white, else 3.
    pub fn frame_channels(&self) -> usize {
        self.strips().map(|(_, s)| s.channels()).max().unwrap_or(3)
    }

    /// The tube that a part lies in, where one is described.
    pub fn tube_of(&self, part: usize) -> Option<usize> {
        self.enclosure.iter().position(|t| t.holds.contains(&part))
    }

    /// The first part of a kind.
    pub fn first<T>(&self, pick: impl Fn(&PartKind) -> Option<&T>) -> Option<(usize, &T)> {
        self.parts
            .iter()
            .enumerate()
            .find_map(|(i, p)| pick(&p.kind).map(|t| (i, t)))
    }

    /// The board, if there is one.
    pub fn board(&self) -> Option<(usize, &Board)> {
        self.first(|k| match k {
            PartKind::Board(b) => Some(b.as_ref()),
            _ => None,
        })
    }

    /// The first cell, if there is one.
    pub fn cell(&self) -> Option<(usize, &CellType)> {
        self.first(|k| match k {
            PartKind::Cell(c) => Some(c.as_ref()),
            _ => None,
        })
    }
}
