//! A kit for property tests of light effects: strategies that draw presets, cue traces, builds and
//! frames, and properties that take any [`FrameSource`](lampwright_model::FrameSource). Behind the
//! feature `proptest`.
//!
//! ```toml
//! [dev-dependencies]
//! lampwright = { version = "0.1", features = ["proptest"] }
//! proptest = "1"
//! ```
//!
//! # Effects of your own, played by the engine of this project
//!
//! Draw a [`show`]: a preset and a cue trace for it. Where a property breaks, proptest makes the show as
//! small as it can, and the show prints itself as the two files that play it.
//!
//! # An engine of your own
//!
//! Implement [`FrameSource`](lampwright_model::FrameSource), say what drives it, and hand each property a
//! way to make a fresh one. `host-tests/tests/own_engine.rs` is this example with more of it, and shows
//! what comes out when the engine is wrong.
//!
//! ```
//! use lampwright::strategies::{cue_trace, properties, Ranges, Run, Timing};
//! use lampwright_model::{Channels, Cue, FrameSource, Layout, Millis, State};
//! use proptest::prelude::*;
//! use proptest::test_runner::TestRunner;
//!
//! /// A lamp that a press turns on and off, at once.
//! struct Lamp { on: bool, cap: u8 }
//!
//! impl FrameSource for Lamp {
//!     type Error = std::convert::Infallible;
//!     fn layout(&self) -> Layout {
//!         Layout { pixels: 3, channels: Channels::Rgb }
//!     }
//!     fn cue(&mut self, _at: Millis, cue: Cue) {
//!         self.on ^= cue == Cue::ShortPress;
//!     }
//!     fn frame(&mut self, _at: Millis, out: &mut [u8]) -> Result<State, Self::Error> {
//!         out.fill(if self.on { self.cap } else { 0 });
//!         Ok(if self.on { State::Lit } else { State::Dark })
//!     }
//!     fn set_cap(&mut self, cap: u8) -> bool {
//!         self.cap = cap;
//!         true
//!     }
//! }
//!
//! let lamp = || Lamp { on: false, cap: 255 };
//! let press = Cue::ShortPress;
//! let mut runner = TestRunner::default();
//! runner.run(&cue_trace(press, press, &Ranges::brief()), |cues| {
//!     let run = Run::of(&cues);
//!     properties::sound(lamp, &run)?;
//!     properties::deterministic(lamp, &run)?;
//!     properties::monotone_cap(lamp, &run, (30, 200))?;
//!     Ok(())
//! }).unwrap();
//! let timing = Timing { rise_on: press, rise_ms: 0, fall_on: press, fall_ms: 0, period_ms: 17 };
//! properties::on_time(lamp, &timing, 5).unwrap();
//! ```
//!
//! # What each property says
//!
//! | property | holds where |
//! |---|---|
//! | [`properties::sound`] | nothing panics or errs, every byte of a frame is written, dark is dark |
//! | [`properties::deterministic`] | the same cues give the same frames, wherever the clock starts |
//! | [`properties::monotone_cap`] | no level above the cap, none lower at a higher cap |
//! | [`properties::within_budget`] | no frame's estimated current above the budget |
//! | [`properties::flash_rate`] | not more flashes in a second than allowed |
//! | [`properties::on_time`] | lit and dark when promised |
//!
//! A property that holds of many drawn cases is no proof. Flashing light can trigger seizures even where
//! `flash_rate` holds.

mod builds;
mod cues;
mod frames;
mod look;
mod presets;
pub mod properties;
mod ranges;
mod run;
mod show;
mod values;

pub use builds::{build, Build, BuildRanges};
pub use cues::{bare_cue, cue, cue_file, cue_kind, cue_trace, start, Cues};
pub use frames::frames;
pub use look::{envelope, mask, paint};
pub use presets::preset;
pub use properties::Timing;
pub use ranges::Ranges;
pub use run::{Broken, Run, Seen};
pub use show::{preset_toml, show, Show};
pub use values::{color, duration_ms, name, share};
