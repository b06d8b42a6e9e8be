//! From files to validated parts.

pub mod catalogue;
pub mod cues;
pub mod diag;
mod example;
pub mod file;
pub mod folder;
pub mod measured;
pub mod netlist;
#[cfg(feature = "command")]
pub mod overrides;
pub mod pack;
pub mod parts;
pub mod preset;
pub mod prop;
pub mod rated;
pub mod reader;
pub(crate) mod row;
#[cfg(feature = "command")]
pub(crate) mod shared;
pub mod sounds;
pub mod supply;
#[cfg(feature = "command")]
pub mod template;
