//! Strips against ngspice (see `reference/PROVENANCE.md`): voltages to 0.1 µV, pixel currents to
//! 10 nA, the cell current to 1 µA.

use crate::circuits::{feed_pair, Shape, ShapedPixel};
use crate::describe::{cases, floats};
use crate::statics::off;
use crate::table::{Line, Measured};
use lampwright::electrical::solution::RailSolution;
use lampwright::electrical::{
    check_balance, BranchId, Channel, Drive, Network, NodeId, PixelLaw, PixelType, Ramp, Solver,
    SourceId, StripDrive, StripId, StripSpec,
};
use serde_json::Value;

const VOLT: f64 = 1e-7;
const PIXEL_AMPERE: f64 = 1e-8;
const SOURCE_AMPERE: f64 = 1e-6;

#[test]
fn every_case_with_its_own_law() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    let line = |case: &Value| {
        let (volt, ampere) = compare(case, &shaped(case));
        let measured = vec![
            Measured::volt(volt, VOLT),
            Measured::ampere(ampere, SOURCE_AMPERE),
        ];
        Line::new(case, "ngspice 39, `.op`", measured)
    };
    cases("ladder-public.json", 6).iter().map(line).collect()
}

/// The cases with hard clips once more through the law that real parts use.
#[test]
fn every_clip_case_with_the_production_law() {
    let clips = cases("ladder-public.json", 6);
    let clips = clips.iter().filter(|c| c["load"]["law"] == "clip");
    assert!(
        clips.clone().count() >= 2,
        "the reference lost its clip cases"
    );
    for case in clips {
        compare(case, &clipped(case));
    }
}

/// Largest difference of a voltage and of a current.
fn compare<L: PixelLaw + Clone>(case: &Value, law: &L) -> (f64, f64) {
    let id = case["id"].as_str().unwrap();
    let circuit = build(case, law);
    let currents: Vec<f64> = case["i_set_a"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(floats)
        .collect();
    let strips = [StripDrive::Currents(&currents)];
    let drive = Drive {
        strips: &strips,
        loads: &[],
        sources: &[],
    };
    let mut solver = Solver::new(&circuit.network).unwrap();
    let solution = solver.solve(&drive).unwrap_or_else(|e| panic!("{id}: {e}"));

    let expected = &case["expected"];
    let worst = std::cell::Cell::new((0.0_f64, 0.0_f64));
    let close = |what: &str, found: f64, expected: f64, within: f64| {
        let ((volt, ampere), off) = (worst.get(), off(found, expected));
        worst.set(match within {
            VOLT => (volt.max(off), ampere),
            PIXEL_AMPERE | SOURCE_AMPERE => (volt, ampere.max(off)),
            _ => (volt, ampere),
        });
        assert!(
            (found - expected).abs() <= within,
            "{id} {what}: {found} for {expected}"
        );
    };
    let all = |what: &str, found: &[f64], expected: &Value, within: f64| {
        let expected = floats(expected);
        assert_eq!(found.len(), expected.len(), "{id} {what}");
        for (i, (f, e)) in found.iter().zip(&expected).enumerate() {
            close(&format!("{what}[{i}]"), *f, *e, within);
        }
    };
    let number = |key: &str| expected[key].as_f64().unwrap();
    close(
        "i_source",
        solution.source_a(circuit.cell),
        number("i_source_a"),
        SOURCE_AMPERE,
    );
    close(
        "T",
        solution.node_v(circuit.terminal),
        number("v_cell_terminal"),
        VOLT,
    );
    close(
        "T",
        solution.source_terminal_v(circuit.cell),
        number("v_cell_terminal"),
        VOLT,
    );
    close(
        "BP",
        solution.node_v(circuit.bus_pos),
        number("v_bus_pos"),
        VOLT,
    );
    close(
        "BN",
        solution.node_v(circuit.bus_neg),
        number("v_bus_neg"),
        VOLT,
    );
    for wire in &circuit.series {
        close(
            "series",
            solution.branch_a(*wire),
            number("i_source_a"),
            SOURCE_AMPERE,
        );
    }
    let strip = solution.strip(circuit.strip);
    all("v_pixel", &strip.supply_v, &expected["v_pixel"], VOLT);
    all(
        "i_pixel",
        &strip.current_a,
        &expected["i_pixel_a"],
        PIXEL_AMPERE,
    );
    close("v_min", strip.min_supply_v, number("v_pixel_min"), VOLT);
    assert_eq!(
        strip.min_supply_pixel as u64,
        expected["v_pixel_min_index"].as_u64().unwrap(),
        "{id}"
    );
    let pos: Vec<f64> = strip.feed_a.iter().copied().step_by(2).collect();
    let neg: Vec<f64> = strip.feed_a.iter().copied().skip(1).step_by(2).collect();
    all("i_feed_pos", &pos, &expected["i_feed_pos_a"], SOURCE_AMPERE);
    all("i_feed_neg", &neg, &expected["i_feed_neg_a"], SOURCE_AMPERE);
    let mut rails = RailSolution::default();
    strip.rails(&mut rails);
    all("v_pos", &rails.pos_v, &expected["v_pos"], VOLT);
    all("v_neg", &rails.neg_v, &expected["v_neg"], VOLT);
    all(
        "i_rail_pos",
        &rails.pos_a,
        &expected["i_rail_pos_a"],
        SOURCE_AMPERE,
    );
    all(
        "i_rail_neg",
        &rails.neg_a,
        &expected["i_rail_neg_a"],
        SOURCE_AMPERE,
    );

    let balance = check_balance(&circuit.network, &drive, solution);
    close(
        "power",
        balance.supplied_w,
        expected["power_w"]["ocv"].as_f64().unwrap(),
        1e-5,
    );
    assert!(
        balance.kcl_a < 1e-10 && balance.ohm_v < 1e-11,
        "{id}: {balance:?}"
    );
    assert!(
        balance.law_a < 1e-11 && balance.power_share() < 1e-10,
        "{id}: {balance:?}"
    );
    worst.get()
}

struct Circuit<L> {
    network: Network<L>,
    cell: SourceId,
    strip: StripId,
    terminal: NodeId,
    bus_pos: NodeId,
    bus_neg: NodeId,
    series: Vec<BranchId>,
}

fn build<L: PixelLaw + Clone>(case: &Value, law: &L) -> Circuit<L> {
    let mut b = Network::builder();
    let source = &case["source"];
    let number = |v: &Value| v.as_f64().unwrap();
    let (terminal, ground) = (b.node("T"), b.node("GND"));
    let cell = b.source(
        "cell",
        terminal,
        ground,
        number(&source["ocv_v"]),
        number(&source["r_cell_ohm"]),
    );
    let mut series = Vec::new();
    let mut at = terminal;
    for (i, part) in source["series_pos"].as_array().unwrap().iter().enumerate() {
        let next = b.node(&format!("pos{i}"));
        series.push(b.resistor(&format!("pos{i}"), at, next, number(&part["ohm"])));
        at = next;
    }
    let bus_pos = at;
    // Listed from the strip to the cell.
    let parts = source["series_neg"].as_array().unwrap();
    let bus_neg = if parts.is_empty() {
        ground
    } else {
        b.node("neg0")
    };
    let mut at = bus_neg;
    for (i, part) in parts.iter().enumerate() {
        let next = if i + 1 == parts.len() {
            ground
        } else {
            b.node(&format!("neg{}", i + 1))
        };
        series.push(b.resistor(&format!("neg{i}"), at, next, number(&part["ohm"])));
        at = next;
    }
    let strip = &case["strip"];
    let feeds = case["feeds"].as_array().unwrap().iter().flat_map(|f| {
        let pixel = f["pixel"].as_u64().unwrap() as usize;
        feed_pair(
            pixel,
            bus_pos,
            bus_neg,
            number(&f["r_pos_ohm"]),
            number(&f["r_neg_ohm"]),
        )
    });
    let strip = b.strip(StripSpec {
        name: "strip".to_owned(),
        law: law.clone(),
        pixels: strip["n"].as_u64().unwrap() as usize,
        rail_pos_ohm: number(&strip["r_pos_per_pitch_ohm"]),
        rail_neg_ohm: number(&strip["r_neg_per_pitch_ohm"]),
        feeds: feeds.collect(),
    });
    Circuit {
        network: b.build().unwrap(),
        cell,
        strip,
        terminal,
        bus_pos,
        bus_neg,
        series,
    }
}

fn ramp(v: &Value) -> Ramp {
    Ramp {
        off_v: v["v_off"].as_f64().unwrap(),
        full_v: v["v_full"].as_f64().unwrap(),
    }
}

fn shaped(case: &Value) -> ShapedPixel {
    let load = &case["load"];
    let shape = match load["law"].as_str().unwrap() {
        "clip" => Shape::Clip,
        "softclip" => Shape::Soft(load["eps"].as_f64().unwrap()),
        "smoothstep" => Shape::SmoothStep,
        other => panic!("unknown law {other}"),
    };
    ShapedPixel {
        shape,
        channels: load["channels"]
            .as_array()
            .unwrap()
            .iter()
            .map(ramp)
            .collect(),
        dark_a: load["dark"]["i_a"].as_f64().unwrap(),
        dark: ramp(&load["dark"]),
    }
}

fn clipped(case: &Value) -> PixelType {
    let law = shaped(case);
    let channels: Vec<Channel> = law
        .channels
        .iter()
        .map(|ramp| Channel {
            full_a: 0.02,
            ramp: *ramp,
        })
        .collect();
    PixelType::new(&channels, law.dark_a, law.dark).unwrap()
}
