//! Shared helpers of the host tests.
