//! Frames solved a second, side by side and one by one.
//! `cargo run --release -p lampwright-host-tests --example solve_speed`
//!
//! 144 pixels (36 mA each at full drive) on rails of 6 mΩ a pitch and rail, fed at one end through
//! 0.1 Ω of cell and 0.06 Ω of leads, frames of random levels. *Ample* is 8 V, where nearly every
//! pixel gets its full current; *starved* is 3.7 V, where most of the strip lies on its ramps and
//! every frame takes several Newton steps. A rate is the fastest of many short runs: on a shared
//! machine that is the one least disturbed.
//!
//! With a folder as argument it also writes there what `host-tests/reference/speed.sh` hands to other solvers: the
//! frames (432 bytes each) and, for both supplies, the supply of every pixel in every frame (144 doubles).
#![allow(clippy::unwrap_used)]

use lampwright::electrical::{
    Channel, Drive, Feed, LaneSolver, Network, PixelType, Rail, Ramp, Solver, StripDrive, StripId,
    StripSpec, LANES,
};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

const STARVED_V: f64 = 3.7;
const AMPLE_V: f64 = 8.0;

fn strip() -> StripId {
    StripId::from_index(0)
}

fn network(pixels: usize, emf_v: f64) -> Network {
    let channel = |off_v, full_v| Channel {
        full_a: 0.012,
        ramp: Ramp { off_v, full_v },
    };
    let dark = Ramp {
        off_v: 0.0,
        full_v: 1.5,
    };
    let channels = [channel(1.9, 2.3), channel(2.7, 3.3), channel(2.7, 3.3)];
    let law = PixelType::new(&channels, 0.0006, dark).unwrap();
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, emf_v, 0.1);
    let feed = |rail, node| Feed {
        rail,
        pixel: 0,
        node,
        ohm: 0.03,
    };
    let feeds = vec![feed(Rail::Positive, plus), feed(Rail::Negative, minus)];
    b.strip(StripSpec {
        name: "strip".to_owned(),
        law,
        pixels,
        rail_pos_ohm: 0.006,
        rail_neg_ohm: 0.006,
        feeds,
    });
    b.build().unwrap()
}

/// Random frames (a fixed linear congruential sequence).
fn frames(pixels: usize, count: usize) -> Vec<Vec<u8>> {
    let mut x = 0x2545_f491_4f6c_dd1d_u64;
    let mut next = || {
        x = x
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (x >> 56) as u8
    };
    let frame = |_| (0..pixels * 3).map(|_| next()).collect();
    (0..count).map(frame).collect()
}

fn drive<'a>(strips: &'a [StripDrive<'a>]) -> Drive<'a> {
    Drive {
        strips,
        loads: &[],
        sources: &[],
    }
}

#[derive(Default)]
struct Run {
    /// Keeps the work from being skipped.
    sum_v: f64,
    steps: usize,
    alone: usize,
}

fn side_by_side(solver: &mut LaneSolver, frames: &[Vec<u8>]) -> Run {
    let last = frames[0].len() / 3 - 1;
    let mut run = Run::default();
    for batch in frames.chunks_exact(LANES) {
        let strips: [[StripDrive<'_>; 1]; LANES] =
            std::array::from_fn(|l| [StripDrive::Levels(&batch[l])]);
        let drives: [Drive<'_>; LANES] = std::array::from_fn(|l| drive(&strips[l]));
        solver.solve(&drives).unwrap();
        run.sum_v += solver.supply_v(strip(), last).iter().sum::<f64>();
        run.steps += solver.steps() * LANES;
        run.alone += solver.solved_alone();
    }
    run
}

/// The same with every voltage and current of every frame read out.
fn read_out(solver: &mut LaneSolver, frames: &[Vec<u8>]) -> f64 {
    let mut sum_v = 0.0;
    for batch in frames.chunks_exact(LANES) {
        let strips: [[StripDrive<'_>; 1]; LANES] =
            std::array::from_fn(|l| [StripDrive::Levels(&batch[l])]);
        let drives: [Drive<'_>; LANES] = std::array::from_fn(|l| drive(&strips[l]));
        solver.solve(&drives).unwrap();
        for l in 0..LANES {
            let solution = solver.solution(l).unwrap();
            sum_v += solution.strip(strip()).min_supply_v;
        }
    }
    sum_v
}

fn one_by_one(solver: &mut Solver, frames: &[Vec<u8>]) -> f64 {
    let lowest = |f: &Vec<u8>| {
        let strips = [StripDrive::Levels(f)];
        let solution = solver.solve(&drive(&strips)).unwrap();
        solution.strip(strip()).min_supply_v
    };
    frames.iter().map(lowest).sum()
}

fn rate(frames: usize, mut run: impl FnMut()) -> f64 {
    let mut best = f64::INFINITY;
    let start = Instant::now();
    while start.elapsed().as_secs_f64() < 1.0 {
        let start = Instant::now();
        run();
        best = best.min(start.elapsed().as_secs_f64());
    }
    frames as f64 / best
}

/// Writes the frames and the supplies that the scalar solver finds.
fn write_out(folder: &Path, frames: &[Vec<u8>]) -> std::io::Result<()> {
    std::fs::write(folder.join("frames.bin"), frames.concat())?;
    for (name, emf_v) in [("ample", AMPLE_V), ("starved", STARVED_V)] {
        let net = network(144, emf_v);
        let (mut scalar, mut lanes) = (Solver::new(&net).unwrap(), LaneSolver::new(&net).unwrap());
        let mut bytes = Vec::new();
        for batch in frames.chunks_exact(LANES) {
            let strips: [[StripDrive<'_>; 1]; LANES] =
                std::array::from_fn(|l| [StripDrive::Levels(&batch[l])]);
            let drives: [Drive<'_>; LANES] = std::array::from_fn(|l| drive(&strips[l]));
            lanes.solve(&drives).unwrap();
            for (l, drive) in drives.iter().enumerate() {
                let one = &scalar.solve(drive).unwrap().strip(strip()).supply_v;
                let side = &lanes.solution(l).unwrap().strip(strip()).supply_v;
                let off = one.iter().zip(side).map(|(a, b)| (a - b).abs());
                assert!(off.fold(0.0, f64::max) < 1e-6, "lanes disagree");
                bytes.extend(side.iter().flat_map(|v| v.to_le_bytes()));
            }
        }
        std::fs::write(folder.join(format!("{name}.bin")), bytes)?;
    }
    Ok(())
}

fn main() {
    let all = frames(144, 512);
    if let Some(folder) = std::env::args_os().nth(1) {
        write_out(Path::new(&folder), &all).unwrap();
    }
    println!("144 pixels fed at one end, random frames, one core");
    for (name, emf_v) in [("ample", AMPLE_V), ("starved", STARVED_V)] {
        let net = network(144, emf_v);
        let mut lanes = LaneSolver::new(&net).unwrap();
        let solved = rate(all.len(), || {
            black_box(side_by_side(&mut lanes, &all).sum_v);
        });
        let run = side_by_side(&mut lanes, &all);
        let read = rate(all.len(), || {
            black_box(read_out(&mut lanes, &all));
        });
        let mut scalar = Solver::new(&net).unwrap();
        let alone = rate(all.len(), || {
            black_box(one_by_one(&mut scalar, &all));
        });
        let steps = run.steps as f64 / all.len() as f64;
        println!("{name:8} side by side {solved:9.0} frames/s, with every figure read out {read:9.0}, one by one {alone:9.0}");
        println!(
            "         {steps:.2} Newton steps a frame, {} of {} frames left to the scalar solver",
            run.alone,
            all.len()
        );
    }
    println!("\npixels  us/frame  ns/pixel  frames left to the scalar solver (starved)");
    for pixels in [10, 30, 100, 300, 1000, 3000, 10_000] {
        let count = (200_000 / pixels).max(16) / LANES * LANES;
        let some = frames(pixels, count);
        let mut solver = LaneSolver::new(&network(pixels, STARVED_V)).unwrap();
        let r = rate(count, || {
            black_box(side_by_side(&mut solver, &some).sum_v);
        });
        let left = side_by_side(&mut solver, &some).alone;
        println!(
            "{pixels:6}  {:8.2}  {:8.2}  {left} of {count}",
            1e6 / r,
            1e9 / r / pixels as f64
        );
    }
    scaling(&all);
}

/// Rounds in which every core solves the same at the same time.
const ROUNDS: usize = 1500;

/// All cores at once against one: the shortest of many rounds, from the first start to the last end, since on a machine
/// that does other work the cores are seldom free together.
fn scaling(all: &[Vec<u8>]) {
    let net = network(144, STARVED_V);
    let mut solver = LaneSolver::new(&net).unwrap();
    let one = rate(all.len(), || {
        black_box(side_by_side(&mut solver, all).sum_v);
    });
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let together = std::sync::Barrier::new(cores);
    let run = || {
        let mut solver = LaneSolver::new(&net).unwrap();
        let round = |_| {
            together.wait();
            let start = Instant::now();
            black_box(side_by_side(&mut solver, all).sum_v);
            (start, Instant::now())
        };
        (0..ROUNDS).map(round).collect::<Vec<_>>()
    };
    let rounds: Vec<Vec<(Instant, Instant)>> = std::thread::scope(|s| {
        let threads: Vec<_> = (0..cores).map(|_| s.spawn(run)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let span = |k: usize| {
        let start = rounds.iter().map(|r| r[k].0).min();
        let end = rounds.iter().map(|r| r[k].1).max();
        end.unwrap().duration_since(start.unwrap()).as_secs_f64()
    };
    let best = (0..ROUNDS).map(span).fold(f64::INFINITY, f64::min);
    let many = (all.len() * cores) as f64 / best;
    println!(
        "\n{cores} cores: {many:.0} frames/s, {:.2} times one core",
        many / one
    );
}
