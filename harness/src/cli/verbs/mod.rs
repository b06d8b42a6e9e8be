//! The verbs, one a file.

pub(super) mod cap;
pub(super) mod check;
pub(super) mod new;
pub(super) mod parts;
pub(super) mod profile;
pub(super) mod wiring;
