//! Shared helpers of the host tests. The strategies they draw from are `lampwright::strategies`.

pub mod bench_log;
pub mod board;
