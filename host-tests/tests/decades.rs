//! Conductances over nine decades, in wires and in pixels.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::feed_pair;
use lampwright::electrical::{
    check_balance, Channel, Drive, LaneSolver, LoadLaw, Network, PixelType, Ramp, Solver,
    StripDrive, StripSpec, LANES,
};

const IDLE: Drive<'_> = Drive {
    strips: &[],
    loads: &[],
    sources: &[],
};

/// Ten resistances from 1 µΩ to 1 kΩ side by side carry 1 A: each takes its share of the conductance (current divider,
/// Kirchhoff's laws), the smallest of them a nanoampere, to nine digits.
#[test]
fn resistances_over_nine_decades_share_a_current() {
    let mut b = Network::<PixelType>::builder();
    let (plus, middle, minus) = (b.node("plus"), b.node("middle"), b.node("minus"));
    b.source("cell", plus, minus, 3.7, 0.05);
    let ohms: Vec<f64> = (-6..=3).map(|e| 10f64.powi(e)).collect();
    let branches: Vec<_> = (ohms.iter().enumerate())
        .map(|(k, ohm)| b.resistor(&format!("r{k}"), plus, middle, *ohm))
        .collect();
    b.load("sink", middle, minus, LoadLaw::SINK, 1.0);
    let mut solver = Solver::new(&b.build().unwrap()).unwrap();
    let solution = solver.solve(&IDLE).unwrap();
    let siemens: f64 = ohms.iter().map(|r| 1.0 / r).sum();
    for (ohm, branch) in ohms.iter().zip(branches) {
        let expected = 1.0 / (ohm * siemens);
        let found = solution.branch_a(branch);
        assert!(
            (found / expected - 1.0).abs() < 1e-9,
            "{ohm} ohm: {found} A, {expected} A"
        );
    }
}

/// The same resistances one after the other: every one drops its share, 1 µV to 1 kV times the current.
#[test]
fn resistances_over_nine_decades_in_a_chain() {
    let mut b = Network::<PixelType>::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 4.0, 0.05);
    let mut nodes = vec![plus];
    for e in -6..=3 {
        let next = b.node(&format!("n{e}"));
        b.resistor(
            &format!("r{e}"),
            *nodes.last().unwrap(),
            next,
            10f64.powi(e),
        );
        nodes.push(next);
    }
    let end = *nodes.last().unwrap();
    b.load("sink", end, minus, LoadLaw::SINK, 1e-3);
    let mut solver = Solver::new(&b.build().unwrap()).unwrap();
    let solution = solver.solve(&IDLE).unwrap();
    for (k, pair) in nodes.windows(2).enumerate() {
        let dropped = solution.node_v(pair[0]) - solution.node_v(pair[1]);
        let expected = 1e-3 * 10f64.powi(k as i32 - 6);
        assert!((dropped - expected).abs() < 2e-15, "{k}: {dropped} V");
    }
}

/// A strip whose channels come on within `width_v`: slopes from 0.012 S to 12 kS.
fn steep(width_v: f64) -> Network {
    let channel = |off_v: f64| Channel {
        full_a: 0.012,
        ramp: Ramp {
            off_v,
            full_v: off_v + width_v,
        },
    };
    let dark = Ramp {
        off_v: 0.5,
        full_v: 1.5,
    };
    let law = PixelType::new(&[channel(2.0), channel(2.8), channel(2.8)], 0.0006, dark);
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.7, 0.9);
    b.strip(StripSpec {
        name: "strip".to_owned(),
        law: law.unwrap(),
        pixels: 60,
        rail_pos_ohm: 0.02,
        rail_neg_ohm: 0.01,
        feeds: [0, 40]
            .iter()
            .flat_map(|p| feed_pair(*p, plus, minus, 0.02, 0.01))
            .collect(),
    });
    b.build().unwrap()
}

/// However steep a pixel comes on, a frame is solved and obeys the laws, its lane says the same, and a frame that is
/// shown again stays in its lane: rounding on a steep ramp is not taken for a mismatch.
#[test]
fn slopes_over_six_decades_end_in_a_solution() {
    let shown: Vec<Vec<u8>> = (0..LANES)
        .map(|k| (0..180).map(|i| ((i * 53 + k * 91) % 256) as u8).collect())
        .collect();
    for width_v in [1.0, 1e-2, 1e-4, 1e-6] {
        let network = steep(width_v);
        let (mut scalar, mut lanes) = (
            Solver::new(&network).unwrap(),
            LaneSolver::new(&network).unwrap(),
        );
        let strips: Vec<[StripDrive<'_>; 1]> =
            shown.iter().map(|f| [StripDrive::Levels(f)]).collect();
        let all: Vec<Drive<'_>> = strips.iter().map(|s| Drive { strips: s, ..IDLE }).collect();
        let strip = network.strip_ids().next().unwrap();
        for again in [false, true] {
            lanes.solve(&all).unwrap();
            assert!(
                !again || lanes.solved_alone() == 0,
                "{width_v} V: {} left their lanes",
                lanes.solved_alone()
            );
            for (l, drive) in all.iter().enumerate() {
                let one = scalar.solve(drive).unwrap();
                let report = check_balance(&network, drive, one);
                assert!(
                    report.kcl_a < 1e-9 && report.law_a < 1e-9 && report.power_share() < 1e-9,
                    "{width_v} V: {report:?}"
                );
                let one = one.strip(strip).clone();
                let lit: f64 = shown[l].iter().map(|d| f64::from(*d)).sum();
                let ample = lit / 255.0 * 0.012 + 60.0 * 0.0006;
                assert!(
                    one.total_a < 0.97 * ample,
                    "to be starved: {} A",
                    one.total_a
                );
                let side = lanes.solution(l).unwrap().strip(strip);
                for i in 0..60 {
                    assert!(
                        (side.supply_v[i] - one.supply_v[i]).abs() < 1e-9
                            && (side.current_a[i] - one.current_a[i]).abs() < 1e-9,
                        "{width_v} V, lane {l}, pixel {i}"
                    );
                }
            }
        }
    }
}
