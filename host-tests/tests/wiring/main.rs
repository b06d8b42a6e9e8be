//! The wiring desk against builds that are wrong in one known way, and against right ones.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bench;
mod builds;
mod drawing;
mod random;
mod right;
mod variants;
mod wrong;
