//! The lanes set part by part, as benches use them: levels once, then other cells, scaled currents, loads. What is
//! read from a lane is what the scalar solver says of the same frame.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::random::{circuit, Circuit};
use lampwright::electrical::{
    Drive, LaneSolver, Network, Reading, Solver, SourceDrive, StripDrive, LANES,
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
