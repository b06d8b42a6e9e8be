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
#![no_std]
#![forbid(unsafe_code)]

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
pub use preset::{Preset, PresetError};
pub use source::{FrameLength, FrameSource, LayerSet, Layout};
pub use state::State;
pub use time::Millis;
