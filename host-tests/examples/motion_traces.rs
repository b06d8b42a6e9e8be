//! Writes the invented motion traces in `traces/motion`: `cargo run -p lampwright-host-tests --example motion_traces`.
//!
//! Each trace is what a six-axis sensor at the grip of a prop would give, 200 samples a second, put together from
//! physics and not from the detector: gravity seen from a turning prop, centripetal and tangential acceleration at
//! 0.45 m from the centre of rotation, a half sine of a few milliseconds for a strike with a ring after it, noise of
//! the size data sheets state. The cues that belong to it are the movements that were put in.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::f64::consts::PI;
use std::fmt::Write as _;
use std::path::Path;

const STEP_S: f64 = 0.005;
/// Distance of the sensor from the centre of a swing, m.
const ARM_M: f64 = 0.45;
const G: f64 = 9.80665;

/// A movement with its begin and duration in s.
#[derive(Clone, Copy)]
enum Move {
    /// A strike along an axis of the sensor: peak in g, ring after it in Hz.
    Knock { at: f64, peak_g: f64, axis: usize },
    /// A swing across the long axis: highest rate in °/s, over that time, bell shaped.
    Swing { at: f64, peak_dps: f64, lasts: f64 },
    /// A turn about the long axis by an angle in degrees.
    Twist { at: f64, degrees: f64, lasts: f64 },
    /// Steps of a walk: bumps of the body, softened by arm and hand.
    Walk { from: f64, to: f64, bump_g: f64 },
}

/// Uniform noise from a seed: the traces must be the same each time.
struct Noise(u32);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0 >> 8) / f64::from(1 << 24) * 2.0 - 1.0
    }
    /// About normal, with that deviation.
    fn about(&mut self, deviation: f64) -> f64 {
        (0..6).map(|_| self.next()).sum::<f64>() / 2f64.sqrt() * deviation
    }
}

/// A bell from 0 at the begin over 1 in the middle to 0 at the end, smooth.
fn bell(t: f64, at: f64, lasts: f64) -> f64 {
    let x = (t - at) / lasts;
    if (0.0..=1.0).contains(&x) {
        (1.0 - (2.0 * PI * x).cos()) / 2.0
    } else {
        0.0
    }
}

/// A trace of samples and the cues in it.
fn trace(seconds: f64, seed: u32, moves: &[Move]) -> (String, String) {
    let mut noise = Noise(seed);
    let mut samples = String::from(
        "# Invented for the tests: computed, not recorded. What the columns mean: README.md\n\
         time_ms,accel_x_mg,accel_y_mg,accel_z_mg,rate_x_dps,rate_y_dps,rate_z_dps\n",
    );
    let mut roll: f64 = 0.0;
    let mut pitch: f64 = 0.35;
    let mut last_rate = 0.0;
    for n in 0..(seconds / STEP_S) as u32 {
        let t = f64::from(n) * STEP_S;
        let mut rate = [0.0; 3];
        let mut accel = [0.0; 3];
        // A strike shakes the sensor without moving the prop.
        let mut shaken = 0.0;
        for m in moves {
            match *m {
                Move::Knock { at, peak_g, axis } => {
                    let (pulse, ring) = (0.012, 45.0);
                    let x = t - at;
                    if (0.0..pulse).contains(&x) {
                        accel[axis] += peak_g * (PI * x / pulse).sin();
                        shaken += 120.0 * (PI * x / pulse).sin();
                    } else if x >= pulse && x < 0.25 {
                        let decay = (-(x - pulse) / 0.02).exp();
                        accel[axis] += 0.5 * peak_g * decay * (2.0 * PI * ring * (x - pulse)).sin();
                    }
                }
                Move::Swing {
                    at,
                    peak_dps,
                    lasts,
                } => {
                    rate[1] += peak_dps * bell(t, at, lasts);
                    rate[0] += 0.06 * peak_dps * bell(t, at + 0.1 * lasts, lasts * 0.8);
                }
                Move::Twist { at, degrees, lasts } => {
                    // The mean of a bell is half its height.
                    rate[0] += 2.0 * degrees / lasts * bell(t, at, lasts);
                }
                Move::Walk { from, to, bump_g } => {
                    // It begins and ends within a second.
                    let way = (t - from).min(to - t).clamp(0.0, 1.0);
                    let step = ((t - from).max(0.0) * 1.9).fract();
                    accel[2] += way * bump_g * (2.0 * PI * step).sin();
                    accel[0] += way * 0.6 * bump_g * bell(step, 0.05, 0.25);
                    rate[1] += way * 35.0 * (PI * (t - from) * 1.9).sin();
                    rate[0] += way * 18.0 * (PI * (t - from) * 1.9 + 0.7).sin();
                }
            }
        }
        rate[1] += shaken;
        roll += rate[0].to_radians() * STEP_S;
        pitch += (rate[1] - shaken).to_radians() * STEP_S;
        let omega = (rate[1] - shaken).to_radians();
        let turning = (omega - last_rate) / STEP_S;
        last_rate = omega;
        // Along the prop away from the centre; across it in the plane of the swing.
        accel[0] += pitch.sin() - omega * omega * ARM_M / G;
        accel[1] += pitch.cos() * roll.sin();
        accel[2] += pitch.cos() * roll.cos() - turning * ARM_M / G;
        write!(samples, "{}", n * 5).unwrap();
        for value in accel {
            let mg = (value * 1000.0 + noise.about(8.0)).round();
            // A sensor set to ±16 g.
            write!(samples, ",{}", mg.clamp(-16_000.0, 16_000.0)).unwrap();
        }
        for value in rate {
            let dps = value + noise.about(0.6);
            write!(
                samples,
                ",{:.2}",
                (dps.clamp(-2000.0, 2000.0) * 16.0).round() / 16.0
            )
            .unwrap();
        }
        samples.push('\n');
    }
    (samples, cues(moves))
}

/// The cues that a player of these movements would expect, with the earliest and latest time and value.
fn cues(moves: &[Move]) -> String {
    let mut list: Vec<(f64, String)> = Vec::new();
    for m in moves {
        let mut add = |from: f64, to: f64, cue: &str, least: f64, most: f64| {
            let row = format!(
                "{:.0},{:.0},{cue},{least:.0},{most:.0}",
                from * 1e3,
                to * 1e3
            );
            list.push((from, row));
        };
        match *m {
            // A pulse of 12 ms is sampled two or three times: the steps between are 50 % to 100 % of its peak.
            Move::Knock { at, peak_g, .. } => {
                let share = (peak_g / 8.0 * 100.0).min(100.0);
                add(at, at + 0.06, "knock", 0.45 * share, share);
            }
            Move::Swing {
                at,
                peak_dps,
                lasts,
            } => {
                let share = (peak_dps / 900.0 * 100.0).min(100.0);
                add(
                    at,
                    at + lasts,
                    "swing",
                    share - 5.0,
                    (share + 5.0).min(100.0),
                );
            }
            Move::Twist { at, degrees, lasts } => {
                let (a, b) = (degrees - 5.0, degrees + 5.0);
                add(at + lasts * 0.5, at + lasts + 0.1, "twist", a, b);
            }
            Move::Walk { .. } => {}
        }
    }
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut text = String::from(
        "# What the movements put into the trace should give. Values: per cent of full, degrees for a twist.\n\
         from_ms,to_ms,cue,least,most\n",
    );
    for (_, row) in list {
        text.push_str(&row);
        text.push('\n');
    }
    text
}

fn main() {
    let knock = |at, peak_g, axis| Move::Knock { at, peak_g, axis };
    let swing = |at, peak_dps, lasts| Move::Swing {
        at,
        peak_dps,
        lasts,
    };
    let twist = |at, degrees, lasts| Move::Twist { at, degrees, lasts };
    let walk = |from, to, bump_g| Move::Walk { from, to, bump_g };
    let traces: [(&str, f64, Vec<Move>); 5] = [
        (
            "staff-on-stone",
            5.0,
            vec![
                knock(0.6, 3.5, 0),
                knock(1.4, 5.0, 0),
                knock(2.2, 7.5, 0),
                knock(3.1, 12.0, 2),
                knock(4.0, 4.0, 1),
            ],
        ),
        (
            "greeting-swings",
            5.0,
            vec![
                swing(0.5, 260.0, 0.7),
                swing(1.6, 450.0, 0.5),
                swing(2.5, 700.0, 0.5),
                swing(3.5, 1100.0, 0.6),
            ],
        ),
        (
            "torch-turns",
            6.0,
            vec![
                twist(0.5, 45.0, 0.5),
                twist(1.6, -60.0, 0.5),
                twist(2.7, 90.0, 0.6),
                twist(3.9, -170.0, 0.9),
                twist(5.3, 15.0, 0.3),
            ],
        ),
        ("quiet-walk", 8.0, vec![walk(0.5, 7.5, 0.45)]),
        (
            "procession",
            8.0,
            vec![
                walk(0.0, 8.0, 0.3),
                knock(1.0, 6.0, 0),
                swing(2.0, 600.0, 0.6),
                twist(3.4, 80.0, 0.6),
                knock(5.0, 9.0, 0),
                swing(5.9, 380.0, 0.7),
            ],
        ),
    ];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/motion");
    std::fs::create_dir_all(&folder).unwrap();
    for (seed, (name, seconds, moves)) in (1u32..).zip(traces) {
        let (samples, cues) = trace(seconds, seed * 7919, &moves);
        std::fs::write(folder.join(format!("{name}.csv")), samples).unwrap();
        std::fs::write(folder.join(format!("{name}.cues.csv")), cues).unwrap();
    }
}
