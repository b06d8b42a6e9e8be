//! The light-effects engine of an illuminated prop: what runs on the board, in the harness and
//! under emulation, and gives the same bytes everywhere.
//!
//! A preset is data, the engine an interpreter. A frame is a pure function of the preset, the cues
//! so far and the time: nothing is carried from frame to frame, so a frame may be rendered without
//! the ones before it and nothing depends on the frame rate.
//!
//! # Contract
//!
//! * Integers only, no heap, no `unsafe`; the same bytes on every machine.
//! * Time is an argument ([`Millis`]), randomness a seed in the preset. The engine reads no clock.
//! * [`Engine::new`] checks the preset, and from then on nothing panics, whatever the cues and the
//!   times. Bytes from outside go through [`codec::decode`], which gives an error for anything that
//!   is not a sound preset.
//! * Work per frame is bounded by pixels times layers; there is no division per pixel.
//!
//! # A prop in a few lines
//!
//! A preset of one red layer, switched on by a short press, as bytes for the flash and back, and a frame of it half way
//! through its rise:
//!
//! ```
//! use lampwright_model::preset::{Layer, Paint};
//! use lampwright_model::{codec, Channels, Color, Cue, Engine, Millis, Preset, State};
//!
//! let mut preset = Preset::new("one red", 4, Channels::Rgb);
//! preset.rise.duration_ms = 200;
//! let red = Layer::plain(Paint::Solid { color: Color::rgb(65535, 0, 0) });
//! preset.layers.push(red).expect("there is room for eight");
//!
//! let mut flash = [0; 2048];
//! let bytes = codec::encode(&preset, &mut flash).expect("the preset is sound");
//! let read = codec::decode(bytes).expect("it is the one just written");
//!
//! let mut engine = Engine::new(&read).expect("the preset is sound");
//! let mut frame = [0; 12];
//! engine.cue(Millis(0), Cue::ShortPress);
//! let state = engine.render(Millis(100), &mut frame).expect("twelve levels are wanted");
//! assert_eq!(state, State::Rising);
//! // Each pixel has some red and nothing else.
//! assert!(frame.chunks(3).all(|pixel| pixel[0] > 0 && pixel[0] < 255 && pixel[1..] == [0, 0]));
//! engine.render(Millis(200), &mut frame).expect("twelve levels are wanted");
//! assert_eq!(frame[..3], [255, 0, 0]);
//! ```
//!
//! # Layers of the crate, lowest first
//!
//! | level | modules | what they know |
//! |---|---|---|
//! | 0 | [`fixed`], [`rng`], [`time`], `wire`, `log` | numbers and their binary form, logging |
//! | 1 | [`color`], [`curve`], [`cue`], [`state`] | light, inputs, the four states of a prop |
//! | 2 | [`preset`]; [`button`], [`motion`], [`limiter`], [`driver`], [`scheduler`] | effect data and what makes it sound; the board around the engine |
//! | 3 | [`codec`], [`pack`], [`source`] | the binary forms; the trait every engine shares |
//! | 4 | `envelope`, `mask`, `paint`, `blend`, `lanes`, `output` | one pixel-layer |
//! | 5 | [`engine`] | state, layers and time put together |
//!
//! A module uses only modules of a lower level.
//!
//! # Features
//!
//! * `defmt`: log lines through defmt.
//! * `wide`: for hosts, needs `std`. Functions on groups of pixels are built for wider vectors as well and chosen at run
//!   time by the crate `multiversion`, which brings the only `unsafe` calls; the bytes are the same.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(feature = "wide")]
extern crate std;

mod blend;
pub mod button;
pub mod codec;
pub mod color;
pub mod cue;
pub mod curve;
pub mod driver;
pub mod engine;
mod envelope;
pub mod fixed;
mod lanes;
pub mod limiter;
mod log;
mod mask;
pub mod motion;
mod output;
pub mod pack;
mod paint;
pub mod preset;
pub mod rng;
pub mod scheduler;
pub mod source;
pub mod state;
pub mod time;
mod wire;

pub use color::{Channels, Color};
pub use cue::{Cue, CueKind, TimedCue};
pub use engine::Engine;
pub use fixed::{Angle, Length, Share};
pub use output::drive_level;
pub use preset::{Preset, PresetError};
pub use source::{FrameLength, FrameSource, LayerSet, Layout};
pub use state::State;
pub use time::Millis;
