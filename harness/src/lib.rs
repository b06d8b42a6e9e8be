//! LED current profiler and firmware test harness for battery-powered hand-held illuminated props.
#![forbid(unsafe_code)]

pub mod build;
pub mod profile;
pub mod units;
