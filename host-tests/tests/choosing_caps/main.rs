//! Choosing caps: the search against brute force, the sweep against closed forms, runtime against the
//! frame-by-frame run and against an outside cell model.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod budget;
mod cap;
mod flashes;
mod levers;
mod props;
mod runtime;
mod sweep;
