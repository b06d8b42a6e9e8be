//! Constant power just below and just above what the supply can give.

use crate::describe::{cases, drives, levels, list, network, number};
use crate::statics::{differences, off};
use crate::table::{Line, Measured};
use lampwright::electrical::{Drive, SolveError, Solver};
use serde_json::Value;

/// ngspice's sweep ends within 1e-8 of the critical power; ours is a bisection of its own.
const SHARE: f64 = 1e-5;

#[test]
fn the_supply_collapses_where_the_circuit_simulator_loses_it() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    cases("collapse.json", 4).iter().map(line).collect()
}

fn line(case: &Value) -> Line {
    let (id, expected) = (&case["id"], &case["expected"]);
    let network = network(case);
    let levels = levels(case);
    let strips = drives(&levels);
    let loads = list(&case["loads"]);
    let amounts = |watt: &Value| -> Vec<f64> {
        let amount = |l: &Value| l["amp"].as_f64().or(l["watt"].as_f64()).unwrap();
        let mut all: Vec<f64> = loads.iter().map(amount).collect();
        *all.last_mut().unwrap() = number(watt);
        all
    };
    let mut solver = Solver::new(&network).unwrap();
    let below = amounts(&expected["before_w"]);
    let solution = solver
        .solve(&Drive {
            strips: &strips,
            loads: &below,
            sources: &[],
        })
        .unwrap_or_else(|e| panic!("{id} below the critical power: {e}"));
    let [volt, ampere] = differences(case, &expected["before"], &network, solution);

    // Above it ngspice, which lets the load go on below its lowest supply, finds it there alone.
    let lowest = number(&loads.last().unwrap()["min_v"]);
    assert!(
        number(&expected["after_load_v"]) < lowest,
        "{id}: ngspice still has it running"
    );
    let above = amounts(&expected["after_w"]);
    let result = solver.solve(&Drive {
        strips: &strips,
        loads: &above,
        sources: &[],
    });
    let collapse = match result {
        Err(SolveError::Collapse(collapse)) => collapse,
        Err(other) => panic!("{id} above the critical power: {other}"),
        Ok(_) => panic!("{id}: no collapse above the critical power"),
    };
    let critical = number(&expected["critical_w"]);
    Line::new(
        case,
        "ngspice 39, `.dc` sweep of the power and `.op`",
        vec![
            volt,
            ampere,
            Measured::share(
                "of the critical power",
                off(critical_share(case, &collapse, &above), critical) / critical,
                SHARE,
            ),
        ],
    )
}

/// `largest_share` scales every constant power together; the critical power is that of the last alone. Where it
/// is alone they are the same; else the last one's is found by halving.
fn critical_share(case: &Value, collapse: &lampwright::electrical::Collapse, above: &[f64]) -> f64 {
    let powers = list(&case["loads"])
        .iter()
        .filter(|l| l["law"] == "power")
        .count();
    let last = *above.last().unwrap();
    if powers == 1 {
        return collapse.largest_share * last;
    }
    let network = network(case);
    let levels = levels(case);
    let strips = drives(&levels);
    let mut solver = Solver::new(&network).unwrap();
    let mut loads = above.to_vec();
    let (mut low, mut high) = (0.0, last);
    while high - low > 1e-7 * high {
        let mid = 0.5 * (low + high);
        *loads.last_mut().unwrap() = mid;
        let solved = solver.solve(&Drive {
            strips: &strips,
            loads: &loads,
            sources: &[],
        });
        match solved {
            Ok(_) => low = mid,
            Err(SolveError::Collapse(_)) => high = mid,
            Err(other) => panic!("{}: {other}", case["id"]),
        }
    }
    low
}
