//! A solved frame allocates nothing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use circuits::{feed_pair, rgb_pixel};
use lampwright::electrical::{
    Drive, LaneSolver, LoadLaw, Network, Solver, SourceDrive, StripDrive, StripSpec, LANES,
};

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
