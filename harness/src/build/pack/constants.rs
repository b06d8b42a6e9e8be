//! A packed prop as Rust source, for firmware that takes its data in at compile time.

use super::PackedProp;
use lampwright_model::pack::Link;
use std::fmt::Write as _;

/// Bytes on a line of source.
const BYTES_A_LINE: usize = 16;

/// Source with the figures as typed constants and the whole file as bytes; `bytes` are the file.
///
/// It stands alone but for the crate `lampwright_model`, and holds in a `no_std` crate.
pub fn rust_constants(packed: &PackedProp, bytes: &[u8]) -> String {
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write_constants(packed, bytes, &mut out);
    out
}

fn write_constants(packed: &PackedProp, bytes: &[u8], out: &mut String) -> std::fmt::Result {
    writeln!(
        out,
        "// {:?}: written by `lampwright pack`. Pack again rather than edit.",
        packed.prop
    )?;
    writeln!(out, "use lampwright_model::pack::{{Link, StripData}};")?;
    let mut constant = |doc: &str, name: &str, kind: &str, value: &str| {
        writeln!(out, "\n/// {doc}\npub const {name}: {kind} = {value};")
    };
    let cap = packed.cap.to_string();
    constant("The cap, 0..=255.", "CAP", "u8", &cap)?;
    let doc = "The budget of a frame's estimated strip current, µA.";
    let budget = format!("{:?}", packed.budget_ua);
    constant(doc, "BUDGET_UA", "Option<u32>", &budget)?;
    let doc = "Supply at the board's terminals below which it may fail, mV.";
    let brown_out = format!("{:?}", packed.board.brown_out_mv);
    constant(doc, "BROWN_OUT_MV", "Option<u16>", &brown_out)?;
    let doc = "Pixels in a frame over all strips.";
    constant(doc, "PIXELS", "u16", &packed.pixels().to_string())?;
    let doc = "Channels of each pixel of a frame.";
    let channels = packed.channels.count().to_string();
    constant(doc, "CHANNELS", "usize", &channels)?;
    strips(packed, out)?;
    let names: Vec<String> = packed
        .presets
        .iter()
        .map(|p| format!("{:?}", p.name))
        .collect();
    writeln!(
        out,
        "\n/// The presets in order; decode one with `Pack::preset`.\n#[rustfmt::skip]\npub const PRESETS: [&str; {}] = [{}];",
        names.len(),
        names.join(", ")
    )?;
    writeln!(
        out,
        "\n/// The packed prop, for `lampwright_model::pack::Pack::read`.\n#[rustfmt::skip]\npub static PACK: [u8; {}] = [",
        bytes.len()
    )?;
    for line in bytes.chunks(BYTES_A_LINE) {
        let line: Vec<String> = line.iter().map(|b| format!("{b:#04x}")).collect();
        writeln!(out, "    {},", line.join(", "))?;
    }
    writeln!(out, "];")
}

fn strips(packed: &PackedProp, out: &mut String) -> std::fmt::Result {
    let strips = &packed.board.strips;
    writeln!(
        out,
        "\n/// The strips in frame order.\npub const STRIPS: [StripData<'static>; {}] = [",
        strips.len()
    )?;
    for strip in strips {
        writeln!(out, "    StripData {{")?;
        writeln!(out, "        name: {:?},", strip.name)?;
        writeln!(out, "        pixels: {},", strip.pixels)?;
        writeln!(out, "        order: {:?},", strip.order)?;
        writeln!(out, "        channel_ua: {:?},", strip.channel_ua)?;
        writeln!(out, "        dark_ua: {},", strip.dark_ua)?;
        match strip.link {
            Link::Unknown => writeln!(out, "        link: Link::Unknown,")?,
            Link::OneWire {
                zero_high_ns,
                zero_low_ns,
                one_high_ns,
                one_low_ns,
                reset_ns,
            } => {
                writeln!(out, "        link: Link::OneWire {{")?;
                writeln!(out, "            zero_high_ns: {zero_high_ns},")?;
                writeln!(out, "            zero_low_ns: {zero_low_ns},")?;
                writeln!(out, "            one_high_ns: {one_high_ns},")?;
                writeln!(out, "            one_low_ns: {one_low_ns},")?;
                writeln!(out, "            reset_ns: {reset_ns},")?;
                writeln!(out, "        }},")?;
            }
            Link::Clocked { clock_max_hz } => {
                writeln!(out, "        link: Link::Clocked {{")?;
                writeln!(out, "            clock_max_hz: {clock_max_hz},")?;
                writeln!(out, "        }},")?;
            }
        }
        writeln!(out, "    }},")?;
    }
    writeln!(out, "];")
}
