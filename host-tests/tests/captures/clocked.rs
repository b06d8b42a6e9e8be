//! Lines with a clock. Bits are made here by hand from the frame of the SK9822-EC20 data sheet Rev 05, pp. 4-8: 32 zeros;
//! for each pixel three ones, five bits of brightness, blue, green, red; clocks at the end.

use super::wires::{decoded, prop};
use lampwright::profile::capture::{DecodeOptions, FaultKind};
use lampwright::study::bit_timing::bit_timing;
use lampwright::study::verdict::Verdict;

const PLAIN: DecodeOptions = DecodeOptions { ignore_s: 0.0 };

/// A dump of data and clock; half a clock lasts `half` ns.
fn dump(bytes: &[u8], half: u64, set_up: u64) -> String {
    let mut text = String::from(
        "$timescale 1 ns $end\n$var wire 1 ! D $end\n$var wire 1 \" CK $end\n$enddefinitions $end\n#0 0! 0\"\n",
    );
    let mut time = 1_000;
    for byte in bytes {
        for k in (0..8).rev() {
            let bit = byte >> k & 1;
            text.push_str(&format!(
                "#{} {bit}!\n#{} 1\"\n#{} 0\"\n",
                time + half - set_up,
                time + half,
                time + 2 * half
            ));
            time += 2 * half;
        }
    }
    text.push_str(&format!("#{}\n", time + 1_000));
    text
}

fn frame(pixels: &[[u8; 4]], end: &[u8]) -> Vec<u8> {
    let mut out = vec![0; 4];
    for [brightness, red, green, blue] in pixels {
        out.extend([0xe0 | brightness, *blue, *green, *red]);
    }
    out.extend(end);
    out
}

#[test]
fn frames_follow_one_another() {
    let prop = prop("sk9822-ec20", 3, "");
    let a = [[31, 1, 2, 3], [31, 255, 255, 255], [31, 0, 0, 0]];
    let b = [[31, 9, 8, 7], [31, 0, 128, 0], [31, 64, 0, 32]];
    for end in [&[0xff; 4][..], &[0; 4], &[0xff], &[0; 8]] {
        let mut bytes = frame(&a, end);
        bytes.extend(frame(&b, end));
        let (found, frames) = decoded(&prop, &dump(&bytes, 100, 40), PLAIN).unwrap();
        let levels: Vec<&[u8]> = frames.iter().map(|(_, l)| l.as_slice()).collect();
        assert_eq!(
            levels,
            [
                &[1, 2, 3, 255, 255, 255, 0, 0, 0][..],
                &[9, 8, 7, 0, 128, 0, 64, 0, 32]
            ]
        );
        for c in bit_timing(&found) {
            assert_eq!(c.verdict, Verdict::Holds, "{c:?}");
        }
    }
}

#[test]
fn brightness_scales_the_levels() {
    let pixels = [[31, 200, 100, 50], [9, 200, 100, 50], [0, 200, 100, 50]];
    let (_, frames) = decoded(
        &prop("sk9822-ec20", 3, ""),
        &dump(&frame(&pixels, &[0xff; 4]), 100, 40),
        PLAIN,
    )
    .unwrap();
    // 200 · 9/31 = 58.06, 100 · 9/31 = 29.03, 50 · 9/31 = 14.5.
    assert_eq!(frames[0].1, [200, 100, 50, 58, 29, 15, 0, 0, 0]);
    // The same for a type whose currents are stated for brightness 9: more than that cannot be expressed.
    let dimmed = [[9, 200, 100, 50], [3, 200, 100, 50], [0, 1, 1, 1]];
    let level9 = prop("sk9822-ec20-level9", 3, "");
    let (_, frames) = decoded(&level9, &dump(&frame(&dimmed, &[0xff; 4]), 100, 40), PLAIN).unwrap();
    assert_eq!(frames[0].1, [200, 100, 50, 67, 33, 17, 0, 0, 0]);
    let (found, frames) =
        decoded(&level9, &dump(&frame(&pixels, &[0xff; 4]), 100, 40), PLAIN).unwrap();
    assert!(frames.is_empty());
    assert_eq!(found.lines[0].faults[0].kind, FaultKind::Brightness);
}

#[test]
fn faults_are_reported_and_the_next_frame_is_found() {
    let three = [[31, 1, 2, 3], [31, 4, 5, 6], [31, 7, 8, 9]];
    let good = frame(&three, &[0xff; 4]);
    let two = frame(&three[..2], &[]);
    let mut cut = frame(&three[..2], &[]);
    cut.truncate(10);
    let long = frame(&[three[0], three[1], three[2], [31, 3, 2, 1]], &[0xff; 4]);
    let mut marker = good.clone();
    marker[8] = 0x7f;
    for (bad, kind) in [
        (two, FaultKind::Short),
        (cut, FaultKind::Short),
        (long, FaultKind::Long),
        (marker, FaultKind::Marker),
    ] {
        let bytes = [good.clone(), bad, good.clone()].concat();
        let (found, frames) =
            decoded(&prop("sk9822-ec20", 3, ""), &dump(&bytes, 100, 40), PLAIN).unwrap();
        let line = &found.lines[0];
        assert_eq!(
            (line.bursts, line.frames, line.refused()),
            (3, 2, 1),
            "{kind:?}"
        );
        assert_eq!(line.faults[0].kind, kind);
        assert!(frames
            .iter()
            .all(|(_, l)| *l == [1, 2, 3, 4, 5, 6, 7, 8, 9]));
        assert!(bit_timing(&found)
            .iter()
            .any(|c| c.verdict == Verdict::Fails));
    }
}

#[test]
fn a_fast_clock_and_few_end_clocks_fail_the_check() {
    let three = [[31, 1, 2, 3], [31, 4, 5, 6], [31, 7, 8, 9]];
    // 10 ns of high and low are 50 MHz; the sheet has at least 17 ns each.
    let text = dump(&frame(&three, &[0xff; 4]), 10, 5);
    let (found, _) = decoded(&prop("sk9822-ec20", 3, ""), &text, PLAIN).unwrap();
    let checks = bit_timing(&found);
    let period = checks
        .iter()
        .find(|c| c.part.as_deref() == Some("row.data-in clock-period"))
        .unwrap();
    assert_eq!((period.verdict, period.worst), (Verdict::Fails, Some(20.0)));
    // 40 pixels need 20 more clocks; 8 are sent.
    let many = vec![[31, 1, 2, 3]; 40];
    let text = dump(
        &[frame(&many, &[0xff]), frame(&many, &[0xff])].concat(),
        100,
        40,
    );
    let (found, frames) = decoded(&prop("sk9822-ec20", 40, ""), &text, PLAIN).unwrap();
    assert_eq!(frames.len(), 2);
    let checks = bit_timing(&found);
    let end = checks
        .iter()
        .find(|c| c.part.as_deref() == Some("row.data-in end-frame"))
        .unwrap();
    assert_eq!(
        (end.verdict, end.limit, end.worst),
        (Verdict::Fails, Some(20.0), Some(8.0))
    );
}

#[test]
fn data_that_changes_with_the_clock_is_refused() {
    let three = [[31, 1, 2, 3], [31, 4, 5, 6], [31, 7, 8, 9]];
    let (found, frames) = decoded(
        &prop("sk9822-ec20", 3, ""),
        &dump(&frame(&three, &[0xff; 4]), 100, 0),
        PLAIN,
    )
    .unwrap();
    assert!(frames.is_empty());
    assert_eq!(found.lines[0].faults[0].kind, FaultKind::Together);
}
