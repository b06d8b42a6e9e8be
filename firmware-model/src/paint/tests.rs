#![allow(clippy::unwrap_used)]
extern crate std;
use super::*;
use crate::fixed::Share;
use crate::lanes::{pixel_share, stretches, LANES};
use crate::preset::{Shape, Stop, Stops, Zone};
use std::vec::Vec;

const PIXELS: u16 = 100;

/// Red and coverage of every pixel of a zone of 100.
fn painted(paint: &Paint, elapsed: u32, seed: u32) -> Vec<(u16, u16)> {
    let mut frame = PaintFrame::at(paint, elapsed, seed);
    let zone = Zone::whole("z", PIXELS);
    let pixel = pixel_share(u32::from(PIXELS));
    let mut all = Vec::new();
    for base in (0..u32::from(PIXELS)).step_by(LANES) {
        for stretch in stretches(&zone, base, pixel) {
            let mut lights = [[0; LANES]; 4];
            let mut cover = [u16::MAX; LANES];
            frame.fill(&stretch, 3, &mut lights, &mut cover);
            let (mut pixels, mut covers) = ([[0; 4]; LANES], [u16::MAX; LANES]);
            let range = stretch.range();
            let (out, own) = (&mut pixels[range.clone()], &mut covers[range.clone()]);
            frame.each(&stretch, 3, out, own);
            for l in range {
                assert_eq!(covers[l], cover[l], "{paint:?} {base} {l}");
                for channel in 0..3 {
                    let (one, group) = (pixels[l][channel], lights[channel][l]);
                    assert!(one == group || cover[l] == 0, "{paint:?} {base} {l}");
                }
            }
            let inside = (0..LANES).filter(|l| stretch.inside(*l));
            all.extend(inside.map(|l| (lights[0][l], cover[l])));
        }
    }
    all
}

fn reds(paint: &Paint, elapsed: u32, seed: u32) -> Vec<u16> {
    painted(paint, elapsed, seed).iter().map(|p| p.0).collect()
}

fn red(value: u16) -> Color {
    Color::rgb(value, 0, 0)
}

fn stops(list: &[(u8, u16)]) -> Stops {
    list.iter()
        .map(|&(percent, value)| Stop {
            at: Share::from_percent(percent),
            color: red(value),
        })
        .collect()
}

#[test]
fn a_gradient_is_straight_between_stops_and_level_outside() {
    let gradient = Paint::Gradient {
        stops: stops(&[(20, 1000), (40, 21000), (60, 21000), (60, 5), (90, 65535)]),
        scroll_ms: 0,
        direction: Direction::TowardsEnd,
    };
    for (pixel, got) in reds(&gradient, 12345, 0).into_iter().enumerate() {
        let x = pixel as f64 + 0.5;
        let exact = match x {
            x if x < 20.0 => 1000.0,
            x if x < 40.0 => 1000.0 + (x - 20.0) * 1000.0,
            x if x < 60.0 => 21000.0,
            x if x < 90.0 => 5.0 + (x - 60.0) * 65530.0 / 30.0,
            _ => 65535.0,
        };
        assert!((f64::from(got) - exact).abs() < 6.0, "{x} {got} {exact}");
    }
}

#[test]
fn a_scrolling_gradient_moves_by_a_pixel_in_its_time() {
    let gradient = |direction| Paint::Gradient {
        stops: stops(&[(0, 0), (50, 60000), (100, 0)]),
        scroll_ms: 1000,
        direction,
    };
    let start = reds(&gradient(Direction::TowardsEnd), 0, 0);
    let near = |a: &u16, b: &u16| a.abs_diff(*b) < 40;
    let mut on = reds(&gradient(Direction::TowardsEnd), 70, 0);
    on.rotate_left(7);
    assert!(start.iter().zip(&on).all(|(a, b)| near(a, b)));
    let mut back = reds(&gradient(Direction::TowardsStart), 1070, 0);
    back.rotate_right(7);
    assert!(start.iter().zip(&back).all(|(a, b)| near(a, b)));
}

fn wave(shape: Shape) -> Paint {
    Paint::Wave {
        low: red(0),
        high: red(65535),
        wavelength: Length::from_pixels(20),
        period_ms: 400,
        direction: Direction::TowardsEnd,
        shape,
    }
}

#[test]
fn a_wave_repeats_after_its_length_and_period_and_travels() {
    for shape in [Shape::Sine, Shape::Triangle, Shape::Saw, Shape::Square] {
        let start = reds(&wave(shape), 0, 0);
        for pixel in 0..80 {
            assert!(
                start[pixel].abs_diff(start[pixel + 20]) < 40,
                "{shape:?} {pixel}"
            );
        }
        let later = reds(&wave(shape), 400, 0);
        assert_eq!(start, later);
        // A quarter period later it has gone on five pixels.
        let quarter = reds(&wave(shape), 100, 0);
        for pixel in 0..95 {
            assert!(
                quarter[pixel + 5].abs_diff(start[pixel]) < 40,
                "{shape:?} {pixel}"
            );
        }
    }
}

#[test]
fn a_sine_wave_follows_the_sine() {
    for (pixel, got) in reds(&wave(Shape::Sine), 0, 0).into_iter().enumerate() {
        let x = (pixel as f64 + 0.5) / 20.0;
        let exact = (1.0 - (2.0 * std::f64::consts::PI * x).cos()) / 2.0 * 65535.0;
        assert!(
            (f64::from(got) - exact).abs() < 30.0,
            "{pixel} {got} {exact}"
        );
    }
}

#[test]
fn breathing_starts_low_and_is_high_in_the_middle() {
    let paint = Paint::Breathing {
        low: red(1000),
        high: red(9000),
        period_ms: 2000,
    };
    assert_eq!(reds(&paint, 0, 0)[0], 1000);
    assert!(reds(&paint, 1000, 0)[50] >= 8998);
    assert!(reds(&paint, 500, 0)[50].abs_diff(5000) < 4);
}

fn noise(octaves: u8, period_ms: u32) -> Paint {
    Paint::Noise {
        stops: stops(&[(0, 0), (100, 65535)]),
        grain: Length::from_pixels(10),
        period_ms,
        octaves,
    }
}

#[test]
fn noise_is_smooth_in_place_and_time_and_differs_by_seed() {
    for octaves in 1..=3 {
        // Steepest possible: full swing over one grain with a smoothstep, slope 1.5, in the
        // finest octave four times as steep at a quarter of the strength.
        let steepest = 65535.0 * 1.5 / 10.0 * 1.8;
        for ms in (0..3000).step_by(50) {
            let here = reds(&noise(octaves, 500), ms, 3);
            for pair in here.windows(2) {
                assert!(f64::from(pair[0].abs_diff(pair[1])) < steepest);
            }
            let later = reds(&noise(octaves, 500), ms + 1, 3);
            for (a, b) in here.iter().zip(&later) {
                assert!(a.abs_diff(*b) < 300, "{a} {b}");
            }
        }
        assert_ne!(
            reds(&noise(octaves, 500), 0, 3),
            reds(&noise(octaves, 500), 0, 4)
        );
        assert_eq!(
            reds(&noise(octaves, 0), 0, 3),
            reds(&noise(octaves, 0), 9999, 3)
        );
    }
}

#[test]
fn noise_uses_the_range_evenly_about_the_middle() {
    let mut sum = 0u64;
    let (mut least, mut most) = (u16::MAX, 0);
    for seed in 0..200 {
        for value in reds(&noise(1, 500), seed * 777, seed) {
            sum += u64::from(value);
            least = least.min(value);
            most = most.max(value);
        }
    }
    let mean = sum as f64 / 20_000.0 / 65535.0;
    assert!((mean - 0.5).abs() < 0.02, "{mean}");
    assert!(least < 2000 && most > 63_000);
}

fn sparks(chance: Share) -> Paint {
    Paint::Sparks {
        color: red(50_000),
        chance_every_ms: 1000,
        chance,
        decay: Share::from_percent(25),
    }
}

#[test]
fn sparks_come_as_often_as_their_chance_says() {
    let paint = sparks(Share::from_percent(30));
    // A fresh spark is one that is brighter than it was a millisecond ago.
    let mut fresh = 0;
    let mut before = painted(&paint, 0, 9);
    for ms in 1..20_000 {
        let now = painted(&paint, ms, 9);
        fresh += now.iter().zip(&before).filter(|(a, b)| a.1 > b.1).count();
        before = now;
    }
    // 100 pixels, 20 spans: 2000 draws at 0.3 have mean 600 and standard deviation 20.5.
    assert!((500..700).contains(&fresh), "{fresh}");
}

#[test]
fn no_chance_is_clear_and_a_certain_one_sparks_every_time() {
    for ms in (0..5000).step_by(37) {
        assert!(painted(&sparks(Share::NONE), ms, 9)
            .iter()
            .all(|p| p.1 == 0));
    }
    let mut seen = [0; PIXELS as usize];
    let mut before = painted(&sparks(Share::FULL), 0, 9);
    for ms in 1..10_000 {
        let now = painted(&sparks(Share::FULL), ms, 9);
        for ((a, b), seen) in now.iter().zip(&before).zip(&mut seen) {
            *seen += usize::from(a.1 > b.1);
        }
        before = now;
    }
    // One in each of ten spans; two sparks a quarter span apart or closer may look like one.
    assert!(seen.iter().all(|n| (8..=10).contains(n)), "{seen:?}");
}

fn embers(drift: i16) -> Paint {
    Paint::Embers {
        stops: stops(&[(0, 0), (100, 65535)]),
        patch: Length::from_pixels(8),
        kick_every_ms: 800,
        cooling: Share::from_percent(90),
        base: Share::from_percent(10),
        drift,
    }
}

#[test]
fn embers_heat_up_fast_and_cool_slowly_without_jumps() {
    let (mut up, mut down) = (0u32, 0u32);
    let mut before = reds(&embers(0), 0, 5);
    for ms in 1..8000 {
        let now = reds(&embers(0), ms, 5);
        for (a, b) in now.iter().zip(&before) {
            assert!(*a >= 6550, "the base stays");
            // Heating takes an eighth of 720 ms: at most 65535/90 a millisecond.
            assert!(a.abs_diff(*b) < 800, "{a} {b}");
            up += u32::from(a > b);
            down += u32::from(a < b);
        }
        before = now;
    }
    assert!(down > 3 * up, "{up} {down}");
}

#[test]
fn embers_drift_at_their_speed() {
    // 160 sixteenths a second are ten pixels a second: one pixel in 100 ms. Compare places of
    // one moment: a drifted picture is the still one, moved.
    let still = reds(&embers(0), 1000, 5);
    let mut on = reds(&embers(160), 1000, 5);
    on.rotate_left(10);
    let mut back = reds(&embers(-160), 1000, 5);
    back.rotate_right(10);
    for pixel in 12..88 {
        assert!(still[pixel].abs_diff(on[pixel]) < 60, "{pixel}");
        assert!(still[pixel].abs_diff(back[pixel]) < 60, "{pixel}");
    }
}
