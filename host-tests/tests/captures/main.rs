//! Captures of the data lines: value change dumps, decoding, patterns, and that what is beyond the limits is reported. And
//! programs that give frames through a pipe.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod clocked;
mod foreign;
mod one_wire;
mod programs;
mod round_trip;
#[path = "../support/mod.rs"]
mod support;
mod vcd_files;
mod wires;
