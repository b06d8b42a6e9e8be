//! From frames to figures: where frames come from, and what every frame does to cell, wires, strips and
//! board.

mod ahead;
mod batch;
pub mod bench;
pub mod board;
pub mod board_data;
pub mod bulk;
pub mod capture;
pub mod cell;
pub mod circuit;
pub mod condition;
pub mod data;
pub mod ending;
pub mod figures;
pub mod laws;
mod light;
pub mod lower;
mod program;
mod reading;
mod recorded;
mod schedule;
pub mod sound;
mod source;
mod stream;
mod uncapped;

pub use ahead::{play_ahead, Playing};
pub use batch::{shown, Shown};
#[cfg(feature = "proptest")]
pub use light::light_of_levels;
pub use light::LightMeter;
pub use program::{Program, ProgramOptions};
pub use recorded::{open_recorded, FrameWriter, Recorded, RecordedFormat, RecordedOptions};
pub use source::Played;
pub use stream::{cap_levels, each_chunk, Chunk, CueAt, FrameMeta, FrameStream};
pub use uncapped::Uncapped;
