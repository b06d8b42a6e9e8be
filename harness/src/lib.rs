//! LED current profiler and firmware test harness.

pub mod electrical;
