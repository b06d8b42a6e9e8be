//! Frames solved side by side equal frames solved one by one.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::random::{circuit, drives, Circuit};
use circuits::{feed_pair, rgb_pixel};
use lampwright::electrical::{
    check_balance, Channel, Drive, LaneSolver, LoadLaw, Network, PixelLaw as _, PixelType, Ramp,
    SolveError, Solver, SourceDrive, StripDrive, StripSpec, LANES,
};
use proptest::prelude::*;

/// Frames that differ from lane to lane: every level of the circuit turned by a step of its own.
fn frames(c: &Circuit, count: usize) -> Vec<Vec<Vec<u8>>> {
    let turned = |levels: &[u8], k: usize| {
        let turn = |l: &u8| {
            l.wrapping_mul(k as u8 + 1)
                .wrapping_add((k as u8).wrapping_mul(29))
        };
        levels.iter().map(turn).collect()
    };
    (0..count)
        .map(|k| c.levels().iter().map(|l| turned(l, k)).collect())
        .collect()
}

/// Any network, any mixture of frames, cells that sag from frame to frame: every voltage and current to
/// 1 nV and 1 nA, the same findings, and Kirchhoff's law at every node.
#[test]
fn side_by_side_equals_one_by_one() {
    let counts = std::cell::RefCell::new([0usize; 3]);
    let config = ProptestConfig {
        cases: 400,
        ..ProptestConfig::default()
    };
    proptest!(config, |(c in circuit(), count in 1..=2 * LANES)| {
        let network = c.build().unwrap();
        let (mut lanes, mut scalar) = (LaneSolver::new(&network).unwrap(), Solver::new(&network).unwrap());
        let frames = frames(&c, count);
        let strips: Vec<Vec<StripDrive<'_>>> = frames.iter().map(|f| drives(f)).collect();
        let sources: Vec<[SourceDrive; 1]> = (0..count)
            .map(|k| [SourceDrive { emf_v: c.emf_v - 0.01 * k as f64, ohm: c.cell_ohm * (1.0 + 0.02 * k as f64) }])
            .collect();
        let all: Vec<Drive<'_>> = strips.iter().zip(&sources)
            .map(|(strips, sources)| Drive { strips, loads: &[], sources })
            .collect();
        for batch in all.chunks(LANES) {
            lanes.solve(batch).unwrap();
            let alone = lanes.solved_alone();
            counts.borrow_mut()[1] += alone;
            counts.borrow_mut()[0] += batch.len() - alone;
            for (l, drive) in batch.iter().enumerate() {
                match (lanes.solution(l), scalar.solve(drive)) {
                    (Ok(a), Ok(b)) => {
                        for s in network.strip_ids() {
                            let (x, y) = (a.strip(s), b.strip(s));
                            for i in 0..x.supply_v.len() {
                                prop_assert!((x.supply_v[i] - y.supply_v[i]).abs() < 1e-9, "{l} {i}");
                                prop_assert!((x.current_a[i] - y.current_a[i]).abs() < 1e-9, "{l} {i}");
                            }
                        }
                        for n in network.node_ids() {
                            prop_assert!((a.node_v(n) - b.node_v(n)).abs() < 1e-9);
                        }
                        for w in network.branch_ids() {
                            prop_assert!((a.branch_a(w) - b.branch_a(w)).abs() < 1e-9);
                        }
                        for k in network.load_ids() {
                            prop_assert_eq!(a.load_state(k), b.load_state(k));
                        }
                        // At the nominal cell resistance the whole balance can be drawn up.
                        if batch.as_ptr() == all.as_ptr() && l == 0 {
                            let report = check_balance(&network, drive, a);
                            prop_assert!(report.kcl_a < 1e-9, "{report:?}");
                        }
                    }
                    (Err(SolveError::Collapse(a)), Err(SolveError::Collapse(b))) => {
                        prop_assert_eq!(a.load, b.load);
                        prop_assert!((a.largest_share - b.largest_share).abs() < 1e-5);
                        counts.borrow_mut()[2] += 1;
                    }
                    (a, b) => prop_assert!(false, "{:?} {:?}", a.err(), b.err()),
                }
            }
        }
    });
    let [solved, alone, collapsed] = counts.into_inner();
    assert!(
        solved > 500 && alone > 10 && collapsed > 2,
        "{solved} in lanes, {alone} alone, {collapsed} collapsed"
    );
}

/// Strips on loads and cells as they were built.
fn as_built<'d>(strips: &'d [StripDrive<'d>]) -> Drive<'d> {
    Drive {
        strips,
        loads: &[],
        sources: &[],
    }
}

/// One strip fed at `feeds`, long enough that it starves, and an amplifier.
fn staff(feeds: &[usize], watt: f64) -> Network {
    staff_of(&rgb_pixel(), 144, feeds, watt)
}

fn staff_of(pixel: &PixelType, pixels: usize, feeds: &[usize], watt: f64) -> Network {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.7, 0.1);
    let law = LoadLaw::ConstantPower { min_v: 1.0 };
    b.load("amplifier", plus, minus, law, watt);
    b.strip(StripSpec {
        name: "strip".to_owned(),
        law: pixel.clone(),
        pixels,
        rail_pos_ohm: 0.006,
        rail_neg_ohm: 0.006,
        feeds: feeds
            .iter()
            .flat_map(|p| feed_pair(*p, plus, minus, 0.02, 0.01))
            .collect(),
    });
    b.build().unwrap()
}

/// The fast way is really taken where it counts: starved strips with an amplifier, however fed, and
/// every way to state a frame gives the same.
#[test]
fn ordinary_frames_stay_in_their_lanes() {
    let shown: Vec<Vec<u8>> = (0..LANES)
        .map(|k| (0..432).map(|i| ((i * 37 + k * 91) % 256) as u8).collect())
        .collect();
    let currents: Vec<Vec<f64>> = shown
        .iter()
        .map(|f| f.iter().map(|l| 0.012 * f64::from(*l) / 255.0).collect())
        .collect();
    for feeds in [vec![0], vec![143], vec![0, 143], vec![30, 31, 100]] {
        let network = staff(&feeds, 0.5);
        let mut lanes = LaneSolver::new(&network).unwrap();
        let mut lowest = [[0.0; LANES]; 3];
        let strip = network.strip_ids().next().unwrap();
        for (way, lowest) in lowest.iter_mut().enumerate() {
            let strips: Vec<[StripDrive<'_>; 1]> = (0..LANES)
                .map(|l| match way {
                    0 => [StripDrive::Levels(&shown[l])],
                    1 => [StripDrive::Currents(&currents[l])],
                    _ => [StripDrive::ScaledLevels {
                        levels: &shown[l],
                        scale: 1.0,
                    }],
                })
                .collect();
            let all: Vec<Drive<'_>> = strips.iter().map(|s| as_built(s)).collect();
            lanes.solve(&all).unwrap();
            assert_eq!(lanes.solved_alone(), 0, "{feeds:?}");
            for (l, slot) in lowest.iter_mut().enumerate() {
                *slot = lanes.solution(l).unwrap().strip(strip).min_supply_v;
            }
        }
        let [levels, currents, scaled] = lowest;
        for (v, (a, b)) in levels.iter().zip(currents.iter().zip(scaled)) {
            assert!(*v < 3.3, "to be starved: {v} V");
            assert!(
                (v - a).abs() < 1e-12 && (v - b).abs() < 1e-12,
                "{v} {a} {b}"
            );
        }
    }
}

/// From pixel to pixel a supply is found from that of the free end or from that of the next one, whichever rounding
/// allows: along a long starved tail it grows by many powers of ten.
#[test]
fn tails_of_any_length_equal_those_solved_one_by_one() {
    let ramp = |off_v, full_v| Ramp { off_v, full_v };
    let white = Channel {
        full_a: 0.036,
        ramp: ramp(1.9, 2.6),
    };
    // Without dark current all of a long tail stays on the slope of its channel.
    let no_dark_current = PixelType::new(&[white], 0.0, ramp(0.0, 1.5)).unwrap();
    for law in [rgb_pixel(), no_dark_current] {
        for pixels in [1, 2, 9, 144, 300, 700, 1200] {
            for at in [0, pixels / 3, pixels - 1] {
                equals_scalar(&staff_of(&law, pixels, &[at], 0.0), pixels * law.channels());
            }
        }
    }
}

/// Eight bright frames, and those once more: the first frames of a starved strip may take too many steps for a lane.
fn equals_scalar(network: &Network, levels: usize) {
    let (mut lanes, mut scalar) = (
        LaneSolver::new(network).unwrap(),
        Solver::new(network).unwrap(),
    );
    let shown: Vec<Vec<u8>> = (0..LANES)
        .map(|l| vec![255 - 20 * l as u8; levels])
        .collect();
    let strips: Vec<[StripDrive<'_>; 1]> = shown.iter().map(|f| [StripDrive::Levels(f)]).collect();
    let drives: Vec<Drive<'_>> = strips.iter().map(|s| as_built(s)).collect();
    lanes.solve(&drives).unwrap();
    lanes.solve(&drives).unwrap();
    assert_eq!(lanes.solved_alone(), 0, "{levels} levels");
    let id = network.strip_ids().next().unwrap();
    for (l, drive) in drives.iter().enumerate() {
        let alone = &scalar.solve(drive).unwrap().strip(id).supply_v;
        let found = &lanes.solution(l).unwrap().strip(id).supply_v;
        for (i, (a, b)) in found.iter().zip(alone).enumerate() {
            let off = (a - b).abs();
            assert!(off < 1e-10, "{levels} levels: {off} V off at {i}");
        }
    }
}

/// Past the collapse point of one lane the others are what they are without it.
#[test]
fn a_collapse_in_one_lane_leaves_the_others_alone() {
    let network = staff(&[0], 0.5);
    let levels = vec![120u8; 432];
    let strips = [StripDrive::Levels(&levels)];
    let amounts: [[f64; 1]; LANES] =
        std::array::from_fn(|l| [if l == 3 { 100.0 } else { 0.1 * l as f64 }]);
    let all: Vec<Drive<'_>> = amounts
        .iter()
        .map(|loads| Drive {
            strips: &strips,
            loads,
            sources: &[],
        })
        .collect();
    let (mut lanes, mut scalar) = (
        LaneSolver::new(&network).unwrap(),
        Solver::new(&network).unwrap(),
    );
    for _ in 0..3 {
        lanes.solve(&all).unwrap();
        assert_eq!(lanes.solved_alone(), 1);
        let strip = network.strip_ids().next().unwrap();
        for (l, drive) in all.iter().enumerate() {
            if l == 3 {
                assert!(matches!(lanes.solution(l), Err(SolveError::Collapse(_))));
                assert!(lanes.supply_v(strip, 0)[l].is_nan());
                continue;
            }
            let expected = scalar.solve(drive).unwrap().strip(strip).min_supply_v;
            let found = lanes.solution(l).unwrap().strip(strip).min_supply_v;
            assert!((found - expected).abs() < 1e-12, "{l}: {found} {expected}");
        }
    }
}

/// A lane that starts beside the lower operating point must not stay there: 5 W behind 3.7 V and 0.1 Ω
/// balance at (E ± √(E² − 4PR))/2, and the frame before leaves the load near the lower of the two.
#[test]
fn a_lane_ends_at_the_higher_operating_point() {
    let mut b = Network::<PixelType>::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.7, 0.1);
    let law = LoadLaw::ConstantPower { min_v: 0.05 };
    let load = b.load("amplifier", plus, minus, law, 5.0);
    let mut lanes = LaneSolver::new(&b.build().unwrap()).unwrap();
    let weak = [SourceDrive {
        emf_v: 0.15,
        ohm: 0.1,
    }];
    let frame = |loads, sources| Drive {
        strips: &[],
        loads,
        sources,
    };
    lanes.solve(&[frame(&[0.001], &weak)]).unwrap();
    assert!((lanes.solution(0).unwrap().load_v(load) - 0.149).abs() < 0.001);
    lanes.solve(&[frame(&[5.0], &[])]).unwrap();
    let expected = 0.5 * (3.7 + (3.7f64 * 3.7 - 2.0).sqrt());
    let found = lanes.solution(0).unwrap().load_v(load);
    assert!((found - expected).abs() < 1e-9, "{found}");
}

#[test]
fn what_does_not_fit_is_refused() {
    let network = staff(&[0], 0.5);
    let mut lanes = LaneSolver::new(&network).unwrap();
    let (good, short) = (vec![9u8; 432], vec![9u8; 431]);
    let (good, short) = ([StripDrive::Levels(&good)], [StripDrive::Levels(&short)]);
    assert!(lanes.solve(&[as_built(&good), as_built(&short)]).is_err());
    assert!(lanes.solution(0).is_err());
    assert!(lanes.solve(&[as_built(&good); LANES + 1]).is_err());
    lanes.solve(&[]).unwrap();
    assert!(lanes.solution(0).is_err());
    lanes.solve(&[as_built(&good); 3]).unwrap();
    assert!(lanes.solution(2).is_ok() && lanes.solution(3).is_err());
    let bad = Drive {
        loads: &[f64::NAN],
        ..as_built(&good)
    };
    assert!(lanes.solve(&[bad]).is_err());
}
