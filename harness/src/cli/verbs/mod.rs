//! The verbs, one a file.

pub(super) mod calibrate;
pub(super) mod cap;
pub(super) mod check;
pub(super) mod compare;
pub(super) mod decode;
pub(super) mod light;
pub(super) mod new;
pub(super) mod pack;
pub(super) mod parts;
pub(super) mod pattern;
pub(super) mod profile;
pub(super) mod runtime;
pub(super) mod setup;
pub(super) mod sweep;
pub(super) mod view;
pub(super) mod wiring;
