//! Laws that hold for every network, tried on random ones.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::cases;
use circuits::random::{circuit, drives, hungry, supplies, Circuit};
use lampwright::electrical::{
    check_balance, Drive, LoadLaw, Network, NetworkError, PixelType, SolveError, Solver,
    SourceDrive,
};
use proptest::prelude::*;

/// How often each outcome came up: a test that only ever saw one of them would prove little.
fn tally(counts: &std::cell::RefCell<[usize; 2]>, kind: usize) {
    counts.borrow_mut()[kind] += 1;
}

/// Kirchhoff's current law to 1 nA at every node and pad, Ohm's law, the laws of pixels and loads,
/// and the power balance to 1e-9, on any network.
#[test]
fn every_solution_obeys_the_laws() {
    let counts = std::cell::RefCell::new([0; 2]);
    proptest!(cases(600), |(c in hungry(), warm in any::<u8>())| {
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
    println!("{solved} solved, {collapsed} collapsed");
    // A third of the networks has powers that most cannot bear: neither outcome is ever rare.
    let all = solved + collapsed;
    assert!(
        solved * 3 > all && collapsed * 50 > all,
        "{solved} solved, {collapsed} collapsed"
    );
}

/// Open switches in either leg: left out of the netlist, and beside it as 10 Tohm. What is cut off from the cell is named;
/// all else obeys the laws and agrees.
#[test]
fn switches_may_be_open_in_either_leg() {
    let counts = std::cell::RefCell::new([0; 2]);
    proptest!(cases(400), |(
        mut c in circuit(), plus in any::<bool>(), which in any::<prop::sample::Index>(),
    )| {
        // A load of constant power on a leak of 10 Tohm is off or a collapse; neither is the matter here.
        c.powers.clear();
        let mut leaking = c.clone();
        let side = if plus { &mut leaking.pos } else { &mut leaking.neg };
        let at = which.index(side.len());
        side[at].1 = 1e13;
        let network = leaking.build().unwrap();
        let mut solver = Solver::new(&network).unwrap();
        let levels = c.levels();
        let strips = drives(&levels);
        let drive = Drive { strips: &strips, loads: &[], sources: &[] };
        let leaked = solver.solve(&drive).unwrap();
        let report = check_balance(&network, &drive, leaked);
        prop_assert!(report.kcl_a < 1e-9 && report.law_a < 1e-9, "{report:?}");
        c.open = Some((plus, at));
        match c.build() {
            Ok(cut) => {
                let mut solver = Solver::new(&cut).unwrap();
                let solved = solver.solve(&drive).unwrap();
                let report = check_balance(&cut, &drive, solved);
                prop_assert!(report.kcl_a < 1e-9 && report.ohm_v < 1e-9 && report.law_a < 1e-9, "{report:?}");
                prop_assert!(report.power_share() < 1e-9, "{report:?}");
                for node in cut.node_ids() {
                    let other = network.node_ids().find(|n| network.node_name(*n) == cut.node_name(node)).unwrap();
                    let (a, b) = (solved.node_v(node), leaked.node_v(other));
                    prop_assert!((a - b).abs() < 1e-5, "{}: {a} open, {b} leaking", cut.node_name(node));
                }
                tally(&counts, 0);
            }
            Err(NetworkError::FloatingNodes { nodes }) => {
                let gone = format!("{}{}", if plus { 'p' } else { 'n' }, at + 1);
                prop_assert!(nodes.contains(&gone), "{gone} is not in {nodes:?}");
                tally(&counts, 1);
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
    });
    let [solved, cut_off] = counts.into_inner();
    assert!(
        solved > 20 && cut_off > 20,
        "{solved} solved, {cut_off} cut off"
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
