//! The wiring desk against builds that are wrong in one known way, and against right ones.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod builds;
mod right;
mod wrong;
