//! Props, lines and hand-made pulses for the tests.

use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;
use lampwright::profile::capture::vcd::VcdReader;
use lampwright::profile::capture::{decode, lines, DecodeOptions, Decoded, Line, Signals};
use lampwright::profile::condition::Condition;
use lampwright::profile::lower::lower;
use std::fmt::Write as _;

/// A prop of one strip of a pixel type on a cell.
pub(crate) fn prop(pixel: &str, pixels: usize, more: &str) -> Prop {
    let clock = if pixel.contains("sk9822") || pixel.contains("apa102") {
        "[[wires]]\nname = \"K\"\nfrom = \"board.clock1\"\nto = \"row.clock-in\"\ntype = \"wire-28awg-ptfe\"\nlength = \"50 mm\"\n"
    } else {
        ""
    };
    let text = format!(
        r#"[prop]
name = "Test row"
[parts.cell]
kind = "cell"
from = "21700-nmc811-5ah"
[parts.board]
kind = "board"
from = "board-sound-ldo"
[parts.row]
kind = "strip"
pixel = "{pixel}"
pixels = {pixels}
rail-plus = "3 mΩ"
rail-minus = "3 mΩ"
{more}
[[wires]]
name = "P"
from = "cell.plus"
to = "row.plus"
type = "wire-22awg-ptfe"
length = "50 mm"
[[wires]]
name = "N"
from = "cell.minus"
to = "row.minus"
type = "wire-22awg-ptfe"
length = "50 mm"
[[wires]]
name = "BP"
from = "cell.plus"
to = "board.supply"
type = "wire-22awg-ptfe"
length = "50 mm"
[[wires]]
name = "BN"
from = "cell.minus"
to = "board.ground"
type = "wire-22awg-ptfe"
length = "50 mm"
[[wires]]
name = "D"
from = "board.data1"
to = "row.data-in"
type = "wire-28awg-ptfe"
length = "50 mm"
{clock}"#
    );
    read_build(&Source::new("build.toml", text)).unwrap()
}

pub(crate) fn lines_of(prop: &Prop) -> Vec<Line> {
    let lowered = lower(prop, Condition::nominal()).unwrap();
    lines(prop, &lowered.circuit).unwrap()
}

/// A dump of one line `D` from pulses: high and low times in ns, one after the other, after a low of `lead` ns.
pub(crate) fn dump(lead: u64, pulses: &[(u64, u64)]) -> String {
    let mut text = head("1 ns");
    text.push_str("#0\n0!\n");
    let mut time = lead;
    for (high, low) in pulses {
        let _ = write!(text, "#{time}\n1!\n#{}\n0!\n", time + high);
        time += high + low;
    }
    let _ = writeln!(text, "#{time}");
    text
}

pub(crate) fn head(scale: &str) -> String {
    format!("$timescale {scale} $end\n$scope module top $end\n$var wire 1 ! D $end\n$upscope $end\n$enddefinitions $end\n")
}

/// The bits of bytes as the pulses of the WS2812B data sheet: T0H 400, T0L 850, T1H 800, T1L 450 ns.
pub(crate) fn ws2812b(bytes: &[u8]) -> Vec<(u64, u64)> {
    let bits = bytes
        .iter()
        .flat_map(|b| (0..8).rev().map(move |k| b >> k & 1));
    bits.map(|bit| if bit == 1 { (800, 450) } else { (400, 850) })
        .collect()
}

/// A frame with its time in steps.
pub(crate) type Frame = (u64, Vec<u8>);

/// Decodes a text of one line `D`: what was found, and every frame with its time in steps.
pub(crate) fn decoded(
    prop: &Prop,
    text: &str,
    options: DecodeOptions,
) -> Result<(Decoded, Vec<Frame>), InputErrors> {
    let signals = Signals {
        data: "D".into(),
        clock: text.contains(" CK ").then(|| "CK".into()),
    };
    let bytes = text.as_bytes().to_vec();
    let vcd = VcdReader::new("cap.vcd", Box::new(std::io::Cursor::new(bytes)))?;
    let frame_len = prop.pixels() as usize * prop.frame_channels();
    let mut frames = Vec::new();
    let found = decode(
        vcd,
        &lines_of(prop),
        &[signals],
        frame_len,
        options,
        |t, l| {
            frames.push((t, l.to_vec()));
        },
    )?;
    Ok((found, frames))
}
