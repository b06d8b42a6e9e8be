//! From files to validated parts.

pub mod catalogue;
pub mod diag;
pub mod parts;
pub mod rated;
pub mod reader;
