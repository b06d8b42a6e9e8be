//! Laws that hold for every network, tried on random ones.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::random::{circuit, drives, ohm, Circuit};
use circuits::{cases, rgb_pixel};
use lampwright::electrical::{
    check_balance, Drive, Feed, LoadLaw, Network, PixelType, Rail, SolveError, Solver, SourceDrive,
    StripSpec,
};
use proptest::prelude::*;

/// Supplies of all pixels and loads.
fn supplies(network: &Network, levels: &[Vec<u8>], loads: &[f64]) -> Result<Vec<f64>, SolveError> {
    let mut solver = Solver::new(network).unwrap();
    let strips = drives(levels);
    let solution = solver.solve(&Drive {
        strips: &strips,
        loads,
        sources: &[],
    })?;
    let mut all: Vec<f64> = network
        .strip_ids()
        .flat_map(|s| solution.strip(s).supply_v.clone())
        .collect();
    all.extend(network.load_ids().map(|l| solution.load_v(l)));
    Ok(all)
}

/// How often each outcome came up: a test that only ever saw one of them would prove little.
fn tally(counts: &std::cell::RefCell<[usize; 2]>, kind: usize) {
    counts.borrow_mut()[kind] += 1;
}

/// Kirchhoff's current law to 1 nA at every node and pad, Ohm's law, the laws of pixels and loads,
/// and the power balance to 1e-9, on any network.
#[test]
fn every_solution_obeys_the_laws() {
    let counts = std::cell::RefCell::new([0; 2]);
    proptest!(cases(600), |(c in circuit(), warm in any::<u8>())| {
        let network = c.build().unwrap();
        let mut solver = Solver::new(&network).unwrap();
        // A frame before it, so that the start is warm.
        let before: Vec<Vec<u8>> = c.strips.iter().map(|s| vec![warm; s.levels.len()]).collect();
        let _ = solver.solve(&Drive { strips: &drives(&before), loads: &[], sources: &[] });
        let levels = c.levels();
        let strips = drives(&levels);
        let drive = Drive { strips: &strips, loads: &[], sources: &[] };
        match solver.solve(&drive) {
            Ok(solution) => {
                let report = check_balance(&network, &drive, solution);
                prop_assert!(report.kcl_a < 1e-9, "{report:?}");
                prop_assert!(report.ohm_v < 1e-9, "{report:?}");
                prop_assert!(report.law_a < 1e-9, "{report:?}");
                prop_assert!(report.power_share() < 1e-9, "{report:?} {}", report.power_share());
                tally(&counts, 0);
            }
            Err(SolveError::Collapse(collapse)) => {
                prop_assert!((0.0..1.0).contains(&collapse.largest_share));
                prop_assert!(collapse.load >= c.sinks.len());
                tally(&counts, 1);
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
    });
    let [solved, collapsed] = counts.into_inner();
    assert!(
        solved > 300 && collapsed > 3,
        "{solved} solved, {collapsed} collapsed"
    );
}

/// The result does not depend on the frame before.
#[test]
fn a_warm_start_gives_what_a_cold_one_gives() {
    proptest!(cases(256), |(c in circuit(), warm in any::<u8>())| {
        let network = c.build().unwrap();
        let levels = c.levels();
        let strips = drives(&levels);
        let drive = Drive { strips: &strips, loads: &[], sources: &[] };
        let mut cold = Solver::new(&network).unwrap();
        let mut used = Solver::new(&network).unwrap();
        let before: Vec<Vec<u8>> = c.strips.iter().map(|s| vec![warm; s.levels.len()]).collect();
        let _ = used.solve(&Drive { strips: &drives(&before), loads: &[], sources: &[] });
        match (cold.solve(&drive), used.solve(&drive)) {
            (Ok(a), Ok(b)) => for s in network.strip_ids() {
                for (x, y) in a.strip(s).supply_v.iter().zip(&b.strip(s).supply_v) {
                    prop_assert!((x - y).abs() < 1e-9, "{x} {y}");
                }
            },
            (Err(SolveError::Collapse(a)), Err(SolveError::Collapse(b))) => {
                prop_assert!((a.largest_share - b.largest_share).abs() < 1e-5, "{a:?} {b:?}");
            }
            (a, b) => prop_assert!(false, "{:?} {:?}", a.err(), b.err()),
        }
    });
}

/// With sinks of constant current the network is linear: the drops of two sets of currents add.
#[test]
fn superposition_where_the_network_is_linear() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(200), |(
        mut c in circuit(),
        shares in proptest::collection::vec(0.0..1.0, 12),
    )| {
        c.powers.clear();
        c.sinks.resize(3, (1, 2, 0.0));
        // High enough for every pixel to draw its full current.
        c.emf_v = 60.0;
        let network = c.build().unwrap();
        let none: Vec<Vec<u8>> = c.strips.iter().map(|s| vec![0; s.levels.len()]).collect();
        let a: Vec<f64> = shares[..3].iter().map(|s| s * 0.1).collect();
        let b: Vec<f64> = shares[3..6].iter().map(|s| s * 0.1).collect();
        let sum: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a + b).collect();
        let run = |levels: &[Vec<u8>], loads: &[f64]| supplies(&network, levels, loads).unwrap();
        let idle = run(&none, &[0.0; 3]);
        let (with_a, with_b, both) = (run(&none, &a), run(&c.levels(), &b), run(&c.levels(), &sum));
        if both.iter().any(|v| *v < 3.3) {
            return Ok(());
        }
        compared.set(compared.get() + 1);
        let moved = |x: &[f64]| idle.iter().zip(x).any(|(i, x)| i - x > 1e-6);
        prop_assert!(moved(&with_a) && moved(&with_b), "the loads do nothing");
        for k in 0..idle.len() {
            let drops = (idle[k] - with_a[k]) + (idle[k] - with_b[k]);
            prop_assert!((idle[k] - both[k] - drops).abs() < 1e-9, "{k}");
        }
    });
    let compared = compared.get();
    assert!(compared > 100, "only {compared} networks were linear");
}

/// A radial network: both sides are the same tree, with a pair of wires for each branch, and all that
/// draws current sits across a pair. Out and return current of a pair are then equal.
fn radial() -> impl Strategy<Value = Circuit> {
    (circuit(), proptest::collection::vec(ohm(), 8)).prop_map(|(mut c, back)| {
        c.neg = c
            .pos
            .iter()
            .zip(back)
            .map(|(out, ohm)| (out.0, ohm))
            .collect();
        c.meshes.clear();
        c.resistors.clear();
        c.powers.clear();
        for sink in &mut c.sinks {
            sink.1 = sink.0;
        }
        for strip in &mut c.strips {
            let (at, node) = (strip.feeds[0].1, strip.feeds[0].2);
            strip.feeds = vec![(true, at, node, 0.01), (false, at, node, 0.01)];
        }
        c
    })
}

/// More drive never raises the supply of any pixel or load.
///
/// This is a law only where currents share their way out and back, as in a radial network, or where
/// everything draws its full current (then every port has a non-negative transfer resistance to
/// every other). See `crossed_feeds_can_raise_a_supply` for a case in which it fails.
#[test]
fn more_drive_never_raises_a_supply() {
    proptest!(cases(300), |(
        c in radial(), strip in any::<prop::sample::Index>(), pixel in any::<prop::sample::Index>(), more in 1u8..,
    )| {
        if c.strips.is_empty() {
            return Ok(());
        }
        let network = c.build().unwrap();
        let before = supplies(&network, &c.levels(), &[]).unwrap();
        let mut levels = c.levels();
        let strip = strip.index(levels.len());
        let at = pixel.index(levels[strip].len());
        levels[strip][at] = levels[strip][at].saturating_add(more);
        let after = supplies(&network, &levels, &[]).unwrap();
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b <= a + 1e-10, "{a} -> {b}");
        }
    });
}

/// More copper (a smaller resistance anywhere) never lowers a supply of a radial network in which
/// everything draws its full current. (Below that, what gains supply draws more, and takes it from
/// what hangs on the same wires.)
#[test]
fn more_copper_never_lowers_a_supply_of_a_radial_network() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(300), |(
        mut c in radial(), which in any::<prop::sample::Index>(), share in 0.0..1.0,
    )| {
        c.emf_v = 200.0;
        let before = supplies(&c.build().unwrap(), &c.levels(), &[]).unwrap();
        // Dark loads and starved pixels would not draw their full current.
        if before.iter().any(|v| *v < 3.3) {
            return Ok(());
        }
        compared.set(compared.get() + 1);
        let mut better = c.clone();
        let wires = c.pos.len() + c.neg.len();
        let k = which.index(wires + c.strips.len());
        if k < c.pos.len() {
            better.pos[k].1 *= share;
        } else if k < wires {
            better.neg[k - c.pos.len()].1 *= share;
        } else {
            better.strips[k - wires].rails_ohm.0 *= share;
        }
        let after = supplies(&better.build().unwrap(), &c.levels(), &[]).unwrap();
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b >= a - 1e-10, "{a} -> {b}");
        }
    });
    let compared = compared.get();
    assert!(
        compared > 100,
        "only {compared} networks drew their full current"
    );
}

/// In a meshed network one supply may fall when a wire is added (it now shares with another), but
/// for constant currents the power that arrives at the loads, Σ I·V, never falls (Rayleigh's
/// monotonicity law).
#[test]
fn more_copper_never_lowers_the_power_that_arrives() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(300), |(
        mut c in circuit(), side in any::<bool>(), a in 0usize..8, b in 0usize..8, ohm in ohm(),
    )| {
        c.powers.clear();
        c.resistors.clear();
        c.emf_v = 60.0;
        let mut better = c.clone();
        better.meshes.push((side, a, b, ohm));
        let mut power = [0.0; 2];
        for (c, power) in [&c, &better].into_iter().zip(&mut power) {
            let network = c.build().unwrap();
            let mut solver = Solver::new(&network).unwrap();
            let levels = c.levels();
            let strips = drives(&levels);
            let s = solver.solve(&Drive { strips: &strips, loads: &[], sources: &[] }).unwrap();
            for id in network.strip_ids() {
                if s.strip(id).min_supply_v < 3.3 {
                    return Ok(());
                }
                let strip = s.strip(id);
                *power += strip.supply_v.iter().zip(&strip.current_a).map(|(v, i)| v * i).sum::<f64>();
            }
            if network.load_ids().any(|l| s.load_v(l) < 0.1) {
                return Ok(());
            }
            *power += network.load_ids().map(|l| s.load_v(l) * s.load_a(l)).sum::<f64>();
        }
        compared.set(compared.get() + 1);
        prop_assert!(power[1] >= power[0] - 1e-9, "{power:?}");
    });
    let compared = compared.get();
    assert!(
        compared > 100,
        "only {compared} networks drew constant currents"
    );
}

/// Positive rail fed at the left, negative at the right, the middle pixel held stiffly by its ramp:
/// drive at the left end shifts the middle's currents so that the right end gains. The solver must
/// show it (a law that is not one must not be assumed anywhere).
#[test]
fn crossed_feeds_can_raise_a_supply() {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.0, 0.0);
    let feed = |rail, pixel, node| Feed {
        rail,
        pixel,
        node,
        ohm: 0.0,
    };
    b.strip(StripSpec {
        name: "crossed".to_owned(),
        law: rgb_pixel(),
        pixels: 101,
        rail_pos_ohm: 0.05,
        rail_neg_ohm: 0.05,
        feeds: vec![
            feed(Rail::Positive, 0, plus),
            feed(Rail::Negative, 100, minus),
        ],
    });
    let network = b.build().unwrap();
    let mut levels = vec![vec![0u8; 303]];
    levels[0][45 * 3..56 * 3].fill(255);
    let before = supplies(&network, &levels, &[]).unwrap();
    levels[0][3..15].fill(255);
    let after = supplies(&network, &levels, &[]).unwrap();
    assert!(after[1] < before[1], "the driven end falls");
    assert!(
        after[99] > before[99] + 1e-6,
        "the far end rises: {} -> {}",
        before[99],
        after[99]
    );
}

/// Without constant power there is always a solution, however short the supply.
#[test]
fn a_network_of_sinks_always_solves() {
    proptest!(cases(300), |(
        mut c in circuit(), emf in -1.0..5.0, cell_ohm in 0.0..50.0,
    )| {
        c.powers.clear();
        let network = c.build().unwrap();
        let mut solver = Solver::new(&network).unwrap();
        let levels = c.levels();
        let strips = drives(&levels);
        let sources = [SourceDrive { emf_v: emf, ohm: cell_ohm }];
        let drive = Drive { strips: &strips, loads: &[], sources: &sources };
        let solution = solver.solve(&drive);
        prop_assert!(solution.is_ok(), "{:?}", solution.err());
        let report = check_balance(&network, &drive, solver.solution());
        prop_assert!(report.kcl_a < 1e-9 && report.ohm_v < 1e-9 && report.law_a < 1e-9, "{report:?}");
    });
}

/// A cell resistance changed in the drive equals the same resistance built in.
#[test]
fn a_changed_cell_equals_a_rebuilt_one() {
    proptest!(cases(256), |(c in circuit(), emf_v in 2.5..4.3, ohm in 0.001..0.5)| {
        let network = c.build().unwrap();
        let rebuilt = Circuit { emf_v, cell_ohm: ohm, ..c.clone() }.build().unwrap();
        let levels = c.levels();
        let strips = drives(&levels);
        let sources = [SourceDrive { emf_v, ohm }];
        let mut a = Solver::new(&network).unwrap();
        let mut b = Solver::new(&rebuilt).unwrap();
        let a = a.solve(&Drive { strips: &strips, loads: &[], sources: &sources });
        let b = b.solve(&Drive { strips: &strips, loads: &[], sources: &[] });
        prop_assert_eq!(a.is_ok(), b.is_ok());
        if let (Ok(a), Ok(b)) = (a, b) {
            for node in network.node_ids() {
                prop_assert!((a.node_v(node) - b.node_v(node)).abs() < 1e-9);
            }
        }
    });
}

/// Parallel cells share by their resistances; cells in series add.
#[test]
fn several_cells() {
    let solve = |series: bool| {
        let mut b = Network::<PixelType>::builder();
        let (plus, mid, minus) = (b.node("plus"), b.node("mid"), b.node("minus"));
        if series {
            b.source("lower", mid, minus, 3.6, 0.1);
            b.source("upper", plus, mid, 3.8, 0.2);
        } else {
            b.source("first", plus, minus, 3.6, 0.1);
            b.source("second", plus, minus, 3.8, 0.2);
            b.resistor("spare", mid, minus, 1.0);
        }
        let load = b.load("sink", plus, minus, LoadLaw::SINK, 2.0);
        let network = b.build().unwrap();
        let mut solver = Solver::new(&network).unwrap();
        let s = solver
            .solve(&Drive {
                strips: &[],
                loads: &[],
                sources: &[],
            })
            .unwrap();
        let cells: Vec<f64> = network.source_ids().map(|c| s.source_a(c)).collect();
        (s.load_v(load), cells)
    };
    let (v, cells) = solve(true);
    assert!((v - (7.4 - 0.6)).abs() < 1e-12 && (cells[0] - 2.0).abs() < 1e-12);
    // Millman: V = (3.6/0.1 + 3.8/0.2 − 2)/(1/0.1 + 1/0.2).
    let (v, cells) = solve(false);
    assert!((v - 53.0 / 15.0).abs() < 1e-12, "{v}");
    assert!(
        (cells[0] - (3.6 - v) / 0.1).abs() < 1e-10 && (cells[1] - (3.8 - v) / 0.2).abs() < 1e-10
    );
}
