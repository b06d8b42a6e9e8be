//! What the user reads: pictures, and later tables and pages.
//!
//! Nothing here computes physics; every input is a plain struct of results.

pub mod picture;
