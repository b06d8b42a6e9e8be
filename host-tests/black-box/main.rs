//! The command as a user meets it: arguments and files in, text, files and exit codes out.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bench;
mod calibrate;
mod captures;
mod choosing_caps;
mod contract;
mod exact_circuits;
mod faulty_input;
#[cfg(target_os = "linux")]
mod hostile;
mod own_parts;
mod packing;
mod page;
mod setup;
mod view;
mod wiring;
