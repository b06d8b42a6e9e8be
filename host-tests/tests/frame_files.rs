//! Frames over time: sources played with a cue trace, and recordings as CSV and raw bytes.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

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

/// A text for two RGB pixels, and the one fault it has.
const BAD_CSV: &[(&str, &str, &str, &str)] = &[
    ("", "", "there is no frame", "a header, then a row"),
    (
        "r0,g0,b0,r1,g1,b1\n",
        "",
        "there is no frame",
        "a header, then a row",
    ),
    (
        "1,2,3,4,5,6\n",
        "1:1",
        "column 1 is \"1\", but must be \"r0\"",
        "time_s",
    ),
    (
        "times,r0,g0,b0,r1,g1,b1\n1,1,1,1,1,1,1\n",
        "1:1",
        "column 1 is \"times\"",
        "did you mean \"time_s\"",
    ),
    (
        "r0,g0,b0,w0,r1,g1,b1,w1\n",
        "1:10",
        "column 4 is \"w0\", but must be \"r1\"",
        "2 pixels of 3 channels",
    ),
    (
        "r0,g0,b0\n",
        "1:1",
        "the header has 3 columns of levels, but must have 6",
        "2 pixels of 3 channels",
    ),
    (
        "r0,g0,b0,r1,g1,b1,r2\n",
        "1:19",
        "the header has 7 columns of levels, but must have 6",
        "2 pixels",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5\n",
        "2:1",
        "frame 0 has 5 fields, but must have 6",
        "write 6 levels a row",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6\n\n1,2,3,4,5,6,7\n",
        "4:13",
        "frame 1 has 7 fields, but must have 6",
        "6 levels",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6\n",
        "2:1",
        "frame 0 has 6 fields, but must have 7",
        "after the time",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,NaN,3,4,5,6\n",
        "2:3",
        "level g0 of frame 0 is \"NaN\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,256,5,6\n",
        "2:7",
        "level r1 of frame 0 is \"256\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,99999999999\n",
        "2:11",
        "level b1 of frame 0",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n-1,2,3,4,5,6\n",
        "2:1",
        "level r0 of frame 0 is \"-1\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4.5,5,6\n",
        "2:7",
        "level r1 of frame 0 is \"4.5\"",
        "whole number",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,,4,5,6\n",
        "2:5",
        "level b0 of frame 0 is \"\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,\u{fffd}\n",
        "2:11",
        "level b1",
        "from 0 to 255",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\nnan,2,3,4,5,6,7\n",
        "2:1",
        "\"nan\" is not a time",
        "seconds from the start",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n-1,2,3,4,5,6,7\n",
        "2:1",
        "\"-1\" is not a time",
        "seconds from the start",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6,7\n1,2,3,4,5,6,7\n",
        "3:1",
        "frame 1 is at 1 s, but the frame before it is at 1 s",
        "rise from row to row",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6,7\n2,2,3,4,5,6,7\n1.5,2,3,4,5,6,7\n",
        "4:1",
        "frame 2 is at 1.5 s",
        "rise from row to row",
    ),
];

#[test]
fn each_fault_of_csv_is_said_where_it_stands_with_help() {
    let mut differences = Vec::new();
    for (text, at, message, help) in BAD_CSV {
        let errors = csv(text, RGB).unwrap_err();
        differences.extend(difference(&errors, at, message, help));
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

#[test]
fn frames_before_a_fault_are_handed_out_with_it() {
    let text = "r0,g0,b0,w0\n1,2,3,4\n5,6,7,8\n9,10,11,x\n";
    let mut stream = open(text, &RecordedOptions::new(RGBW)).unwrap();
    let mut chunk = Chunk::new();
    let errors = stream.fill(&mut chunk, 10).unwrap_err();
    assert_fault(
        &errors,
        "4:9",
        "level w0 of frame 2 is \"x\"",
        "from 0 to 255",
    );
    assert_eq!((chunk.len(), chunk.levels.len()), (2, 8));
}

#[test]
fn a_fault_far_into_a_long_row_keeps_its_column() {
    let layout = Layout {
        pixels: 2000,
        channels: Channels::Rgb,
    };
    let names = ["r", "g", "b"];
    let header: Vec<String> = (0..6000)
        .map(|i| format!("{}{}", names[i % 3], i / 3))
        .collect();
    let mut row = vec!["7"; 6000];
    row[5000] = "300";
    let text = format!("{}\n{}\n", header.join(","), row.join(","));
    let errors = csv(&text, layout).unwrap_err();
    assert_fault(
        &errors,
        "2:10001",
        "level b1666 of frame 0 is \"300\"",
        "from 0 to 255",
    );
    // What is shown of the row is a piece around the fault.
    let place = errors.0[0].place.clone().unwrap();
    assert_eq!(&place.source.text[place.span.clone()], "300");
    assert!(place.source.text.len() < 300);
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

/// A source that writes down what it is asked.
struct Probe {
    calls: Vec<(u32, Option<Cue>)>,
    caps: bool,
    fails_at: Option<u32>,
}

impl Probe {
    fn new() -> Self {
        Self {
            calls: Vec::new(),
            caps: false,
            fails_at: None,
        }
    }
}

impl FrameSource for Probe {
    type Error = String;

    fn layout(&self) -> Layout {
        RGBW
    }

    fn cue(&mut self, at: Millis, cue: Cue) {
        self.calls.push((at.0, Some(cue)));
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, String> {
        self.calls.push((at.0, None));
        if self.fails_at == Some(at.0) {
            return Err("the probe is out of ink".into());
        }
        out.fill(200);
        Ok(State::Lit)
    }

    fn set_cap(&mut self, _cap: u8) -> bool {
        self.caps
    }

    fn active_layers(&self) -> LayerSet {
        LayerSet(0b101)
    }
}

fn trace(cues: &[(u64, Cue)], end_ms: u64) -> CueTrace {
    let cues = cues.iter().map(|&(at_ms, cue)| TraceCue { at_ms, cue });
    CueTrace {
        name: "t.csv".into(),
        cues: cues.collect(),
        end_ms,
    }
}

#[test]
fn cues_come_with_their_own_time_before_the_frame_they_are_due_at() {
    let knock = Cue::Knock {
        strength: Share::HALF,
    };
    let trace = trace(
        &[
            (0, Cue::ShortPress),
            (17, knock),
            (18, Cue::LongPress),
            (33, Cue::LowCell),
        ],
        100,
    );
    let mut played = Played::new(Probe::new(), &trace, 60.0);
    assert_eq!((played.frames(), played.period_s()), (6, 1.0 / 60.0));
    let mut chunk = Chunk::new();
    assert_eq!(played.fill(&mut chunk, 3).unwrap(), 3);
    // Frames at 0, 16.667 and 33.333 ms, in whole ms: 0, 17, 33.
    let wanted = [
        (0, Some(Cue::ShortPress)),
        (0, None),
        (17, Some(knock)),
        (17, None),
        (18, Some(Cue::LongPress)),
        (33, Some(Cue::LowCell)),
        (33, None),
    ];
    assert_eq!(played.source().calls, wanted);
    let new: Vec<u32> = chunk.meta.iter().map(|m| m.new_cues).collect();
    assert_eq!(new, [1, 1, 2]);
    let last = chunk.new_cues(&chunk.meta[2]);
    assert_eq!((last[0].time_s, last[0].cue), (0.018, Cue::LongPress));
    let meta = chunk.meta[2];
    assert_eq!(
        (meta.state, meta.layers),
        (Some(State::Lit), LayerSet(0b101))
    );
    assert_eq!(meta.cue.unwrap().cue, Cue::LowCell);
    assert!((meta.time_s - 2.0 / 60.0).abs() < 1e-12);

    // The next chunk starts anew, and remembers the last cue.
    assert_eq!(played.fill(&mut chunk, 10).unwrap(), 3);
    assert!(chunk.cues.is_empty());
    assert_eq!(chunk.meta[0].cue.unwrap().cue, Cue::LowCell);
    assert_eq!(played.fill(&mut chunk, 10).unwrap(), 0);
}

#[test]
fn there_is_a_frame_at_each_multiple_of_the_period_before_the_end() {
    let one = [(0, Cue::ShortPress)];
    let count = |end_ms, rate| Played::new(Probe::new(), &trace(&one, end_ms), rate).frames();
    assert_eq!(count(10_000, 60.0), 600);
    assert_eq!(count(10_001, 60.0), 601);
    assert_eq!(count(3_600_000, 50.0), 180_000);
    assert_eq!(count(1, 60.0), 1);
    // 40 days.
    assert_eq!(count(3_456_000_000, 250.0), 864_000_000);
}

#[test]
fn the_counter_of_the_source_wraps_as_on_the_board() {
    let trace = trace(&[(6, Cue::ShortPress)], 30);
    let played = Played::new(Probe::new(), &trace, 100.0);
    let mut played = played.starting_at(Millis(u32::MAX - 4));
    let mut chunk = Chunk::new();
    assert_eq!(played.fill(&mut chunk, 9).unwrap(), 3);
    let wanted = [
        (u32::MAX - 4, None),
        (1, Some(Cue::ShortPress)),
        (5, None),
        (15, None),
    ];
    assert_eq!(played.source().calls, wanted);
    let times: Vec<f64> = chunk.meta.iter().map(|m| m.time_s).collect();
    assert_eq!(times, [0.0, 0.01, 0.02]);
}

#[test]
fn a_source_without_a_cap_is_scaled() {
    let trace = trace(&[(0, Cue::ShortPress)], 10);
    for (caps, level) in [(true, 200), (false, 100)] {
        let probe = Probe {
            caps,
            ..Probe::new()
        };
        let mut played = Played::new(probe, &trace, 60.0).with_cap(128);
        let mut chunk = Chunk::new();
        played.fill(&mut chunk, 1).unwrap();
        assert_eq!(chunk.levels, [level; 4]);
    }
}

#[test]
fn a_source_that_fails_is_named_with_its_frame() {
    let trace = trace(&[(0, Cue::ShortPress)], 100);
    let probe = Probe {
        fails_at: Some(20),
        ..Probe::new()
    };
    let mut played = Played::new(probe, &trace, 100.0);
    let mut chunk = Chunk::new();
    let errors = played.fill(&mut chunk, 10).unwrap_err();
    assert_fault(
        &errors,
        "",
        "no frame 2 at 0.020 s: the probe is out of ink",
        "frame source",
    );
    assert_eq!((chunk.len(), chunk.levels.len()), (2, 8));
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
