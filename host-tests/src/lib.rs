//! Shared helpers of the host tests.

pub mod bench_log;
pub mod board;
pub mod strategies;
