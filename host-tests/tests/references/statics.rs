//! Operating points: every voltage to 1 µV and every current to 1 µA of ngspice's.

use crate::describe::{cases, drives, floats, levels, list, network, number};
use crate::table::{Line, Measured};
use lampwright::electrical::{
    BranchId, Drive, LoadId, Network, Solution, Solver, SourceId, StripId,
};
use serde_json::Value;

pub(crate) const VOLT: f64 = 1e-6;
pub(crate) const AMPERE: f64 = 1e-6;

#[test]
fn every_operating_point_is_that_of_the_circuit_simulator() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    cases("circuits.json", 40).iter().map(line).collect()
}

fn line(case: &Value) -> Line {
    let network = network(case);
    let levels = levels(case);
    let strips = drives(&levels);
    let mut solver = Solver::new(&network).unwrap();
    let drive = Drive {
        strips: &strips,
        loads: &[],
        sources: &[],
    };
    let solution = solver
        .solve(&drive)
        .unwrap_or_else(|e| panic!("{}: {e}", case["id"]));
    let measured = differences(case, &case["expected"], &network, solution);
    Line::new(case, "ngspice 39, `.op`", measured.into())
}

/// The largest difference so far and where it is.
#[derive(Default)]
struct Worst {
    off: f64,
    place: String,
}

impl Worst {
    fn add(&mut self, place: impl Fn() -> String, found: f64, expected: f64) {
        let off = off(found, expected);
        if off > self.off {
            (self.off, self.place) = (off, place());
        }
    }

    fn all(&mut self, place: &str, found: &[f64], expected: &Value) {
        let expected = floats(expected);
        assert_eq!(found.len(), expected.len(), "{place}");
        for (k, (f, e)) in found.iter().zip(expected).enumerate() {
            self.add(|| format!("{place}[{k}]: {f} for {e}"), *f, e);
        }
    }
}

/// Largest differences of all voltages and of all currents.
pub(crate) fn differences(
    case: &Value,
    expected: &Value,
    network: &Network,
    found: &Solution,
) -> [Measured; 2] {
    let (mut volt, mut ampere) = (Worst::default(), Worst::default());
    for (name, v) in expected["node_v"].as_object().unwrap() {
        let node = network.node_ids().find(|n| network.node_name(*n) == name);
        // A node that only an open switch reaches is none of ours.
        if let Some(node) = node {
            volt.add(|| format!("node {name}"), found.node_v(node), number(v));
        }
    }
    let of = |ids: usize, a: &dyn Fn(usize) -> f64| (0..ids).map(a).collect::<Vec<f64>>();
    let cells = of(network.source_ids().count(), &|k| {
        found.source_a(SourceId::from_index(k))
    });
    ampere.all("cell", &cells, &expected["cell_a"]);
    let closed = (list(&case["wires"]).iter().zip(floats(&expected["wire_a"])))
        .filter(|(w, _)| w["open"] == false);
    for (k, (_, a)) in closed.enumerate() {
        ampere.add(
            || format!("wire {k}"),
            found.branch_a(BranchId::from_index(k)),
            a,
        );
    }
    let loads = network.load_ids().count();
    volt.all(
        "load",
        &of(loads, &|k| found.load_v(LoadId::from_index(k))),
        &expected["load_v"],
    );
    ampere.all(
        "load",
        &of(loads, &|k| found.load_a(LoadId::from_index(k))),
        &expected["load_a"],
    );
    for (k, s) in list(&expected["strips"]).iter().enumerate() {
        let strip = found.strip(StripId::from_index(k));
        volt.all(
            &format!("strip {k} supply"),
            &strip.supply_v,
            &s["supply_v"],
        );
        ampere.all(
            &format!("strip {k} pixel"),
            &strip.current_a,
            &s["current_a"],
        );
        ampere.all(&format!("strip {k} feed"), &strip.feed_a, &s["feed_a"]);
    }
    [
        Measured::volt(volt.off, VOLT).at(volt.place),
        Measured::ampere(ampere.off, AMPERE).at(ampere.place),
    ]
}

/// Absolute difference; infinite where one is not a number, so that no check passes on it.
pub(crate) fn off(found: f64, expected: f64) -> f64 {
    let off = (found - expected).abs();
    if off.is_nan() {
        f64::INFINITY
    } else {
        off
    }
}
