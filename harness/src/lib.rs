//! LED current profiler and firmware test harness for battery-powered hand-held illuminated props.
#![forbid(unsafe_code)]

pub mod build;
#[cfg(feature = "command")]
pub mod cli;
pub mod electrical;
pub mod profile;
#[cfg(feature = "command")]
pub mod report;
#[cfg(feature = "proptest")]
pub mod strategies;
pub mod study;
pub mod units;
pub mod view;
