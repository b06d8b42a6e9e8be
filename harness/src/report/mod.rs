//! Results as text, JSON, tables and pictures. Nothing here computes physics.

pub mod cautions;
pub mod findings;
pub mod json;
pub mod output;
pub mod parts;
pub mod picture;
pub mod profile_picture;
pub mod table;
pub mod text;
