//! Which end comes first, and when.

use super::{moment, one_pixel, read};
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::ending::{EndKind, Ended, Ending};

const PROTECTION: &str = r#"
[parts.guard]
kind = "protection"
resistance = "0 mΩ"
trip = "1 A"
delay = "DELAY"

[parts.strip2]
kind = "strip"
pixel = "sink"
pixels = 1

[[wires]]
name = "p2"
from = "strip.plus"
to = "strip2.plus"
resistance = "0 Ω"

[[wires]]
name = "g1"
from = "strip.minus"
to = "guard.a"
resistance = "0 Ω"

[[wires]]
name = "g2"
from = "guard.b"
to = "strip2.minus"
resistance = "0 Ω"
"#;

/// Plays the same levels for some frames of a hundredth of a second.
fn play(extra: &str, soc: f64, frames: u64, levels: impl Fn(u64) -> u8) -> Option<Ended> {
    let prop = read(&one_pixel(extra)).unwrap();
    let condition = Condition {
        soc,
        ..Condition::nominal()
    };
    let mut bench = Bench::new(&prop, condition).unwrap();
    let mut ending = Ending::new(bench.subject());
    let bytes = prop.pixels() as usize * 3;
    for frame in 0..frames {
        let figures = bench.step(&vec![levels(frame); bytes], moment(frame, 0.01), 0.01, 0.0);
        ending.observe(figures);
    }
    ending.found().cloned()
}

#[test]
fn a_trip_waits_for_its_delay_and_forgets_what_came_before() {
    let slow = PROTECTION.replace("DELAY", "50 ms");
    // The second strip draws 1.2 A through the guard, 1 A trips it.
    let ended = play(&slow, 0.9, 20, |_| 255).unwrap();
    assert_eq!(
        (ended.what, ended.part.as_str()),
        (EndKind::ProtectionTrip, "guard")
    );
    assert_eq!(ended.frame, 4, "the fifth frame of 10 ms: {ended}");
    assert!(play(&slow, 0.9, 20, |f| if f % 4 == 3 { 0 } else { 255 }).is_none());
    let quick = play(&PROTECTION.replace("DELAY", "1 ms"), 0.9, 20, |f| {
        if f < 7 {
            0
        } else {
            255
        }
    });
    assert_eq!(quick.unwrap().frame, 7);
    assert!(play(&slow, 0.9, 20, |_| 100).is_none());
}

// 1.2 A through 0.15 Ω inside the cell: 0.18 V below its open voltage of 3 + 1.2·SoC. At rest below 2.5 V it never is.
#[test]
fn a_cell_at_its_cut_off_ends_the_trace() {
    let text = "";
    assert!(play(text, 0.05, 5, |_| 255).is_none());
    let prop = read(&one_pixel("").replace("cut-off = \"2.5 V\"", "cut-off = \"2.9 V\"")).unwrap();
    let condition = Condition {
        soc: 0.05,
        ..Condition::nominal()
    };
    let mut bench = Bench::new(&prop, condition).unwrap();
    let mut ending = Ending::new(bench.subject());
    for (frame, level) in [0, 0, 255].into_iter().enumerate() {
        ending.observe(bench.step(&[level; 3], moment(frame as u64, 0.01), 0.01, 0.0));
    }
    let ended = ending.found().unwrap();
    assert_eq!((ended.what, ended.frame), (EndKind::CutOff, 2));
    assert!(
        (ended.figure.unwrap() - (3.06 - 0.18)).abs() < 1e-3,
        "{ended}"
    );
}
