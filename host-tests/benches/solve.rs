//! Frames solved a second. `cargo bench -p lampwright-host-tests --bench solve`
//!
//! Every figure stands beside a plain solver of the same circuit, written the obvious way (Newton
//! on the whole ladder, Thomas algorithm, cold start) and run in the same process: the ratio is the
//! result, the absolute figures belong to the machine.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use divan::counter::ItemsCount;
use divan::{black_box, Bencher};
use lampwright::electrical::{
    Channel, Drive, Feed, LoadLaw, Network, PixelType, Rail, Ramp, Solver, StripDrive, StripSpec,
};

fn main() {
    divan::main();
}

const FRAMES: usize = 256;
/// Supply at which nearly every pixel draws its full current, and one that starves most of them.
const AMPLE_V: f64 = 8.0;
const STARVED_V: f64 = 3.7;
const RAIL_OHM: f64 = 0.006;
const CELL_OHM: f64 = 0.1;

fn law() -> PixelType {
    let channel = |off_v, full_v| Channel {
        full_a: 0.012,
        ramp: Ramp { off_v, full_v },
    };
    let channels = [channel(1.9, 2.3), channel(2.7, 3.3), channel(2.7, 3.3)];
    PixelType::new(
        &channels,
        0.0006,
        Ramp {
            off_v: 0.0,
            full_v: 1.5,
        },
    )
    .unwrap()
}

fn solver(pixels: usize, emf_v: f64, feeds: &[usize], amplifier: bool) -> Solver {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    let (pos, neg) = (b.node("pos"), b.node("neg"));
    b.source("cell", plus, minus, emf_v, CELL_OHM);
    b.resistor("out", plus, pos, 0.02);
    b.resistor("back", neg, minus, 0.02);
    if amplifier {
        b.load(
            "amplifier",
            plus,
            minus,
            LoadLaw::ConstantPower { min_v: 1.0 },
            0.5,
        );
    }
    let feed = |rail, node| {
        move |pixel: &usize| Feed {
            rail,
            pixel: *pixel,
            node,
            ohm: 0.01,
        }
    };
    let feeds = (feeds.iter().map(feed(Rail::Positive, pos)))
        .chain(feeds.iter().map(feed(Rail::Negative, neg)))
        .collect();
    b.strip(StripSpec {
        name: "strip".to_owned(),
        law: law(),
        pixels,
        rail_pos_ohm: RAIL_OHM,
        rail_neg_ohm: RAIL_OHM,
        feeds,
    });
    Solver::new(&b.build().unwrap()).unwrap()
}

/// Random frames (a fixed linear congruential sequence).
fn frames(pixels: usize) -> Vec<Vec<u8>> {
    let mut x = 0x2545_f491_4f6c_dd1d_u64;
    let mut next = || {
        x = x
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (x >> 56) as u8
    };
    (0..FRAMES)
        .map(|_| (0..pixels * 3).map(|_| next()).collect())
        .collect()
}

fn run(bencher: Bencher<'_, '_>, pixels: usize, emf_v: f64, feeds: &[usize], amplifier: bool) {
    let frames = frames(pixels);
    let mut solver = solver(pixels, emf_v, feeds, amplifier);
    bencher.counter(ItemsCount::new(FRAMES)).bench_local(|| {
        let mut lowest = f64::INFINITY;
        for frame in black_box(&frames) {
            let strips = [StripDrive::Levels(frame)];
            let drive = Drive {
                strips: &strips,
                loads: &[],
                sources: &[],
            };
            if let Ok(s) = solver.solve(&drive) {
                lowest = lowest.min(s.node_v(lampwright::electrical::NodeId::from_index(0)));
            }
        }
        lowest
    });
}

#[divan::bench(args = [10, 144, 1000, 10_000])]
fn one_end_ample(bencher: Bencher<'_, '_>, pixels: usize) {
    run(
        bencher,
        pixels,
        AMPLE_V * (pixels as f64 / 144.0).max(1.0).powi(2),
        &[0],
        false,
    );
}

#[divan::bench(args = [10, 144, 1000, 10_000])]
fn one_end_starved(bencher: Bencher<'_, '_>, pixels: usize) {
    run(bencher, pixels, STARVED_V, &[0], false);
}

#[divan::bench]
fn both_ends_starved(bencher: Bencher<'_, '_>) {
    run(bencher, 144, STARVED_V, &[0, 143], false);
}

#[divan::bench]
fn one_end_starved_with_amplifier(bencher: Bencher<'_, '_>) {
    run(bencher, 144, STARVED_V, &[0], true);
}

#[divan::bench(args = [AMPLE_V, STARVED_V])]
fn plain_newton_144(bencher: Bencher<'_, '_>, emf_v: f64) {
    let frames = frames(144);
    bencher.counter(ItemsCount::new(FRAMES)).bench_local(|| {
        black_box(&frames)
            .iter()
            .map(|f| plain::lowest_supply(f, emf_v))
            .fold(f64::INFINITY, f64::min)
    });
}

/// The obvious solver: one end, allocated afresh, no knowledge of saturation.
mod plain {
    use super::{CELL_OHM, RAIL_OHM};

    const RAMPS: [(f64, f64); 3] = [(1.9, 2.3), (2.7, 3.3), (2.7, 3.3)];

    pub(super) fn lowest_supply(levels: &[u8], emf_v: f64) -> f64 {
        let n = levels.len() / 3;
        let (lead, rail) = (CELL_OHM + 0.06, 2.0 * RAIL_OHM);
        let mut v = vec![emf_v; n];
        for _ in 0..100 {
            let (mut low, mut mid, mut up, mut rhs) =
                (vec![0.0; n], vec![0.0; n], vec![0.0; n], vec![0.0; n]);
            for i in 0..n {
                let (mut a, mut g) = (0.0006 * (v[i] / 1.5).clamp(0.0, 1.0), 0.0);
                if v[i] > 0.0 && v[i] < 1.5 {
                    g += 0.0006 / 1.5;
                }
                for c in 0..3 {
                    let (off, full) = RAMPS[c];
                    let set = 0.012 * f64::from(levels[3 * i + c]) / 255.0;
                    a += set * ((v[i] - off) / (full - off)).clamp(0.0, 1.0);
                    if v[i] > off && v[i] < full {
                        g += set / (full - off);
                    }
                }
                mid[i] = g;
                rhs[i] = g * v[i] - a;
                let before = 1.0 / if i == 0 { lead } else { rail };
                mid[i] += before;
                if i == 0 {
                    rhs[i] += before * emf_v
                } else {
                    low[i] = -before
                }
                if i + 1 < n {
                    mid[i] += 1.0 / rail;
                    up[i] = -1.0 / rail;
                }
            }
            for i in 1..n {
                let m = low[i] / mid[i - 1];
                mid[i] -= m * up[i - 1];
                rhs[i] -= m * rhs[i - 1];
            }
            let mut step = 0.0_f64;
            let mut next = 0.0;
            for i in (0..n).rev() {
                next = (rhs[i] - if i + 1 < n { up[i] * next } else { 0.0 }) / mid[i];
                step = step.max((next - v[i]).abs());
                v[i] = next;
            }
            if step < 1e-9 {
                break;
            }
        }
        v.iter().copied().fold(f64::INFINITY, f64::min)
    }
}
