//! Fuzz targets under libFuzzer: `run TARGET`. One program for all of them, so that it is linked once; the
//! variable `FUZZ_TARGET` says which is meant.
//!
//! A target takes any bytes and panics where something does not hold.
#![no_main]

#[cfg(feature = "host")]
mod host;
#[cfg(feature = "host")]
mod logs;
mod model;
#[cfg(feature = "host")]
mod page;

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

type Target = fn(&[u8]);

/// Every target by name.
fn targets() -> Vec<(&'static str, Target)> {
    #[cfg_attr(not(feature = "host"), allow(unused_mut))]
    let mut targets: Vec<(&'static str, Target)> =
        vec![("preset", model::preset), ("packed", model::packed)];
    #[cfg(feature = "host")]
    {
        targets.extend(host::TARGETS);
        targets.extend(logs::TARGETS);
        targets.extend(page::TARGETS);
    }
    targets
}

fn chosen() -> Target {
    let name = std::env::var("FUZZ_TARGET").unwrap_or_default();
    let found = targets().into_iter().find(|(n, _)| *n == name);
    let names: Vec<&str> = targets().iter().map(|t| t.0).collect();
    found
        .unwrap_or_else(|| panic!("FUZZ_TARGET is {name:?}, but must be one of {names:?}"))
        .1
}

static TARGET: OnceLock<Target> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    TARGET.get_or_init(chosen)(bytes);
});
