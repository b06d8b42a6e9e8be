//! What instruments write: logs of meters and captures of logic analysers.

use crate::host::{look_over, source};
use crate::Target;
use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_variant;
use lampwright::build::measured::{read_measured_from, ReadOptions};
use lampwright::profile::capture::vcd::VcdReader;
use lampwright::profile::capture::{
    decode, lines, DecodeOptions, Decoded, FaultKind, Line, Signals,
};
use lampwright::profile::condition::Condition;
use lampwright::profile::lower::lower;
use lampwright::study::bit_timing::bit_timing;
use std::io::Cursor;
use std::sync::OnceLock;

/// The targets of this module by name.
pub(crate) const TARGETS: [(&str, Target); 2] = [("measured", measured), ("vcd", vcd)];

/// A meter's log; the first byte says what is stated beside it.
fn measured(bytes: &[u8]) {
    let Some((how, log)) = bytes.split_first() else {
        return;
    };
    let options = ReadOptions {
        columns: (how & 1 != 0).then(|| "time s, -, current mA, voltage V".to_owned()),
        interval_s: (how & 2 != 0).then_some(0.1),
        range_a: (how & 4 != 0).then_some(0.5),
    };
    match read_measured_from("fuzz", log, &options) {
        Ok(log) => {
            assert!(log.time_s.iter().all(|t| t.is_finite()));
            assert!(log.time_s.windows(2).all(|w| w[0] < w[1]), "time rises");
            for column in [&log.current_a, &log.voltage_v] {
                assert!(column.is_empty() || column.len() == log.len());
                // What is missing is not a number; nothing read is infinite.
                assert!(column.iter().all(|v| !v.is_infinite()));
            }
            assert!(log.len() < 2 || log.interval_s > 0.0, "{}", log.interval_s);
            assert!(log.notes.iter().all(|n| !n.what.is_empty()));
        }
        Err(errors) => look_over(&errors),
    }
}

/// A capture of a one-wire line `D`, or with the first byte odd of data `D` and clock `CK`; two bits more say which
/// short pulses are passed over.
fn vcd(bytes: &[u8]) {
    let Some((how, text)) = bytes.split_first() else {
        return;
    };
    let clocked = how & 1 != 0;
    static LINES: [OnceLock<Vec<Line>>; 2] = [OnceLock::new(), OnceLock::new()];
    let lines = LINES[usize::from(clocked)].get_or_init(|| lines_of(clocked));
    let ignore_s = [0.0, 0.0, 20e-9, 1e-6][usize::from(how >> 1 & 3)];
    match decoded(text, lines, clocked, DecodeOptions { ignore_s }) {
        Ok((decoded, frames)) => {
            let line = &decoded.lines[0];
            assert_eq!(line.frames, frames);
            let refused: u64 = line.refused.values().sum();
            assert_eq!(line.frames + refused, line.bursts);
            assert!(decoded.bytes <= text.len() as u64);
            let known = |kind: &FaultKind| !format!("{kind:?}").is_empty();
            assert!(line.faults.iter().all(|f| known(&f.kind)));
            assert!(decoded.period_s.is_none_or(f64::is_finite));
            for result in bit_timing(&decoded) {
                assert!(result.worst.is_none_or(f64::is_finite), "{result:?}");
            }
        }
        Err(errors) => look_over(&errors),
    }
}

fn decoded(
    text: &[u8],
    lines: &[Line],
    clocked: bool,
    options: DecodeOptions,
) -> Result<(Decoded, u64), InputErrors> {
    let reader = VcdReader::new("fuzz.vcd", Box::new(Cursor::new(text.to_vec())))?;
    let signals = Signals {
        data: "D".into(),
        clock: clocked.then(|| "CK".into()),
    };
    let mut frames = 0;
    let mut last = 0;
    let decoded = decode(reader, lines, &[signals], 6, options, |time, levels| {
        assert_eq!(levels.len(), 6);
        assert!(time >= last, "frames come in order");
        last = time;
        frames += 1;
    })?;
    Ok((decoded, frames))
}

/// The data line of a strip of two pixels.
fn lines_of(clocked: bool) -> Vec<Line> {
    let (pixel, clock) = match clocked {
        false => ("ws2812b", String::new()),
        true => ("sk9822-ec20", wire("K", "board.clock1", "row.clock-in")),
    };
    let text = format!(
        "[prop]\nname = \"row\"\n[parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.board]\nkind = \"board\"\nfrom = \"board-sound-ldo\"\n\
         [parts.row]\nkind = \"strip\"\npixel = \"{pixel}\"\npixels = 2\nrail-plus = \"3 mΩ\"\nrail-minus = \"3 mΩ\"\n\
         {}{}{}{}{}{clock}",
        wire("P", "cell.plus", "row.plus"),
        wire("N", "cell.minus", "row.minus"),
        wire("BP", "cell.plus", "board.supply"),
        wire("BN", "cell.minus", "board.ground"),
        wire("D", "board.data1", "row.data-in"),
    );
    let read = || -> Result<Vec<Line>, InputErrors> {
        let prop = read_variant(&source_of(&text), None)?;
        let lowered = lower(&prop, Condition::nominal()).expect("the row can be solved");
        lines(&prop, &lowered.circuit)
    };
    read().unwrap_or_else(|errors| panic!("{errors}"))
}

fn wire(name: &str, from: &str, to: &str) -> String {
    format!(
        "[[wires]]\nname = \"{name}\"\nfrom = \"{from}\"\nto = \"{to}\"\ntype = \"wire-22awg-ptfe\"\nlength = \"50 mm\"\n"
    )
}

fn source_of(text: &str) -> Source {
    source(text.as_bytes())
}
