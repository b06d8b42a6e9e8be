//! The light-effects engine of an illuminated prop.
#![no_std]
#![forbid(unsafe_code)]
