//! A solved frame allocates nothing, nor does a frame that is played on a bench.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use circuits::{feed_pair, rgb_pixel};
use lampwright::build::diag::Source;
use lampwright::build::file::read_build;
use lampwright::electrical::{
    Drive, LaneSolver, LoadLaw, Network, Solver, SourceDrive, StripDrive, StripSpec, LANES,
};
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::Moment;
use lampwright::profile::Shown;

thread_local! {
    static COUNT: Cell<usize> = const { Cell::new(0) };
}

struct Counting;

// SAFETY: passes every request to the system allocator unchanged.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        COUNT.with(|c| c.set(c.get() + 1));
        // SAFETY: the caller keeps the contract of `alloc`.
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        // SAFETY: the caller keeps the contract of `dealloc`.
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn frames_allocate_nothing() {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("one", plus, minus, 3.6, 0.05);
    b.source("two", plus, minus, 3.6, 0.06);
    b.load(
        "amplifier",
        plus,
        minus,
        LoadLaw::ConstantPower { min_v: 2.5 },
        0.5,
    );
    for (k, feeds) in [vec![0], vec![0, 143], vec![20, 71, 100]]
        .into_iter()
        .enumerate()
    {
        b.strip(StripSpec {
            name: format!("s{k}"),
            law: rgb_pixel(),
            pixels: 144,
            rail_pos_ohm: 0.008,
            rail_neg_ohm: 0.01,
            feeds: feeds
                .into_iter()
                .flat_map(|p| feed_pair(p, plus, minus, 0.01, 0.0))
                .collect(),
        });
    }
    let network = b.build().unwrap();
    let mut solver = Solver::new(&network).unwrap();
    let mut lanes = LaneSolver::new(&network).unwrap();
    let levels: Vec<Vec<u8>> = (0..50u8)
        .map(|k| (0..432usize).map(|i| (i as u8).wrapping_mul(k)).collect())
        .collect();
    let before = COUNT.with(Cell::get);
    let mut lowest = f64::INFINITY;
    for (k, frame) in levels.iter().enumerate() {
        let strips = [StripDrive::Levels(frame); 3];
        let ohm = 0.05 + 0.001 * k as f64;
        let sources = [
            SourceDrive { emf_v: 3.6, ohm },
            SourceDrive { emf_v: 3.5, ohm },
        ];
        let drive = Drive {
            strips: &strips,
            loads: &[0.01 * k as f64],
            sources: &sources,
        };
        let solution = solver.solve(&drive).unwrap();
        lowest = lowest.min(
            solution
                .strip(lampwright::electrical::StripId::from_index(0))
                .min_supply_v,
        );
    }
    for batch in levels.chunks_exact(LANES) {
        let strips: [[StripDrive<'_>; 3]; LANES] =
            std::array::from_fn(|l| [StripDrive::Levels(&batch[l]); 3]);
        let drives: [Drive<'_>; LANES] = std::array::from_fn(|l| Drive {
            strips: &strips[l],
            loads: &[],
            sources: &[],
        });
        lanes.solve(&drives).unwrap();
        assert_eq!(lanes.solved_alone(), 0);
        for l in 0..LANES {
            lanes.solution(l).unwrap();
        }
    }
    assert_eq!(COUNT.with(Cell::get) - before, 0);
    assert!(lowest < 3.0, "the frames are to be hard ones: {lowest} V");
    // The counter counts.
    let grown = Vec::from([lowest; 3]);
    assert!(COUNT.with(Cell::get) > before && grown.len() == 3);
}

/// A prop whose strip starves, with an amplifier that changes with the sound.
const STAFF: &str = r#"
[prop]
name = "staff"
[parts.cell]
kind = "cell"
from = "21700-nmc811-5ah"
[parts.board]
kind = "board"
from = "board-sound-ldo"
[parts.strip]
kind = "strip"
pixel = "ws2812b"
pixels = 144
rail-plus = "8 mΩ"
rail-minus = "8 mΩ"
[[wires]]
from = "cell.plus"
to = "strip.plus"
gauge = "24 AWG"
length = "300 mm"
[[wires]]
from = "strip.minus"
to = "cell.minus"
gauge = "24 AWG"
length = "300 mm"
[[wires]]
from = "cell.plus"
to = "board.supply"
gauge = "24 AWG"
length = "100 mm"
[[wires]]
from = "board.ground"
to = "cell.minus"
gauge = "24 AWG"
length = "100 mm"
[[wires]]
from = "board.data1"
to = "strip.data-in"
gauge = "28 AWG"
length = "100 mm"
"#;

#[test]
fn frames_on_a_bench_allocate_nothing() {
    let prop = read_build(&Source::new("staff.toml", STAFF)).unwrap();
    let mut bench = Bench::new(&prop, Condition::nominal()).unwrap();
    let levels: Vec<Vec<u8>> = (0..83u8)
        .map(|k| {
            (0..432usize)
                .map(|i| (i as u8).wrapping_mul(k | 1))
                .collect()
        })
        .collect();
    let frames = |from: usize| {
        levels[from..].iter().enumerate().map(|(k, levels)| Shown {
            levels,
            moment: Moment {
                frame: k as u64,
                time_s: k as f64 / 60.0,
                state: None,
                layers: Default::default(),
                cue: None,
                new_cues: 0,
            },
            period_s: 1.0 / 60.0,
            sound: 0.1 * (k % 5) as f64,
        })
    };
    let before = COUNT.with(Cell::get);
    let (mut lowest, mut seen) = (f64::INFINITY, 0);
    for from in [0, 0, 3] {
        bench.play(frames(from), |_, figures| {
            assert!(figures.collapsed.is_none() && figures.data[0].is_some());
            lowest = lowest.min(figures.strips[0].supply_min_v);
            seen += 1;
        });
    }
    assert_eq!(COUNT.with(Cell::get) - before, 0);
    assert_eq!(seen, 83 + 83 + 80);
    assert!(lowest < 2.8, "the frames are to be hard ones: {lowest} V");
}
