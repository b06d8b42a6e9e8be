//! Frames from a logic analyser's capture of the data lines, and captures from frames.
//!
//! `vcd` reads level changes, `one_wire` and `clocked` make bursts of bits of them, `lines` knows which strips hang on a
//! line, `combine` puts the lines' bursts together into frames of the prop.

mod burst;
mod clocked;
mod combine;
mod decode;
mod lines;
mod one_wire;
mod render;
mod spread;
mod timing;
pub mod vcd;

pub use burst::{Burst, Fault, FaultKind};
pub use clocked::{Clocked, ClockedTimes};
pub use combine::Rounds;
pub use decode::{decode, DecodeOptions, Decoded, LineFound, Signals, Times};
pub use lines::{lines, Line, Run};
pub use one_wire::{OneWire, OneWireTimes};
pub use render::{render, signal_names, RenderError, RenderOptions, Rendered};
pub use spread::{Grid, Spread};
pub use timing::{LineTiming, OneWireTiming, Window};
