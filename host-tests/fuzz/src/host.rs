//! What a person writes: build files, presets, cue traces, recorded frames; and what they make of it, networks.

use super::Target;
use lampwright::build::cues::{read_cues, write_cues};
use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_variant;
use lampwright::build::preset::{read_preset, write_preset, StripMap};
use lampwright::electrical::{
    check_balance, Channel, Drive, Feed, LoadLaw, Network, PixelType, Rail, Ramp, Solver,
    StripDrive, StripSpec,
};
use lampwright::profile::{open_recorded, Chunk, FrameStream, RecordedFormat, RecordedOptions};
use lampwright::study::rules::findings;
use lampwright_model::{Channels, Layout};

/// The targets of this module by name.
pub(crate) const TARGETS: [(&str, Target); 5] = [
    ("build", build),
    ("preset-text", preset_text),
    ("cues", cues),
    ("frames", frames),
    ("network", network),
];

/// Bytes as the text of a file.
pub(crate) fn source(bytes: &[u8]) -> Source {
    Source::new(
        "fuzz".to_owned(),
        String::from_utf8_lossy(bytes).into_owned(),
    )
}

/// Every fault has words, a mend, and a place within the text.
pub(crate) fn look_over(errors: &InputErrors) {
    assert!(!errors.0.is_empty(), "refused without a reason");
    for error in &errors.0 {
        assert!(!error.message.is_empty() && error.help.is_some(), "{error}");
        if let Some(place) = &error.place {
            // Panics where the span cuts a letter in two or leaves the text.
            let _ = &place.source.text[place.span.clone()];
        }
    }
}

/// A build file is read, or refused in words; one that is read has rules to be judged by.
fn build(bytes: &[u8]) {
    match read_variant(&source(bytes), None) {
        Ok(prop) => {
            // A netlist of thousands of parts says no more than a small one.
            if prop.parts.len() < 40 && prop.wires.len() < 80 {
                for finding in findings(&prop) {
                    assert!(!finding.mend.is_empty());
                }
            }
        }
        Err(errors) => look_over(&errors),
    }
}

/// A preset's text is read and comes back the same through its own text, or is refused in words.
fn preset_text(bytes: &[u8]) {
    let layout = StripMap::new([("column", 96), ("collar", 12)], Channels::Rgbw);
    match read_preset(&source(bytes), &layout) {
        Ok(file) => {
            assert_eq!(file.preset.validate(), Ok(()));
            let text = write_preset(&file.preset, &layout, &file.cues);
            match read_preset(&source(text.as_bytes()), &layout) {
                Ok(again) => assert_eq!(again.preset, file.preset, "{text}"),
                Err(errors) => panic!("{errors}\n{text}"),
            }
        }
        Err(errors) => look_over(&errors),
    }
}

/// The same with a cue trace.
fn cues(bytes: &[u8]) {
    match read_cues(&source(bytes)) {
        Ok(trace) => {
            assert!(trace.cues.windows(2).all(|w| w[0].at_ms <= w[1].at_ms));
            let text = write_cues(&trace);
            match read_cues(&source(text.as_bytes())) {
                Ok(again) => assert_eq!((again.cues, again.end_ms), (trace.cues, trace.end_ms)),
                Err(errors) => panic!("{errors}\n{text}"),
            }
        }
        Err(errors) => look_over(&errors),
    }
}

/// Recorded frames: the first byte says the form, the shape and the cap.
fn frames(bytes: &[u8]) {
    let Some((how, recording)) = bytes.split_first() else {
        return;
    };
    let layout = Layout {
        pixels: 1 + u16::from(how >> 4),
        channels: if how & 1 == 0 {
            Channels::Rgb
        } else {
            Channels::Rgbw
        },
    };
    let format = if how & 2 == 0 {
        RecordedFormat::Csv
    } else {
        RecordedFormat::Raw
    };
    let options = RecordedOptions {
        format: Some(format),
        cap: if how & 4 == 0 { 255 } else { 100 },
        ..RecordedOptions::new(layout)
    };
    let path = std::env::temp_dir().join(format!("lampwright-fuzz-{}", std::process::id()));
    std::fs::write(&path, recording).expect("the temporary folder can be written to");
    let mut stream = match open_recorded(&path, &options) {
        Ok(stream) => stream,
        Err(errors) => return look_over(&errors),
    };
    let mut chunk = Chunk::default();
    loop {
        match stream.fill(&mut chunk, 7) {
            Ok(0) => return,
            Ok(frames) => {
                assert!(frames == chunk.len() && frames <= 7);
                for (_, levels) in chunk.frames() {
                    assert_eq!(levels.len(), layout.frame_len());
                    assert!(levels.iter().all(|level| *level <= options.cap));
                }
            }
            Err(errors) => return look_over(&errors),
        }
    }
}

/// Four bytes an element between two of eight nodes. A network is refused, or solved so that currents and power
/// balance, or has no operating point.
fn network(bytes: &[u8]) {
    let Some((law, ramp)) = pixel() else { return };
    let mut builder = Network::builder();
    let nodes: Vec<_> = (0..8).map(|i| builder.node(&format!("n{i}"))).collect();
    let mut levels: Vec<Vec<u8>> = Vec::new();
    for element in bytes.chunks_exact(4).take(40) {
        let [kind, ends, size, more] = [element[0], element[1], element[2], element[3]];
        let (a, b) = (
            nodes[usize::from(ends & 7)],
            nodes[usize::from(ends >> 3 & 7)],
        );
        let name = format!("e{}", levels.len());
        // From a tenth of a milliohm to some kiloohms, and now and then none.
        let ohm = if size == 0 {
            0.0
        } else {
            10f64.powf(f64::from(size) / 36.0 - 4.0)
        };
        match kind % 6 {
            0 | 1 => {
                builder.resistor(&name, a, b, ohm);
            }
            2 => {
                builder.source(&name, a, b, 3.0 + f64::from(more) / 200.0, ohm.min(1.0));
            }
            3 => {
                builder.load(&name, a, b, LoadLaw::SINK, f64::from(more) / 100.0);
            }
            4 => {
                let law = LoadLaw::ConstantPower { min_v: 2.0 };
                builder.load(&name, a, b, law, f64::from(more) / 100.0);
            }
            _ => {
                let pixels = 1 + usize::from(size % 20);
                let feed = |rail, node, pixel| Feed {
                    rail,
                    pixel,
                    node,
                    ohm: 0.01,
                };
                builder.strip(StripSpec {
                    name,
                    law: law.clone(),
                    pixels,
                    rail_pos_ohm: 0.003,
                    rail_neg_ohm: 0.003,
                    feeds: vec![
                        feed(Rail::Positive, a, 0),
                        feed(Rail::Negative, b, usize::from(more) % pixels),
                    ],
                });
                levels.push(vec![more; pixels]);
            }
        }
    }
    let Ok(network) = builder.build() else { return };
    let Ok(mut solver) = Solver::new(&network) else {
        return;
    };
    let strips: Vec<StripDrive<'_>> = levels.iter().map(|l| StripDrive::Levels(l)).collect();
    let drive = Drive {
        strips: &strips,
        loads: &[],
        sources: &[],
    };
    if let Ok(solution) = solver.solve(&drive) {
        let balance = check_balance(&network, &drive, solution);
        // Rounding alone drives some 1e-11 A through a tenth of a milliohm, so below a microwatt a share says nothing.
        let lost_w = (balance.supplied_w - balance.taken_w).abs();
        assert!(
            lost_w < 1e-3 * balance.supplied_w.abs().max(1e-6),
            "{balance:?} {ramp:?}"
        );
        assert!(network.node_ids().all(|id| solution.node_v(id).is_finite()));
    }
}

fn pixel() -> Option<(PixelType, Ramp)> {
    let ramp = Ramp {
        off_v: 1.9,
        full_v: 2.6,
    };
    let channel = Channel {
        full_a: 0.012,
        ramp,
    };
    let dark = Ramp {
        off_v: 0.0,
        full_v: 1.5,
    };
    Some((PixelType::new(&[channel], 0.0006, dark).ok()?, ramp))
}
