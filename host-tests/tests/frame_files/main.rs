//! Frames over time: sources played with a cue trace, and recordings as CSV and raw bytes.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod faults;
mod played;
#[path = "../support/mod.rs"]
mod support;

use lampwright::build::cues::{CueTrace, TraceCue};
use lampwright::build::diag::InputErrors;
use lampwright::profile::{
    open_recorded, Chunk, FrameStream, Played, Recorded, RecordedFormat, RecordedOptions,
};
use lampwright_model::{Channels, Cue, FrameSource, LayerSet, Layout, Millis, Share, State};
use proptest::prelude::*;
use std::io::Write as _;
use support::{assert_fault, difference};

const RGB: Layout = Layout {
    pixels: 2,
    channels: Channels::Rgb,
};
const RGBW: Layout = Layout {
    pixels: 1,
    channels: Channels::Rgbw,
};

fn open(bytes: impl Into<Vec<u8>>, options: &RecordedOptions) -> Result<Recorded, InputErrors> {
    let input = std::io::Cursor::new(bytes.into());
    Recorded::from_reader("rec", Box::new(input), options)
}

/// Every frame of a stream: time and levels. Read a few at a time.
fn frames(stream: &mut dyn FrameStream) -> Result<Vec<(f64, Vec<u8>)>, InputErrors> {
    let mut chunk = Chunk::new();
    let mut out = Vec::new();
    while stream.fill(&mut chunk, 3)? > 0 {
        for (meta, levels) in chunk.frames() {
            assert_eq!(meta.index, out.len() as u64);
            out.push((meta.time_s, levels.to_vec()));
        }
    }
    Ok(out)
}

fn csv(text: &str, layout: Layout) -> Result<Vec<(f64, Vec<u8>)>, InputErrors> {
    let options = RecordedOptions {
        format: Some(RecordedFormat::Csv),
        ..RecordedOptions::new(layout)
    };
    frames(&mut open(text, &options)?)
}

fn raw(bytes: &[u8], layout: Layout) -> Result<Vec<(f64, Vec<u8>)>, InputErrors> {
    let options = RecordedOptions {
        format: Some(RecordedFormat::Raw),
        ..RecordedOptions::new(layout)
    };
    frames(&mut open(bytes, &options)?)
}

#[test]
fn csv_rows_are_frames() {
    let text = "r0,g0,b0,r1,g1,b1\n0,1,2,3,4,5\n# a remark\n\n 10, 20 ,30,\"40\",50,255\r\n";
    let found = csv(text, RGB).unwrap();
    let second = vec![10, 20, 30, 40, 50, 255];
    assert_eq!(found, [(0.0, vec![0, 1, 2, 3, 4, 5]), (1.0 / 60.0, second)]);
}

#[test]
fn csv_may_have_times_and_they_set_the_period() {
    let text = "time_s,r0,g0,b0,w0\n0.5,1,2,3,4\n0.52,5,6,7,8\n0.6,9,10,11,12\n";
    let mut stream = open(text, &RecordedOptions::new(RGBW)).unwrap();
    assert!((stream.period_s() - 0.02).abs() < 1e-12);
    let found = frames(&mut stream).unwrap();
    let times: Vec<f64> = found.iter().map(|f| f.0).collect();
    assert_eq!(times, [0.5, 0.52, 0.6]);
    assert_eq!(found[2].1, [9, 10, 11, 12]);

    let stated = RecordedOptions {
        rate_hz: Some(100.0),
        ..RecordedOptions::new(RGBW)
    };
    assert_eq!(open(text, &stated).unwrap().period_s(), 0.01);
    let one = open(
        "time_s,r0,g0,b0,w0\n0.5,1,2,3,4\n",
        &RecordedOptions::new(RGBW),
    )
    .unwrap();
    assert_eq!(one.period_s(), 1.0 / 60.0);
}

#[test]
fn raw_bytes_are_frames_back_to_back() {
    let found = raw(&[1, 2, 3, 4, 5, 6, 7, 8], RGBW).unwrap();
    assert_eq!(
        found,
        [(0.0, vec![1, 2, 3, 4]), (1.0 / 60.0, vec![5, 6, 7, 8])]
    );
}

#[test]
fn a_pipe_is_told_by_its_first_bytes() {
    let unsaid = RecordedOptions::new(RGBW);
    let text = "\u{feff}r0,g0,b0,w0\n1,2,3,4\n";
    assert_eq!(frames(&mut open(text, &unsaid).unwrap()).unwrap().len(), 1);
    let bytes = b"r0+3 four";
    let found = frames(&mut open(&bytes[..8], &unsaid).unwrap()).unwrap();
    assert_eq!(found[0].1, b"r0+3");
}

#[test]
fn a_cap_scales_recorded_levels_to_the_nearest() {
    let options = RecordedOptions {
        cap: 100,
        format: Some(RecordedFormat::Raw),
        ..RecordedOptions::new(RGBW)
    };
    let found = frames(&mut open([0, 1, 128, 255], &options).unwrap()).unwrap();
    // 100/255 = 0.39, 12800/255 = 50.2, 25500/255 = 100.
    assert_eq!(found[0].1, [0, 0, 50, 100]);
}

#[test]
fn files_are_told_by_their_name() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("a.csv"), "r0,g0,b0,w0\n1,2,3,4\n").unwrap();
    std::fs::write(path("a.bin"), [1, 2, 3, 4, 5, 6, 7, 8]).unwrap();
    let options = RecordedOptions::new(RGBW);
    let count = |name: &str| frames(&mut open_recorded(&path(name), &options).unwrap());
    assert_eq!(count("a.csv").unwrap().len(), 1);
    assert_eq!(count("a.bin").unwrap().len(), 2);

    // A raw file that is cut off is refused before the first frame is handed out.
    std::fs::write(path("cut.bin"), [1, 2, 3, 4, 5]).unwrap();
    let errors = open_recorded(&path("cut.bin"), &options).unwrap_err();
    assert_fault(
        &errors,
        "",
        "frame 1 (from byte 4) has 1 of 4 bytes",
        "1 × 4 = 4 bytes",
    );
    let errors = open_recorded(&path("none.bin"), &options).unwrap_err();
    assert_fault(&errors, "", "cannot be read", "check the path");
    let errors = open_recorded(folder.path(), &options).unwrap_err();
    assert_fault(&errors, "", "is a folder", "name a file");
    std::fs::write(path("empty.bin"), []).unwrap();
    let errors = open_recorded(&path("empty.bin"), &options).unwrap_err();
    assert_fault(&errors, "", "there is no frame", "at least one frame");
}

#[test]
fn partial_raw_frames_and_no_frames_are_refused() {
    let errors = raw(&[0; 13], RGB).unwrap_err();
    assert_fault(
        &errors,
        "",
        "rec: frame 2 (from byte 12) has 1 of 6 bytes",
        "2 × 3 = 6 bytes a frame",
    );
    let errors = raw(&[0; 5], RGB).unwrap_err();
    assert_fault(
        &errors,
        "",
        "rec: frame 0 (from byte 0) has 5 of 6 bytes",
        "whole frames",
    );
    let errors = raw(&[], RGB).unwrap_err();
    assert_fault(&errors, "", "there is no frame", "at least one");
}

#[test]
fn options_out_of_range_are_refused() {
    for rate in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let options = RecordedOptions {
            rate_hz: Some(rate),
            ..RecordedOptions::new(RGB)
        };
        assert_fault(
            &open([0; 6], &options).unwrap_err(),
            "",
            "not a frame rate",
            "above 0",
        );
    }
    let none = Layout { pixels: 0, ..RGB };
    let errors = open([0; 6], &RecordedOptions::new(none)).unwrap_err();
    assert_fault(&errors, "", "no pixels", "add a strip");
}

#[test]
fn a_line_without_end_is_refused_and_not_kept() {
    let text = format!("r0,g0,b0,w0\n{}", "1".repeat(1_000_000));
    let errors = csv(&text, RGBW).unwrap_err();
    assert_fault(&errors, "2:1", "too long for 5 fields", "raw format");
}

#[test]
fn memory_stays_flat_however_long_the_recording() {
    let options = RecordedOptions {
        format: Some(RecordedFormat::Raw),
        ..RecordedOptions::new(RGB)
    };
    let mut stream = open(vec![9; 6 * 100_000], &options).unwrap();
    let mut chunk = Chunk::new();
    stream.fill(&mut chunk, 256).unwrap();
    let (levels, meta) = (chunk.levels.capacity(), chunk.meta.capacity());
    let mut count = chunk.len();
    while stream.fill(&mut chunk, 256).unwrap() > 0 {
        count += chunk.len();
    }
    assert_eq!(count, 100_000);
    assert_eq!(
        (chunk.levels.capacity(), chunk.meta.capacity()),
        (levels, meta)
    );
}

proptest! {
    #[test]
    fn any_bytes_are_errors_with_help_or_frames(
        bytes in proptest::collection::vec(any::<u8>(), 0..200), as_csv in any::<bool>()
    ) {
        let format = if as_csv { RecordedFormat::Csv } else { RecordedFormat::Raw };
        let options = RecordedOptions { format: Some(format), ..RecordedOptions::new(RGB) };
        let result = open(bytes.clone(), &options).and_then(|mut s| frames(&mut s));
        match result {
            Ok(found) => prop_assert_eq!(found.len(), bytes.len() / 6),
            Err(errors) => prop_assert!(errors.0.iter().all(|e| e.help.is_some())),
        }
    }

    #[test]
    fn any_rows_are_errors_with_help_or_frames(rows in "[0-9,. \"\r\n#e-]{0,120}", timed in any::<bool>()) {
        let lead = if timed { "time_s," } else { "" };
        let text = format!("{lead}r0,g0,b0,w0\n{rows}");
        if let Err(errors) = csv(&text, RGBW) {
            prop_assert!(errors.0.iter().all(|e| e.help.is_some()));
        }
    }

    #[test]
    fn csv_and_raw_give_the_same_frames(
        levels in proptest::collection::vec(any::<[u8; 6]>(), 1..40), cap in any::<u8>()
    ) {
        let mut text = b"r0,g0,b0,r1,g1,b1\n".to_vec();
        for frame in &levels {
            let row: Vec<String> = frame.iter().map(u8::to_string).collect();
            writeln!(text, "{}", row.join(",")).unwrap();
        }
        let bytes = levels.concat();
        let with = |format| RecordedOptions { format: Some(format), cap, ..RecordedOptions::new(RGB) };
        let a = frames(&mut open(text, &with(RecordedFormat::Csv)).unwrap()).unwrap();
        let b = frames(&mut open(bytes, &with(RecordedFormat::Raw)).unwrap()).unwrap();
        prop_assert_eq!(a, b);
    }
}
