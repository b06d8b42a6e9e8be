//! The lanes set part by part, as benches use them: levels once, then other cells, scaled currents, loads. What is
//! read from a lane is what the scalar solver says of the same frame.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::feed_pair;
use circuits::random::{circuit, Circuit};
use lampwright::electrical::{
    Channel, Drive, LaneSolver, Network, PixelType, Ramp, Reading, Solver, SourceDrive, StripDrive,
    StripSpec, LANES,
};
use proptest::prelude::*;
use std::cell::RefCell;

/// What one lane is set to.
#[derive(Clone)]
struct Frame {
    levels: Vec<Vec<u8>>,
    scale: f64,
    source: SourceDrive,
    loads: Vec<f64>,
}

fn frames(c: &Circuit, loads: &[f64]) -> Vec<Frame> {
    let turn = |l: &u8, k: usize| l.wrapping_mul(2 * k as u8 + 1).wrapping_add(29 * k as u8);
    (0..LANES)
        .map(|k| Frame {
            levels: (c.levels().iter())
                .map(|s| s.iter().map(|l| turn(l, k)).collect())
                .collect(),
            scale: 1.0,
            source: SourceDrive {
                emf_v: c.emf_v,
                ohm: c.cell_ohm,
            },
            loads: loads.to_vec(),
        })
        .collect()
}

/// One after the other: plain levels; the same with weaker cells; more current from every channel, as at a peak of
/// coincidence; other loads; other levels.
fn stages(first: &[Frame]) -> Vec<Vec<Frame>> {
    let each = |from: &[Frame], change: &dyn Fn(usize, &mut Frame)| -> Vec<Frame> {
        let mut out = from.to_vec();
        out.iter_mut().enumerate().for_each(|(l, f)| change(l, f));
        out
    };
    let weaker = each(first, &|l, f| {
        f.source.emf_v -= 0.02 * (l + 1) as f64;
        f.source.ohm *= 1.0 + 0.1 * l as f64;
    });
    let scaled = each(&weaker, &|l, f| f.scale = 1.0 + 0.07 * l as f64);
    let loaded = each(&scaled, &|l, f| {
        f.loads.iter_mut().for_each(|a| *a *= 1.0 - 0.1 * l as f64);
    });
    let other = each(&loaded, &|_, f| {
        f.scale = 1.0;
        f.levels.iter_mut().flatten().for_each(|l| *l = 255 - *l);
    });
    vec![first.to_vec(), weaker, scaled, loaded, other]
}

fn set(lanes: &mut LaneSolver, network: &Network, now: &[Frame], before: Option<&[Frame]>) {
    for (k, strip) in network.strip_ids().enumerate() {
        let shown = |l: usize| &now[l].levels[k][..];
        if before.is_none_or(|b| (0..LANES).any(|l| b[l].levels[k] != now[l].levels[k])) {
            let levels: [&[u8]; LANES] = std::array::from_fn(shown);
            lanes.show(strip, &levels).unwrap();
        } else if let Some(b) = before {
            lanes.rescale(strip, &std::array::from_fn(|l| now[l].scale / b[l].scale));
        }
    }
    for (l, frame) in now.iter().enumerate() {
        lanes.supply(l, &[frame.source]);
        lanes.ask(l, &frame.loads);
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

fn same(
    network: &Network,
    strips: &[Vec<u8>],
    a: &impl Reading,
    b: &impl Reading,
) -> Result<(), TestCaseError> {
    for id in network.node_ids() {
        prop_assert!(near(a.node_v(id), b.node_v(id)));
    }
    for id in network.branch_ids() {
        prop_assert!(near(a.branch_a(id), b.branch_a(id)));
    }
    for id in network.source_ids() {
        prop_assert!(near(a.source_a(id), b.source_a(id)));
        prop_assert!(near(a.source_terminal_v(id), b.source_terminal_v(id)));
    }
    for (id, levels) in network.strip_ids().zip(strips) {
        let (x, y) = (a.strip_supply(id), b.strip_supply(id));
        prop_assert!(
            near(x.min_v, y.min_v) && near(x.first_v, y.first_v) && near(x.last_v, y.last_v)
        );
        let pixels = levels.len() / 3;
        let (mut va, mut vb) = (vec![0.0; pixels], vec![1.0; pixels]);
        a.copy_supply(id, &mut va);
        b.copy_supply(id, &mut vb);
        prop_assert!(
            va.iter().zip(&vb).all(|(p, q)| near(*p, *q)),
            "{va:?} {vb:?}"
        );
        prop_assert!(near(va[x.min_pixel], vb[y.min_pixel]));
        prop_assert!(near(a.strip_total_a(id), b.strip_total_a(id)), "total");
        prop_assert!(near(a.rail_peak_a(id), b.rail_peak_a(id)), "rail");
    }
    Ok(())
}

#[test]
fn every_stage_of_a_batch_is_what_the_scalar_solver_says() {
    let counts = RefCell::new([0usize; 2]);
    proptest!(circuits::cases(300), |(c in circuit())| {
        let network = c.build().unwrap();
        let (mut lanes, mut scalar) = (LaneSolver::new(&network).unwrap(), Solver::new(&network).unwrap());
        let amounts: Vec<f64> = c.sinks.iter().chain(&c.powers).map(|(_, _, a)| *a).collect();
        let stages = stages(&frames(&c, &amounts));
        for (k, stage) in stages.iter().enumerate() {
            set(&mut lanes, &network, stage, k.checked_sub(1).map(|b| &stages[b][..]));
            let solved = lanes.run();
            lanes.survey();
            for (l, frame) in stage.iter().enumerate() {
                let strips: Vec<StripDrive<'_>> = (frame.levels.iter())
                    .map(|levels| StripDrive::ScaledLevels { levels, scale: frame.scale })
                    .collect();
                let drive = Drive { strips: &strips, loads: &frame.loads, sources: &[frame.source] };
                let alone = scalar.solve(&drive);
                counts.borrow_mut()[usize::from(solved[l])] += 1;
                match (solved[l], alone) {
                    (true, Ok(solution)) => same(&network, &frame.levels, &lanes.lane(l), solution)?,
                    (true, Err(e)) => prop_assert!(false, "lane {l} is solved, but: {e}"),
                    (false, Ok(solution)) => {
                        let solution = solution.clone();
                        lanes.restart(l, Some(&solution));
                    }
                    (false, Err(_)) => lanes.restart(l, None),
                }
            }
        }
    });
    let [left, solved] = counts.into_inner();
    assert!(
        solved > 20 * left && solved > 3000,
        "{solved} in lanes, {left} left"
    );
}

/// Two pixels in a row on one channel: the nearer one comes to stand where its ramp ends, the other on the ramp.
fn at_the_end_of_a_ramp() -> Network {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.0, 0.5);
    let ramp = |off_v, full_v| Ramp { off_v, full_v };
    let channel = Channel {
        full_a: 0.2,
        ramp: ramp(1.9, END_V),
    };
    b.strip(StripSpec {
        name: "strip".to_owned(),
        law: PixelType::new(&[channel], 0.0, ramp(0.0, 1.0)).unwrap(),
        pixels: 2,
        rail_pos_ohm: 0.5,
        rail_neg_ohm: 0.5,
        feeds: feed_pair(0, plus, minus, 0.01, 0.01).into(),
    });
    b.build().unwrap()
}

/// Where that ramp ends, volts.
const END_V: f64 = 2.5;

/// A cell that gives more without anything else having changed: the strips are taken as they were. A pixel that comes to
/// stand beyond the end of its ramp by no more than rounding was taken for one before it, and moves on as none.
#[test]
fn a_stronger_cell_takes_a_pixel_from_the_very_end_of_its_ramp() {
    let network = at_the_end_of_a_ramp();
    let strip = network.strip_ids().next().unwrap();
    let shown = [255, 255];
    let started = |emf_v: f64| {
        let mut lanes = LaneSolver::new(&network).unwrap();
        lanes.show(strip, &[&shown[..]; LANES]).unwrap();
        supply_all(&mut lanes, emf_v);
        assert!(lanes.run()[0]);
        lanes
    };
    // The first EMF that takes the nearer pixel to the end.
    let (mut below, mut above) = (2.5f64, 3.5f64);
    while below.next_up() < above {
        let middle = below + (above - below) / 2.0;
        let mut v = [0.0; 2];
        started(middle).lane(0).copy_supply(strip, &mut v);
        *(if v[0] < END_V { &mut below } else { &mut above }) = middle;
    }
    let mut scalar = Solver::new(&network).unwrap();
    let mut emf_v = above;
    for _ in 0..200 {
        let mut lanes = started(emf_v);
        supply_all(&mut lanes, emf_v + 0.1);
        let solved = lanes.run()[0];
        let drive = Drive {
            strips: &[StripDrive::Levels(&shown)],
            loads: &[],
            sources: &[source(emf_v + 0.1)],
        };
        let expected = scalar.solve(&drive).unwrap().strip_total_a(strip);
        let found = lanes.lane(0).strip_total_a(strip);
        assert!(
            !solved || near(found, expected),
            "{found} A for {expected} A"
        );
        emf_v = emf_v.next_up();
    }
}

fn source(emf_v: f64) -> SourceDrive {
    SourceDrive { emf_v, ohm: 0.5 }
}

fn supply_all(lanes: &mut LaneSolver, emf_v: f64) {
    for l in 0..LANES {
        lanes.supply(l, &[source(emf_v)]);
    }
}
