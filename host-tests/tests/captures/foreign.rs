//! Dumps between this reader and writer and those of another library: crates.io `vcd` 0.7, a general-purpose reader and
//! writer of IEEE 1364 dumps that shares no code with this one.
//!
//! No capture of pixels, and no other dump, was found in the packages looked through: crates.io `vcd` 0.7.0 and `wellen`
//! 0.25.7, PyPI `vcdvcd` 2.6.0, `pyDigitalWaveTools` 1.2, `pymergevcd` 0.6.1 and `pysigrok-format-vcd` 0.1.1, npm `vcd-stream`
//! 1.5.0.

use super::wires::{decoded, lines_of, prop, ws2812b};
use lampwright::profile::capture::{render, DecodeOptions, RenderOptions};
use lampwright::profile::{Recorded, RecordedFormat, RecordedOptions};
use lampwright_model::{Channels, Layout};
use std::io::Cursor;
use vcd::{Command, SimulationCommand, TimescaleUnit, Value};

#[test]
fn a_dump_that_another_library_wrote_is_decoded() {
    let sent = [12, 250, 99, 0, 255, 1];
    let mut out = Vec::new();
    let mut writer = vcd::Writer::new(&mut out);
    writer.timescale(100, TimescaleUnit::PS).unwrap();
    writer.add_module("capture").unwrap();
    let other = writer.add_wire(8, "bus").unwrap();
    let data = writer.add_wire(1, "D").unwrap();
    writer.upscope().unwrap();
    writer.enddefinitions().unwrap();
    writer.begin(SimulationCommand::Dumpvars).unwrap();
    writer.change_scalar(data, Value::V0).unwrap();
    writer.end().unwrap();
    let mut time = 600_000;
    for (high, low) in ws2812b(&sent) {
        writer.timestamp(time).unwrap();
        writer.change_scalar(data, Value::V1).unwrap();
        writer.change_vector(other, [Value::V1; 8]).unwrap();
        writer.timestamp(time + 10 * high).unwrap();
        writer.change_scalar(data, Value::V0).unwrap();
        time += 10 * (high + low);
    }
    writer.timestamp(time + 600_000).unwrap();
    let text = String::from_utf8(out).unwrap();
    let none = DecodeOptions::default();
    let (_, frames) = decoded(&prop("ws2812b", 2, ""), &text, none).unwrap();
    assert_eq!(frames, [(600_000, vec![250, 12, 99, 255, 0, 1])]);
}

/// Reads a pattern with the other library, and its bits as a pixel does: the level a fixed time after each rise.
#[test]
fn a_pattern_is_read_by_another_library() {
    let prop = prop("ws2812b", 3, "");
    let frames: [u8; 18] = [
        9, 8, 7, 6, 5, 4, 3, 2, 1, 255, 0, 128, 64, 32, 16, 200, 100, 50,
    ];
    let layout = Layout {
        pixels: 3,
        channels: Channels::Rgb,
    };
    let options = RecordedOptions {
        format: Some(RecordedFormat::Raw),
        ..RecordedOptions::new(layout)
    };
    let input = Box::new(Cursor::new(frames.to_vec()));
    let mut stream = Recorded::from_reader("frames", input, &options).unwrap();
    let options = RenderOptions {
        from_s: 0.0,
        length_s: 10.0,
        jitter: 1.0,
        seed: 6,
    };
    let mut out = Vec::new();
    render(&mut stream, &lines_of(&prop), options, &mut out).unwrap();

    let mut parser = vcd::Parser::new(out.as_slice());
    let header = parser.parse_header().unwrap();
    assert_eq!(header.timescale, Some((1, TimescaleUnit::NS)));
    let data = header.find_var(&["prop", "row_data"]).unwrap().code;
    let (mut time, mut rise, mut bits) = (0, None, Vec::new());
    for command in parser {
        match command.unwrap() {
            Command::Timestamp(now) => time = now,
            Command::ChangeScalar(id, Value::V1) if id == data => rise = Some(time),
            // A WS2812B takes the level 600 ns after the rise: between the longest 0, 550, and the shortest 1, 650.
            Command::ChangeScalar(id, Value::V0) if id == data => {
                bits.extend(rise.take().map(|r| time - r > 600));
            }
            _ => {}
        }
    }
    let bytes: Vec<u8> = bits
        .chunks(8)
        .map(|b| b.iter().fold(0, |byte, bit| byte << 1 | u8::from(*bit)))
        .collect();
    let green_first: Vec<u8> = frames.chunks(3).flat_map(|p| [p[1], p[0], p[2]]).collect();
    assert_eq!(bytes, green_first);
}
