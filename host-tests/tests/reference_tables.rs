//! Handbook values: wires, ladders, constant power, protection, data line.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::{feed_pair, sink_pixel};
use lampwright::electrical::protection::trip_current_a;
use lampwright::electrical::wire::{awg_area_mm2, awg_diameter_mm, Conductor};
use lampwright::electrical::{
    Drive, LoadLaw, LoadState, Network, PixelType, SolveError, Solver, StripDrive, StripSpec,
};

fn share(found: f64, expected: f64) -> f64 {
    (found / expected - 1.0).abs()
}

/// ASTM B258 (formula from memory), cross-checked by printed tables: gauge, mm, mm², mΩ/m at 20 °C
/// and 60 °C of solid copper.
#[test]
fn gauges() {
    for (awg, mm, mm2, at_20, at_60) in [
        (16, 1.2908, 1.3087, 13.17, 15.25),
        (18, 1.0237, 0.8231, 20.95, 24.24),
        (20, 0.8118, 0.5176, 33.31, 38.54),
        (22, 0.6438, 0.3255, 52.96, 61.29),
        (24, 0.5106, 0.2047, 84.21, 97.45),
        (26, 0.4049, 0.1288, 133.90, 154.95),
        (28, 0.3211, 0.0810, 212.92, 246.39),
        (30, 0.2546, 0.0509, 338.55, 391.77),
        (32, 0.2019, 0.0320, 538.32, 622.94),
    ] {
        assert!((awg_diameter_mm(awg) - mm).abs() < 1e-4, "{awg}");
        assert!((awg_area_mm2(awg) - mm2).abs() < 1e-4, "{awg}");
        let wire = Conductor::Awg(awg);
        assert!(share(wire.ohm(1.0, 20.0) * 1e3, at_20) < 1e-3, "{awg}");
        assert!(share(wire.ohm(1.0, 60.0) * 1e3, at_60) < 1e-3, "{awg}");
    }
}

/// A wire maker's chart of stranded wire (mΩ/m): 28 AWG 7/36 and 30 AWG 7/38. Other strandings of
/// the chart differ from the gauge by up to 10 %.
#[test]
fn stranded_chart() {
    for (awg, milliohm) in [(28, 212.9), (30, 338.6)] {
        assert!(
            share(Conductor::Awg(awg).ohm_per_m_20c() * 1e3, milliohm) < 1e-3,
            "{awg}"
        );
    }
    // 7/36 has the copper of 27.5 AWG and the lay on top: within the 10 %.
    let seven = Conductor::Strands {
        count: 7,
        strand_awg: 36,
    }
    .ohm_per_m_20c()
        * 1e3;
    assert!(share(seven, 212.9) < 0.1, "{seven}");
}

/// NEC Chapter 9 Table 8, uncoated copper at 75 °C, Ω/km: solid, and 7 strands (longer by their lay).
#[test]
fn nec_rows() {
    for (awg, solid, stranded) in [
        (18, 25.49, 26.08),
        (16, 16.04, 16.37),
        (14, 10.07, 10.30),
        (12, 6.33, 6.50),
    ] {
        let formula = Conductor::Awg(awg).ohm(1e3, 75.0);
        assert!(share(formula, solid) < 2e-3, "{awg}: {formula}");
        // The printed rows are rounded to three digits.
        assert!(
            share(formula * 1.02, stranded) < 6e-3,
            "{awg}: {}",
            formula * 1.02
        );
    }
}

/// IEC 60228 class 5, maximum Ω/km at 20 °C, plain and tinned.
#[test]
fn class_5() {
    for (mm2, plain, tinned) in [
        (0.5, 39.0, 40.1),
        (0.75, 26.0, 26.7),
        (1.0, 19.5, 20.0),
        (1.5, 13.3, 13.7),
        (2.5, 7.98, 8.21),
    ] {
        assert!(
            share(Conductor::Class5Mm2(mm2).ohm(1e3, 20.0), plain) < 1e-12,
            "{mm2}"
        );
        assert!(
            share(Conductor::Class5TinnedMm2(mm2).ohm(1e3, 20.0), tinned) < 1e-12,
            "{mm2}"
        );
    }
}

/// Drop over a pair of wires, V = R·I: 0.5 mm² class 5, 1 m out and back, 2 A: 0.156 V; AWG 22,
/// 0.5 m each way, 3 A: 0.1589 V.
#[test]
fn drop_over_a_pair_of_wires() {
    for (wire, length_m, a, drop_v) in [
        (Conductor::Class5Mm2(0.5), 1.0, 2.0, 0.156),
        (Conductor::Awg(22), 0.5, 3.0, 0.1589),
    ] {
        let mut b = Network::<PixelType>::builder();
        let (plus, far_plus) = (b.node("plus"), b.node("far plus"));
        let (minus, far_minus) = (b.node("minus"), b.node("far minus"));
        b.source("cell", plus, minus, 3.7, 0.0);
        b.resistor("out", plus, far_plus, wire.ohm(length_m, 20.0));
        b.resistor("back", far_minus, minus, wire.ohm(length_m, 20.0));
        let load = b.load("sink", far_plus, far_minus, LoadLaw::SINK, a);
        let mut solver = Solver::new(&b.build().unwrap()).unwrap();
        let solution = solver
            .solve(&Drive {
                strips: &[],
                loads: &[],
                sources: &[],
            })
            .unwrap();
        assert!(
            (3.7 - solution.load_v(load) - drop_v).abs() < 1e-4,
            "{}",
            solution.load_v(load)
        );
    }
}

/// 60 sinks of 20 mA, 6.2 mΩ a pitch (loop), fed at one end: drop to the last r·I·N(N+1)/2 = 0.22692 V
/// (the feed is one pitch before the first pixel). Closed form; the pitch resistance was measured on
/// a strip of 60 pixels a metre.
#[test]
fn ladder_of_sinks() {
    let mut b = Network::<PixelType>::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 5.0, 0.0);
    let strip = b.strip(StripSpec {
        name: "strip".to_owned(),
        law: sink_pixel(0.020),
        pixels: 60,
        rail_pos_ohm: 0.0031,
        rail_neg_ohm: 0.0031,
        feeds: feed_pair(0, plus, minus, 0.0031, 0.0031).to_vec(),
    });
    let mut solver = Solver::new(&b.build().unwrap()).unwrap();
    let levels = [255; 60];
    let strips = [StripDrive::Levels(&levels)];
    let solution = solver
        .solve(&Drive {
            strips: &strips,
            loads: &[],
            sources: &[],
        })
        .unwrap();
    let solved = solution.strip(strip);
    assert!(
        (5.0 - solved.supply_v[59] - 0.226_92).abs() < 1e-6,
        "{}",
        solved.supply_v[59]
    );
    assert_eq!(solved.min_supply_pixel, 59);
    assert!((solved.total_a - 1.2).abs() < 1e-12);
}

fn constant_power(power_w: f64, min_v: f64) -> Result<(f64, f64), SolveError> {
    let mut b = Network::<PixelType>::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.7, 0.1);
    let load = b.load(
        "amplifier",
        plus,
        minus,
        LoadLaw::ConstantPower { min_v },
        power_w,
    );
    let mut solver = Solver::new(&b.build().unwrap()).unwrap();
    let solution = solver.solve(&Drive {
        strips: &[],
        loads: &[],
        sources: &[],
    })?;
    assert_eq!(solution.load_state(load), LoadState::On);
    Ok((solution.load_v(load), solution.load_a(load)))
}

/// V = (E + √(E² − 4PR))/2 and its limit E²/4R (closed form): 5 W from 3.7 V behind 0.1 Ω is
/// 3.55953 V, and 34.225 W is the most.
#[test]
fn constant_power_up_to_the_collapse_point() {
    let (v, a) = constant_power(5.0, 0.5).unwrap();
    assert!((v - 3.559_53).abs() < 1e-5 && (v * a - 5.0).abs() < 1e-12);
    let limit_w = 3.7 * 3.7 / 0.4;
    assert!((limit_w - 34.225f64).abs() < 1e-9);
    for share in [0.5, 0.9, 0.999, 0.999_999] {
        let power = limit_w * share;
        let (v, _) = constant_power(power, 0.5).unwrap();
        let closed = 0.5 * (3.7 + (3.7f64 * 3.7 - 0.4 * power).sqrt());
        assert!((v - closed).abs() < 1e-9, "{share}: {v} for {closed}");
    }
    for share in [1.000_001, 1.01, 2.0, 1000.0] {
        match constant_power(limit_w * share, 0.5) {
            Err(SolveError::Collapse(c)) => {
                assert_eq!(c.load, 0);
                assert!(
                    (c.largest_share * share - 1.0).abs() < 2e-6,
                    "{share}: {c:?}"
                );
                assert!((c.supply_v - 1.85).abs() < 0.01, "{share}: {c:?}");
            }
            other => panic!("{share}: {other:?}"),
        }
    }
}

/// With a lowest working supply above E/2 the load gives up there: P = V·(E − V)/R.
#[test]
fn constant_power_gives_up_at_its_lowest_working_supply() {
    let most = 3.0 * (3.7 - 3.0) / 0.1;
    assert!(constant_power(most * 0.999_999, 3.0).is_ok());
    match constant_power(most * 1.25, 3.0) {
        Err(SolveError::Collapse(c)) => {
            assert!(
                (c.largest_share - 0.8).abs() < 1e-6 && (c.supply_v - 3.0).abs() < 1e-5,
                "{c:?}"
            );
        }
        other => panic!("{other:?}"),
    }
}

/// 150 mV over two transistors of 28 mΩ: 2.679 A (data sheets of a protection IC and its pair).
#[test]
fn protection_trip() {
    assert!((trip_current_a(0.150, 0.056) - 2.679).abs() < 1e-3);
}
