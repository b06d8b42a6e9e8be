#![allow(clippy::unwrap_used, clippy::panic)]
extern crate std;
use super::*;
use std::vec::Vec;

/// Cues of samples 5 ms apart from `start` on.
fn play_from(start: u32, samples: impl IntoIterator<Item = Motion>) -> Vec<Cue> {
    let mut detector = MotionDetector::new(MotionLimits::default());
    let mut cues = Vec::new();
    let mut now = Millis(start);
    for motion in samples {
        cues.extend(detector.sample(now, motion));
        now = now.plus(5);
    }
    cues
}

fn turning(x: i16, y: i16, samples: usize) -> impl Iterator<Item = Motion> {
    let motion = Motion {
        accel_mg: [0, 0, 1000],
        rate_16th_dps: [x * 16, y * 16, 0],
    };
    core::iter::repeat_n(motion, samples)
}

fn rest(samples: usize) -> impl Iterator<Item = Motion> {
    turning(0, 0, samples)
}

fn jolted(mg: i16) -> Motion {
    Motion {
        accel_mg: [mg, 0, 1000],
        rate_16th_dps: [0; 3],
    }
}

#[test]
fn lengths_and_shares_stay_in_range() {
    assert_eq!(length([3000, -4000, 0].into_iter()), 5000);
    assert_eq!(length([i32::MIN, i32::MAX, 70000].into_iter()), 56754);
    assert_eq!(share_of(450, 900), Share(32767));
    assert_eq!(share_of(9000, 900), Share::FULL);
    assert_eq!(share_of(1, 0), Share::FULL);
    assert_eq!(share_of(0, 0), Share::FULL);
}

#[test]
fn angles_are_true_and_bounded() {
    assert_eq!(angle_of(90 * 16_000), Angle::from_degrees(90));
    assert_eq!(angle_of(-HALF_TURN), Angle(-32768));
    assert_eq!(angle_of(i32::MAX), Angle(32767));
    assert_eq!(angle_of(i32::MIN), Angle(-32768));
}

#[test]
fn a_jolt_is_a_knock_of_its_size_once() {
    let samples: Vec<Motion> = rest(50).chain([jolted(4000)]).chain(rest(80)).collect();
    let share = Share((4000u32 * 65535 / 8000) as u16);
    assert_eq!(play_from(0, samples), [Cue::Knock { strength: share }]);
    // Below the threshold there is none, at it there is one.
    for (mg, found) in [(1499, 0), (1500, 1)] {
        assert_eq!(
            play_from(0, rest(50).chain([jolted(mg)]).chain(rest(80))).len(),
            found
        );
    }
}

#[test]
fn a_prop_that_rings_gives_one_knock() {
    let ringing = (0..28).map(|n| jolted(if n % 2 == 0 { 3000 } else { -3000 }));
    assert_eq!(
        play_from(0, rest(50).chain(ringing).chain(rest(80))).len(),
        1
    );
}

#[test]
fn a_swing_is_told_once_with_its_highest_rate() {
    let hump = [200, 300, 450, 450, 450, 430, 300, 250, 200, 200, 150, 50, 0];
    let samples = hump.into_iter().flat_map(|rate| turning(0, rate, 4));
    let speed = Share((450u32 * 65535 / 900) as u16);
    assert_eq!(play_from(0, samples), [Cue::Swing { speed }]);
    // Too short a rate is none: that is how a knock shakes the sensor.
    assert_eq!(
        play_from(0, rest(9).chain(turning(0, 500, 6)).chain(rest(50))),
        []
    );
    // One that goes on and on is told once.
    assert_eq!(play_from(0, turning(0, 300, 600)).len(), 1);
}

#[test]
fn a_twist_is_the_angle_turned() {
    // 100 °/s for 0.9 s and back for 0.6 s, each with a rest after it.
    let samples = rest(4)
        .chain(turning(100, 0, 180))
        .chain(rest(40))
        .chain(turning(-100, 0, 120))
        .chain(rest(40));
    let angles: Vec<i16> = play_from(0, samples)
        .into_iter()
        .map(|cue| match cue {
            Cue::Twist { angle } => angle.0,
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(
        angles,
        [Angle::from_degrees(90).0, Angle::from_degrees(-60).0]
    );
    // Too little, too slow, and a swing with some roll in it.
    assert_eq!(play_from(0, turning(100, 0, 40).chain(rest(40))), []);
    assert_eq!(play_from(0, turning(50, 0, 600).chain(rest(40))), []);
    assert_eq!(play_from(0, turning(100, 110, 200).chain(rest(40))), []);
}

#[test]
fn a_gap_is_no_knock_and_time_may_wrap() {
    let mut detector = MotionDetector::new(MotionLimits::default());
    assert!(detector.sample(Millis(0), jolted(0)).is_empty());
    assert!(detector.sample(Millis(21), jolted(8000)).is_empty());
    for t in 1..50 {
        assert!(detector.sample(Millis(21 + t * 5), jolted(8000)).is_empty());
    }
    let movement = || {
        rest(20)
            .chain([jolted(5000)])
            .chain(rest(40))
            .chain(turning(200, 0, 100))
            .chain(rest(40))
    };
    assert_eq!(play_from(0, movement()).len(), 2);
    for start in [u32::MAX - 110, u32::MAX - 400, u32::MAX - 800] {
        assert_eq!(play_from(start, movement()), play_from(0, movement()));
    }
}

#[test]
fn the_worst_samples_do_no_harm() {
    let ends = [i16::MIN, 0, i16::MAX];
    let samples = (0..2000usize).map(|n| Motion {
        accel_mg: [ends[n % 3], ends[n / 3 % 3], ends[n / 9 % 3]],
        rate_16th_dps: [ends[n / 2 % 3], ends[n / 7 % 3], ends[n / 5 % 3]],
    });
    assert!(!play_from(0, samples).is_empty());
}
