//! Results as text, JSON, tables and pictures. Nothing here computes physics.

pub mod cautions;
pub mod json;
pub mod output;
pub mod parts;
pub mod table;
pub mod text;
