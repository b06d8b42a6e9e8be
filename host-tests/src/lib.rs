//! Shared helpers of the host tests.

pub mod strategies;
