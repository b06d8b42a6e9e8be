//! One-wire lines: what is decoded, and what is refused and reported.
//!
//! The pulses are made here, by hand, from the numbers of the data sheets: WS2812B (Worldsemi, 5 pages, pp. 2-3), T0H 400,
//! T0L 850, T1H 800, T1L 450 ns, each ± 150 ns, reset 50 µs, green first; SK6812RGBW Rev 01 (pp. 3-5), T0H 300, T0L 900,
//! T1H 600, T1L 600 ns, each ± 150 ns, reset 80 µs, order GRBW.

use super::wires::{decoded, dump, prop, ws2812b};
use lampwright::profile::capture::{DecodeOptions, FaultKind, Times};
use lampwright::study::bit_timing::bit_timing;
use lampwright::study::verdict::{CheckResult, Verdict};

const QUIET: u64 = 60_000;
const PLAIN: DecodeOptions = DecodeOptions { ignore_s: 0.0 };

/// Two pixels, green first, as sent, and as levels.
const SENT: [u8; 6] = [0x01, 0x80, 0xff, 0x40, 0x00, 0xaa];
const LEVELS: [u8; 6] = [0x80, 0x01, 0xff, 0x00, 0x40, 0xaa];

/// Frames that end with a reset.
fn frames(frames: &[&[(u64, u64)]]) -> Vec<(u64, u64)> {
    let mut out = Vec::new();
    for frame in frames {
        out.extend_from_slice(frame);
        out.last_mut().unwrap().1 = QUIET;
    }
    out
}

fn good() -> Vec<(u64, u64)> {
    ws2812b(&SENT)
}

fn check<'c>(checks: &'c [CheckResult], name: &str) -> &'c CheckResult {
    let part = format!("row.data-in {name}");
    let found = checks.iter().find(|c| c.part.as_deref() == Some(&part));
    found.unwrap_or_else(|| panic!("no result for {part}"))
}

/// Decodes a good frame, a bad one and a good one: the bad one must be refused for that reason, and only that one.
fn refused(bad: Vec<(u64, u64)>, kind: FaultKind, bit: u64) -> Vec<CheckResult> {
    let prop = prop("ws2812b", 2, "");
    let text = dump(QUIET, &frames(&[&good(), &bad, &good()]));
    let (found, frames) = decoded(&prop, &text, PLAIN).unwrap();
    let levels: Vec<&[u8]> = frames.iter().map(|(_, l)| l.as_slice()).collect();
    assert_eq!(levels, [&LEVELS[..], &LEVELS[..]], "{kind:?}");
    let line = &found.lines[0];
    assert_eq!((line.bursts, line.frames, line.refused()), (3, 2, 1));
    let fault = line.faults[0];
    assert_eq!((fault.kind, fault.bit), (kind, bit));
    assert_eq!(found.rounds.left_out, 1);
    let checks = bit_timing(&found);
    let bursts = check(&checks, "bursts");
    assert_eq!((bursts.verdict, bursts.worst), (Verdict::Fails, Some(1.0)));
    checks
}

#[test]
fn pulses_of_the_data_sheet_are_frames() {
    let prop = prop("ws2812b", 2, "");
    let text = dump(QUIET, &frames(&[&good(), &good()]));
    let (found, frames) = decoded(&prop, &text, PLAIN).unwrap();
    assert_eq!(frames[0], (QUIET, LEVELS.to_vec()));
    // 48 bits of 1.25 µs, the last low replaced by the reset.
    let last_low = if SENT[5] & 1 == 1 { 450 } else { 850 };
    let step = 48 * 1_250 - last_low + QUIET;
    assert_eq!(frames[1], (QUIET + step, LEVELS.to_vec()));
    assert_eq!(found.period_s, Some(step as f64 / 1e9));
    let Times::OneWire(_, times) = found.lines[0].times else {
        panic!()
    };
    let ones: u32 = SENT.iter().map(|b| b.count_ones()).sum();
    assert_eq!(times.high[1].count, 2 * u64::from(ones));
    assert_eq!(times.high[0].count, 2 * u64::from(48 - ones));
    assert_eq!(times.high[0].mean(), Some(400.0));
    assert_eq!(times.low[1].deviation(), Some(0.0));
    assert_eq!(times.reset.count, 2);
    for c in bit_timing(&found) {
        assert_eq!(c.verdict, Verdict::Holds, "{c:?}");
    }
}

#[test]
fn margins_are_those_of_the_data_sheet() {
    let prop = prop("ws2812b", 2, "");
    let mut pulses = frames(&[&good()]);
    // A 0 of 520 ns: 30 ns below its limit of 550.
    pulses[0].0 = 520;
    pulses[1].1 = 710;
    let (found, _) = decoded(&prop, &dump(QUIET, &pulses), PLAIN).unwrap();
    let checks = bit_timing(&found);
    let high = check(&checks, "zero-high");
    assert_eq!(
        (high.limit, high.worst, high.margin),
        (Some(550.0), Some(520.0), Some(30.0))
    );
    assert_eq!(high.verdict, Verdict::Tight);
    assert!(high.source.as_deref().unwrap().contains("WS2812B"));
    assert_eq!(high.time_s, Some(QUIET as f64 / 1e9));
    let low = check(&checks, "zero-low");
    assert_eq!(
        (low.limit, low.worst, low.margin),
        (Some(700.0), Some(710.0), Some(10.0))
    );
    assert_eq!(check(&checks, "reset").limit, Some(50_000.0));
}

#[test]
fn a_high_between_the_limits_is_refused_and_fails_the_check() {
    for (high, part, limit, margin) in [
        (551, "zero-high", 550.0, -1.0),
        (600, "zero-high", 550.0, -50.0),
        (649, "one-high", 650.0, -1.0),
        (951, "one-high", 950.0, -1.0),
        (249, "zero-high", 250.0, -1.0),
    ] {
        let mut bad = good();
        bad[20].0 = high;
        let checks = refused(bad, FaultKind::HighTime, 20);
        let result = check(&checks, part);
        assert_eq!(
            (result.verdict, result.limit, result.margin),
            (Verdict::Fails, Some(limit), Some(margin))
        );
    }
}

#[test]
fn limits_themselves_are_within() {
    for (zero, one) in [((250, 700), (650, 300)), ((550, 1000), (950, 600))] {
        let prop = prop("ws2812b", 2, "");
        let pulses: Vec<(u64, u64)> = good()
            .iter()
            .map(|p| if p.0 == 800 { one } else { zero })
            .collect();
        let (found, frames) = decoded(&prop, &dump(QUIET, &frames(&[&pulses])), PLAIN).unwrap();
        assert_eq!(frames[0].1, LEVELS);
        assert!(bit_timing(&found).iter().all(|c| c.margin >= Some(0.0)));
    }
}

#[test]
fn glitches_are_refused_and_counted_or_passed_over() {
    // A spike within a low, a dip within a high.
    let mut spike = good();
    spike[7] = (800, 200);
    spike.insert(8, (30, 220));
    let checks = refused(spike.clone(), FaultKind::LowTime, 7);
    assert_eq!(check(&checks, "one-low").verdict, Verdict::Fails);
    let mut dip = good();
    dip[7] = (400, 20);
    dip.insert(8, (380, 450));
    refused(dip.clone(), FaultKind::Glitch, 7);

    let prop = prop("ws2812b", 2, "");
    let all = frames(&[&spike, &dip]);
    let options = DecodeOptions { ignore_s: 50e-9 };
    let (found, frames) = decoded(&prop, &dump(QUIET, &all), options).unwrap();
    assert_eq!(frames.len(), 2);
    assert!(frames.iter().all(|(_, l)| *l == LEVELS));
    assert_eq!(found.lines[0].ignored, 2);
}

#[test]
fn a_low_that_is_neither_a_bit_nor_a_reset_is_refused() {
    let mut bad = good();
    bad[30].1 = 9_000;
    let checks = refused(bad, FaultKind::Gap, 30);
    let lows = [
        check(&checks, "one-low").worst,
        check(&checks, "zero-low").worst,
    ];
    assert!(lows.contains(&Some(9_000.0)), "{lows:?}");
    // At the end of a whole frame it is a reset that is too short: two frames become one burst.
    let prop = prop("ws2812b", 2, "");
    let mut pulses = frames(&[&good(), &good(), &good()]);
    pulses[47].1 = 40_000;
    let (found, frames) = decoded(&prop, &dump(QUIET, &pulses), PLAIN).unwrap();
    assert_eq!(frames.len(), 1);
    assert_eq!(found.lines[0].faults[0].kind, FaultKind::Gap);
    let checks = bit_timing(&found);
    let reset = check(&checks, "reset");
    assert_eq!(
        (reset.verdict, reset.worst, reset.margin),
        (Verdict::Fails, Some(40_000.0), Some(-10_000.0))
    );
}

#[test]
fn a_low_of_the_other_bit_is_decoded_and_fails_the_check() {
    // The high tells the value; the low of a 0 is that of a 1.
    let prop = prop("ws2812b", 2, "");
    let mut pulses = good();
    pulses[0] = (400, 450);
    let (found, frames) = decoded(&prop, &dump(QUIET, &frames(&[&pulses])), PLAIN).unwrap();
    assert_eq!(frames[0].1, LEVELS);
    assert_eq!(found.lines[0].odd_frames, 1);
    let checks = bit_timing(&found);
    let low = check(&checks, "zero-low");
    assert_eq!((low.verdict, low.margin), (Verdict::Fails, Some(-250.0)));
}

#[test]
fn frames_of_another_length_are_refused() {
    let mut short = good();
    short.truncate(24);
    refused(short, FaultKind::Short, 24);
    let mut cut = good();
    cut.truncate(43);
    refused(cut, FaultKind::Short, 43);
    let mut long = good();
    long.extend(ws2812b(&[1, 2, 3]));
    refused(long, FaultKind::Long, 72);
}

#[test]
fn an_unknown_level_is_refused() {
    let prop = prop("ws2812b", 2, "");
    let text = dump(QUIET, &frames(&[&good(), &good(), &good()]));
    // The first rise after the second frame's start becomes unknown.
    let start = QUIET + 48 * 1_250 - 850 + QUIET;
    let text = text.replace(&format!("#{start}\n1!"), &format!("#{start}\nx!"));
    assert!(text.contains("x!"));
    let (found, frames) = decoded(&prop, &text, PLAIN).unwrap();
    assert_eq!(frames.len(), 2);
    assert_eq!(found.lines[0].refused(), 1);
}

#[test]
fn a_frame_cut_by_the_capture_is_told_from_a_fault() {
    let prop = prop("ws2812b", 2, "");
    // It begins 10 bits into a frame and ends 5 bits before the end of another.
    let mut pulses = frames(&[&good()[10..], &good(), &good()]);
    pulses.truncate(pulses.len() - 5);
    let (found, frames) = decoded(&prop, &dump(300, &pulses), PLAIN).unwrap();
    assert_eq!(frames.len(), 1);
    let line = &found.lines[0];
    assert_eq!(
        (
            line.refused[&FaultKind::CutAtStart],
            line.refused[&FaultKind::CutAtEnd]
        ),
        (1, 1)
    );
    assert_eq!(line.refused(), 0);
    let checks = bit_timing(&found);
    assert_eq!(check(&checks, "bursts").verdict, Verdict::Holds);
    // A whole first frame is one even though nobody saw what came before it, and so is a whole last one.
    let mut pulses = super::one_wire::frames(&[&good()]);
    pulses[47].1 = 300;
    let (_, frames) = decoded(&prop, &dump(300, &pulses), PLAIN).unwrap();
    assert_eq!(frames.len(), 1);
}

#[test]
fn four_channels_come_in_their_own_order() {
    let prop = prop("sk6812rgbw", 1, "");
    let sent: [u8; 4] = [10, 200, 30, 255];
    let bits = sent
        .iter()
        .flat_map(|b| (0..8).rev().map(move |k| b >> k & 1));
    let mut pulses: Vec<(u64, u64)> = bits
        .map(|b| if b == 1 { (600, 600) } else { (300, 900) })
        .collect();
    pulses.last_mut().unwrap().1 = 90_000;
    let (found, frames) = decoded(&prop, &dump(90_000, &pulses), PLAIN).unwrap();
    // Sent green, red, blue, white.
    assert_eq!(frames[0].1, [200, 10, 30, 255]);
    assert!(bit_timing(&found)
        .iter()
        .all(|c| c.verdict == Verdict::Holds));
    // 450 ns is the limit of a 0 and of a 1 alike: only the low can tell.
    pulses[0] = (450, 600);
    pulses[1] = (450, 1000);
    let (_, frames) = decoded(&prop, &dump(90_000, &pulses), PLAIN).unwrap();
    assert_eq!(frames[0].1[1], 10 & 0x3f | 0x80);
    pulses[0] = (450, 750);
    let (found, frames) = decoded(&prop, &dump(90_000, &pulses), PLAIN).unwrap();
    assert!(frames.is_empty());
    assert_eq!(found.lines[0].faults[0].kind, FaultKind::Ambiguous);
}

#[test]
fn a_coarse_capture_says_so() {
    let prop = prop("ws2812b", 2, "");
    // At 4 MHz every time is a multiple of 250 ns; limits lie 300 ns apart.
    let mut odd = false;
    let mut coarse = Vec::new();
    for pulse in good() {
        odd = !odd;
        coarse.push(match (pulse.0, odd) {
            (800, _) => (750, 500),
            (_, true) => (500, 750),
            (_, false) => (250, 1000),
        });
    }
    let (found, frames) = decoded(&prop, &dump(60_000, &frames(&[&coarse])), PLAIN).unwrap();
    assert_eq!((frames.len(), found.lines[0].grid), (1, 250));
    let checks = bit_timing(&found);
    let high = check(&checks, "zero-high");
    assert_eq!(high.verdict, Verdict::NotChecked);
    assert!(high.why.contains("every 250 ns"), "{}", high.why);
    // Steps of 1 µs hold no bit at all.
    let text = dump(60_000, &super::one_wire::frames(&[&good()])).replace("1 ns", "1 us");
    let errors = decoded(&prop, &text, PLAIN).unwrap_err();
    assert!(errors.to_string().contains("too coarse"), "{errors}");
}

#[test]
fn limits_are_needed() {
    let more = "\n[pixels.plain]\nfrom = \"ws2812b\"\ntiming = { zero-high = \"400 ns\", zero-low = \"850 ns\", one-high = \"800 ns\", one-low = \"450 ns\", reset = \"50 µs\" }\n";
    let prop = prop("plain", 2, more);
    let errors = decoded(&prop, &dump(QUIET, &frames(&[&good()])), PLAIN).unwrap_err();
    assert!(
        errors.to_string().contains("no limits for zero-high"),
        "{errors}"
    );
    assert!(errors.0[0].help.as_deref().unwrap().contains("low = "));
}
