//! A preset to calibrate with: every mix of the colours, at four levels, on three lengths of the light.
//!
//! Each colour, each dimmer and each blind is a layer that goes on and off on its own, each half as often as the
//! one before it, so that together they count through every mix. One layer does one thing: a preset has eight.

use std::fmt::Write as _;

/// Length of a step, seconds.
pub const STEP_S: f64 = 0.5;
/// Frames a second: few, because the light stands still within a step.
const RATE_HZ: u32 = 20;
/// The two dimmers, as shares: together they give four levels.
const DIMMERS: [&str; 2] = ["50 %", "40 %"];
/// Where the two blinds begin, as shares of the length.
const BLINDS: [&str; 2] = ["33 %", "66 %"];

/// Number of steps for pixels with this many channels.
pub fn step_count(channels: usize) -> u32 {
    1 << (channels.clamp(3, 4) + DIMMERS.len() + BLINDS.len())
}

/// The preset's text for a frame of `pixels` with `channels` each, its full light at `level` of 255.
pub fn calibration_preset(prop: &str, pixels: u32, channels: usize, level: u8) -> String {
    let names = ["red", "green", "blue", "white"];
    let names = names.get(..channels.clamp(3, 4)).unwrap_or(&names);
    let share = format!("{}/65535", u32::from(level) * 257);
    let mut out = format!(
        "# Calibration steps for {prop}, written by lampwright.\n\
         # Every mix of the colours, at four levels, on three lengths, {STEP_S} s each: press once, log current and voltage\n\
         # of the cell for {:.0} s, then `lampwright calibrate PROP --measured FILE`.\n\
         # Full light is level {level} of 255: the brightest that overloads nothing by the build file's figures, with the cell\n\
         # as charged and as warm as was said; in the cold or nearly empty it may be too much.\n\
         # Whoever is sensitive to flashing light should not watch.\n\n\
         [preset]\nname = \"Calibration steps\"\nframe-rate = \"{RATE_HZ} Hz\"\ntransfer = \"linear\"\nwhite-share = \"0 %\"\n\n\
         [rise]\ntime = \"0 ms\"\n\n[fall]\ntime = \"0 ms\"\n\n\
         [controls]\nrise-on = \"short-press\"\nfall-on = \"long-press\"\n\n\
         [zones]\nall = [{{ start = 0, length = {pixels} }}]\n",
        f64::from(step_count(channels)) * STEP_S + 4.0
    );
    let mut bit = 0;
    let mut layer = |out: &mut String, blend: &str, colour: &str, mask: Option<&str>| {
        let period_ms = (STEP_S * 1000.0) as u32 * (2 << bit);
        bit += 1;
        let _ = write!(
            out,
            "\n[[layers]]\nzone = \"all\"\nblend = \"{blend}\"\nstart = \"lit\"\n[layers.paint]\nkind = \"solid\"\ncolour = {{ {colour} }}\n"
        );
        if let Some(from) = mask {
            let _ = write!(
                out,
                "[layers.mask]\nkind = \"span\"\nfrom = \"{from}\"\nto = \"100 %\"\n"
            );
        }
        let _ = write!(
            out,
            "[layers.envelope]\nkind = \"periodic\"\nperiod = \"{period_ms} ms\"\nhold = \"50 %\"\n"
        );
    };
    for name in names {
        layer(&mut out, "add", &format!("{name} = \"{share}\""), None);
    }
    let all = |share: &str| {
        let each: Vec<String> = names.iter().map(|n| format!("{n} = \"{share}\"")).collect();
        each.join(", ")
    };
    for dimmer in DIMMERS {
        layer(&mut out, "multiply", &all(dimmer), None);
    }
    for blind in BLINDS {
        layer(&mut out, "multiply", &all("0 %"), Some(blind));
    }
    out
}

/// The cue trace that goes with it: a press after a second of darkness, the end after two more.
pub fn calibration_cues(channels: usize) -> String {
    let end = 1.0 + f64::from(step_count(channels)) * STEP_S;
    format!(
        "# Goes with the calibration steps, written by lampwright.\ntime_s,cue,value\n1.0,short-press,\n{end:.1},long-press,\n{:.1},end,\n",
        end + 2.0
    )
}
