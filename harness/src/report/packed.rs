//! What `pack` and `unpack` print: what is in a packed prop.

use super::text::{number, BOLD};
use crate::build::pack::{PackedProp, PackedStrip};
use lampwright_model::pack::{Link, VERSION};
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Version of the `pack` document. 1: first form.
pub const PACK_SCHEMA: &str = "lampwright/pack/1";

/// The document of `pack` and `unpack`; `bytes` is the length of the packed file.
pub fn packed_json(packed: &PackedProp, bytes: usize) -> Value {
    let strips = packed.board.strips.iter().map(|s| {
        json!({
            "name": s.name,
            "pixels": s.pixels,
            "order": s.order,
            "channel_ua": channels(s),
            "dark_ua": s.dark_ua,
            "link": link_json(s.link),
        })
    });
    let presets = packed.presets.iter().map(|p| {
        json!({
            "name": p.name,
            "title": p.preset.name.as_str(),
            "layers": p.preset.layers.len(),
            "frame_rate_hz": p.preset.frame_rate_hz,
            "cues": p.cues,
        })
    });
    json!({
        "schema": PACK_SCHEMA,
        "version": VERSION,
        "bytes": bytes,
        "prop": packed.prop,
        "cap": packed.cap,
        "budget_ua": packed.budget_ua,
        "brown_out_mv": packed.board.brown_out_mv,
        "pixels": packed.pixels(),
        "channels": packed.channels.count(),
        "strips": strips.collect::<Vec<_>>(),
        "presets": presets.collect::<Vec<_>>(),
    })
}

/// The same for people.
pub fn packed_text(packed: &PackedProp, bytes: usize) -> String {
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write_text(packed, bytes, &mut out);
    out
}

fn write_text(packed: &PackedProp, bytes: usize, out: &mut String) -> std::fmt::Result {
    writeln!(
        out,
        "{BOLD}{}{BOLD:#}: packed prop, version {VERSION}, {bytes} bytes",
        packed.prop.escape_debug()
    )?;
    writeln!(out, "cap         {}", packed.cap)?;
    let budget = packed.budget_ua.map_or("none".into(), |ua| {
        format!("{} A", number(f64::from(ua) / 1e6))
    });
    writeln!(out, "budget      {budget}")?;
    let brown_out = packed.board.brown_out_mv.map_or(
        "none: the board states no level, so there is no sag guard".into(),
        |mv| format!("{} V at the board", number(f64::from(mv) / 1e3)),
    );
    writeln!(out, "brown-out   {brown_out}")?;
    for strip in &packed.board.strips {
        let amps: Vec<String> = channels(strip)
            .iter()
            .map(|ua| number(f64::from(*ua) / 1e3))
            .collect();
        writeln!(
            out,
            "strip       {}: {} pixels, sent {}, {} mA a channel, {} mA dark{}",
            strip.name.escape_debug(),
            strip.pixels,
            strip.order.escape_debug(),
            amps.join(" / "),
            number(f64::from(strip.dark_ua) / 1e3),
            match strip.link {
                Link::Unknown => ", timing not stated",
                Link::OneWire { .. } => ", one wire",
                Link::Clocked { .. } => ", clocked",
            }
        )?;
    }
    for preset in &packed.presets {
        writeln!(
            out,
            "preset      {}: {}, {} layers, {} frames a second",
            preset.name.escape_debug(),
            preset.preset.name.escape_debug(),
            preset.preset.layers.len(),
            preset.preset.frame_rate_hz
        )?;
    }
    Ok(())
}

/// The currents of the channels a strip has.
fn channels(strip: &PackedStrip) -> &[u32] {
    let count = strip.order.len().min(strip.channel_ua.len());
    strip.channel_ua.get(..count).unwrap_or_default()
}

fn link_json(link: Link) -> Value {
    match link {
        Link::Unknown => Value::Null,
        Link::OneWire {
            zero_high_ns,
            zero_low_ns,
            one_high_ns,
            one_low_ns,
            reset_ns,
        } => json!({
            "zero_high_ns": zero_high_ns,
            "zero_low_ns": zero_low_ns,
            "one_high_ns": one_high_ns,
            "one_low_ns": one_low_ns,
            "reset_ns": reset_ns,
        }),
        Link::Clocked { clock_max_hz } => json!({ "clock_max_hz": clock_max_hz }),
    }
}
