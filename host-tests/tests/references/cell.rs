//! The cell against PyBaMM (see `reference/PROVENANCE.md`): terminal voltage to 0.1 mV.

use crate::circuits::reference;
use crate::describe::floats;
use crate::table::{Line, Measured};
use lampwright::electrical::{Ageing, CellModel, CellState, Interpolation, RcPair, Table1, Table2};
use serde_json::Value;

fn cell(capacity_ah: f64, ocv_v: Table1, r0: f64, rc: &[(f64, f64)]) -> CellModel {
    let pair = |(ohm, farad): &(f64, f64)| RcPair {
        ohm: Table2::constant(*ohm),
        farad: Table2::constant(*farad),
    };
    let model = CellModel {
        capacity_ah,
        ocv_v,
        r0_ohm: Table2::constant(r0),
        rc: rc.iter().map(pair).collect(),
        ageing: Ageing::default(),
        thermal: None,
    };
    model.check("cell").unwrap();
    model
}

#[test]
fn every_case_to_a_tenth_of_a_millivolt() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    let cases = crate::describe::cases("cell-public.json", 2);
    let line = |case: &Value| {
        let measured = vec![Measured::volt(run_case(case), 1e-4)];
        Line::new(case, "PyBaMM 26.10.1.1, Thevenin", measured)
    };
    cases.iter().map(line).collect()
}

/// Largest difference of the terminal voltage.
fn run_case(case: &Value) -> f64 {
    let id = case["id"].as_str().unwrap();
    let table = &case["ocv_table"];
    assert_eq!(table["interpolation"], "linear");
    let ocv = Table1::new(
        "ocv",
        &floats(&table["soc"]),
        &floats(&table["ocv_v"]),
        Interpolation::Linear,
    )
    .unwrap();
    let pairs: Vec<(f64, f64)> = (case["rc"].as_array().unwrap().iter())
        .map(|p| (p["r_ohm"].as_f64().unwrap(), p["c_f"].as_f64().unwrap()))
        .collect();
    let model = cell(
        case["capacity_ah"].as_f64().unwrap(),
        ocv,
        case["r0_ohm"].as_f64().unwrap(),
        &pairs,
    );
    let mut state = CellState::at_rest(case["soc0"].as_f64().unwrap(), 25.0);
    for (v, p) in state.rc_v.iter_mut().zip(case["rc"].as_array().unwrap()) {
        *v = p["v0_v"].as_f64().unwrap();
    }
    let segments: Vec<Vec<f64>> = case["current"]["segments_t_start_s_i_a"]
        .as_array()
        .unwrap()
        .iter()
        .map(floats)
        .collect();
    let expected = &case["expected"];
    let (times, volts) = (floats(&expected["t_s"]), floats(&expected["v_terminal"]));
    let socs = floats(&expected["soc"]);
    let pairs_v: Vec<Vec<f64>> = expected["v_rc"]
        .as_array()
        .unwrap()
        .iter()
        .map(floats)
        .collect();
    let (mut now, mut next) = (0.0, 0);
    let (mut worst, mut samples) = (0.0_f64, 0);
    for (k, segment) in segments.iter().enumerate() {
        let end = segments
            .get(k + 1)
            .map_or(case["t_end_s"].as_f64().unwrap(), |s| s[0]);
        while next < times.len() && times[next] < end {
            model.step(&mut state, segment[1], times[next] - now);
            now = times[next];
            let v = model.terminal_v(&state, segment[1]);
            worst = worst.max((v - volts[next]).abs());
            assert!(
                (v - volts[next]).abs() < 1e-4,
                "{id} t={now}: {v} for {}",
                volts[next]
            );
            assert!(
                (state.soc - socs[next]).abs() < 1e-9,
                "{id} t={now}: SoC {}",
                state.soc
            );
            for (pair, v) in pairs_v.iter().zip(&state.rc_v) {
                assert!((v - pair[next]).abs() < 1e-6, "{id} t={now}: pair {v}");
            }
            next += 1;
            samples += 1;
        }
        model.step(&mut state, segment[1], end - now);
        now = end;
    }
    assert_eq!(samples, times.len(), "{id}: samples left out");
    assert!(
        worst < 1e-7,
        "{id}: PyBaMM and the exact update agree to 1 nV, here {worst} V"
    );
    worst
}

/// PyBaMM Thevenin model and the closed form: R0 25 mΩ, R1 10 mΩ, C1 2000 F, 5 Ah,
/// OCV = 3.0 + 1.2·SoC from SoC 0.5; 5 A 10 s, 1 A 20 s, 8 A 5 s, 0 A 25 s. To 10 µV.
#[test]
fn pulse_train() {
    let ocv = Table1::new("ocv", &[0.0, 1.0], &[3.0, 4.2], Interpolation::Linear).unwrap();
    let model = cell(5.0, ocv, 0.025, &[(0.010, 2000.0)]);
    let expected = [
        (0.5, 3.473599),
        (1.0, 3.472228),
        (2.0, 3.469575),
        (5.0, 3.462273),
        (10.0, 3.451993),
        (10.5, 3.552199),
        (12.0, 3.552780),
        (20.0, 3.555133),
        (30.0, 3.556775),
        (30.5, 3.379868),
        (32.0, 3.374385),
        (35.0, 3.364411),
        (35.5, 3.565109),
        (40.0, 3.570661),
        (50.0, 3.579320),
        (60.0, 3.584571),
    ];
    let mut state = CellState::at_rest(0.5, 25.0);
    let mut now = 0.0;
    for (t, v) in expected {
        // At a jump the sample belongs to the segment that ends there.
        let current = match t {
            t if t <= 10.0 => 5.0,
            t if t <= 30.0 => 1.0,
            t if t <= 35.0 => 8.0,
            _ => 0.0,
        };
        model.step(&mut state, current, t - now);
        now = t;
        let found = model.terminal_v(&state, current);
        assert!((found - v).abs() < 1e-5, "{t} s: {found} for {v}");
    }
}

/// One RC pair fitted to a Chen2020 pulse (23.46 mΩ, 12.49 mΩ, 21.4 s), without drift of the OCV:
/// 24.03, 28.12 and 32.88 mΩ after 1, 10 and 30 s (computed from the closed form).
#[test]
fn pulse_resistance_of_one_pair() {
    let model = cell(
        1e9,
        Table1::constant(3.7),
        0.02346,
        &[(0.01249, 21.4 / 0.01249)],
    );
    for (t, milliohm) in [(1.0, 24.03), (10.0, 28.12), (30.0, 32.88)] {
        let mut state = CellState::at_rest(0.5, 25.0);
        model.step(&mut state, 5.0, t);
        let found = (3.7 - model.terminal_v(&state, 5.0)) / 5.0 * 1e3;
        assert!((found - milliohm).abs() < 0.01, "{t} s: {found} mΩ");
    }
}

/// Interpolation of the Chen2020 open-circuit table: every second point left out and read back.
#[test]
fn monotone_interpolation_of_a_real_curve() {
    let file = reference("chen2020.json");
    let (soc, ocv) = (floats(&file["ocv"]["soc"]), floats(&file["ocv"]["ocv_v"]));
    // Rows of the printed table, to 1 mV.
    for (at, v) in [
        (0.0, 2.5000),
        (0.2, 3.4852),
        (0.5, 3.7509),
        (0.8, 4.0421),
        (1.0, 4.2000),
    ] {
        for kind in [Interpolation::Linear, Interpolation::Monotone] {
            let table = Table1::new("ocv", &soc, &ocv, kind).unwrap();
            assert!((table.at(at) - v).abs() < 1e-3, "{at}: {}", table.at(at));
        }
    }
    let table = Table1::new("ocv", &soc, &ocv, Interpolation::Monotone).unwrap();
    let mut last = f64::NEG_INFINITY;
    for i in 0..=10_000 {
        let v = table.at(f64::from(i) / 10_000.0);
        assert!(v >= last, "falls at {i}");
        last = v;
    }
    let half = |list: &[f64]| list.iter().copied().step_by(2).collect::<Vec<_>>();
    let error = |kind| {
        let coarse = Table1::new("ocv", &half(&soc), &half(&ocv), kind).unwrap();
        // Above 10 %: below, the curve bends more sharply than any coarse table can follow.
        (soc.iter().zip(&ocv).filter(|(s, _)| **s > 0.12))
            .map(|(s, v)| (coarse.at(*s) - v).abs())
            .fold(0.0, f64::max)
    };
    assert!(
        error(Interpolation::Monotone) < 0.035,
        "{}",
        error(Interpolation::Monotone)
    );
    assert!(error(Interpolation::Monotone) <= error(Interpolation::Linear));
}
