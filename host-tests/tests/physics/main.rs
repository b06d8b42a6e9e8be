//! Heat, capacitors, sound and endings of whole props.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bulk;
mod complete;
mod enclosure;
mod ending;

use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;
use lampwright::profile::figures::Moment;
use lampwright_model::State;

/// Reads a text as `build.toml`.
fn read(text: &str) -> Result<Prop, InputErrors> {
    read_build(&Source::new("build.toml", text))
}

/// A frame of a lit prop without cues.
fn moment(frame: u64, period_s: f64) -> Moment {
    Moment {
        frame,
        time_s: frame as f64 * period_s,
        state: Some(State::Lit),
        layers: Default::default(),
        cue: None,
        new_cues: 0,
    }
}

/// A cell behind 200 mΩ at a single pixel of three channels of 0.4 A each, with `extra` parts and wires.
fn one_pixel(extra: &str) -> String {
    format!(
        r#"[prop]
name = "One pixel"

[pixels.sink]
red = {{ current = "0.4 A", off = "0.5 V", full = "1 V" }}
green = {{ current = "0.4 A", off = "0.5 V", full = "1 V" }}
blue = {{ current = "0.4 A", off = "0.5 V", full = "1 V" }}
dark-current = "0 A"
pwm-frequency = "400 Hz"

[parts.cell]
kind = "cell"
capacity = "5 Ah"
cut-off = "2.5 V"
r0 = "150 mΩ"
ocv = {{ soc = ["0 %", "100 %"], voltage = ["3.0 V", "4.2 V"], interpolation = "linear" }}

[parts.strip]
kind = "strip"
pixel = "sink"
pixels = 1

[[wires]]
name = "plus"
from = "cell.plus"
to = "strip.plus"
resistance = "20 mΩ"

[[wires]]
name = "minus"
from = "cell.minus"
to = "strip.minus"
resistance = "30 mΩ"
{extra}"#
    )
}
