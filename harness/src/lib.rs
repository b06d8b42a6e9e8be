//! LED current profiler and firmware test harness.
