//! Shared helpers of the host tests.

pub mod board;
pub mod strategies;
