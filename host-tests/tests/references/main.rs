//! The model against ngspice and PyBaMM: the numbers that `reference/make.sh` makes (see
//! `reference/PROVENANCE.md`), and the table of how well they are met, `REFERENCES.md`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../circuits/mod.rs"]
mod circuits;

mod cell;
mod collapse;
mod describe;
mod ladder;
mod profiles;
mod pwm;
mod statics;
mod table;
