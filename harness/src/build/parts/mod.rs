//! The kinds of part a prop is made of.

mod board;
mod cell;
mod contact;
mod diode;
mod pixel;
mod strip;
mod tube;
mod wire;

pub use board::{Amplifier, Board, Core, CoreKind, Regulator, RegulatorKind, UsbPath};
pub use cell::{CellType, Map, RcPair};
pub use contact::{Capacitor, Contact, Fuse, Protection, Resistor};
pub use diode::{Diode, SecondSupply};
pub use pixel::{Channel, DataTiming, PixelType, Threshold, CHANNEL_NAMES};
pub use strip::Strip;
pub use tube::{Feel, Material, Touch, Tube, MATERIALS};
pub use wire::{Wire, WireSize};
