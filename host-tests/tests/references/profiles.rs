//! Cell profiles with tables over charge and temperature: terminal voltage to 0.1 mV of PyBaMM's, stepped as frames
//! are. Where a case has a lumped thermal model, its temperature to 1 mK as well.

use crate::describe::{cases, floats, list, number};
use crate::statics::off;
use crate::table::{Line, Measured};
use lampwright::electrical::{
    Ageing, CellModel, CellState, Interpolation, RcPair, Table1, Table2, Thermal,
};
use serde_json::Value;

const VOLT: f64 = 1e-4;
const KELVIN: f64 = 1e-3;
/// Resistances are read at the start of a step: the steps are those of frames.
const FRAME_S: f64 = 1.0 / 60.0;

#[test]
fn profiles_are_those_of_the_battery_library() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    cases("cell-profiles.json", 8).iter().map(line).collect()
}

fn line(case: &Value) -> Line {
    let model = model(case);
    let mut state = CellState::at_rest(number(&case["soc"]), number(&case["celsius"]));
    let expected = &case["expected"];
    let samples: Vec<[f64; 3]> = (floats(&expected["t_s"]).into_iter())
        .zip(floats(&expected["v"]))
        .zip(floats(&expected["soc"]))
        .map(|((t, v), soc)| [t, v, soc])
        .collect();
    let celsius = expected.get("celsius").map(floats);
    if let Some(celsius) = &celsius {
        let (least, most) = celsius
            .iter()
            .fold((f64::MAX, f64::MIN), |(l, m), c| (l.min(*c), m.max(*c)));
        assert!(
            most - least > 5.0,
            "{}: hardly changes its temperature",
            case["id"]
        );
    }
    let mut kelvin = 0.0_f64;
    let segments: Vec<Vec<f64>> = list(&case["segments"]).iter().map(floats).collect();
    let (mut now, mut compared, mut volt) = (0.0, 0, 0.0_f64);
    for (k, segment) in segments.iter().enumerate() {
        let end = segments.get(k + 1).map_or(number(&case["end_s"]), |s| s[0]);
        for [t, v, soc] in samples.iter().filter(|s| s[0] > segment[0] && s[0] < end) {
            go(&model, &mut state, segment[1], t - now);
            now = *t;
            volt = volt.max(off(model.terminal_v(&state, segment[1]), *v));
            assert!(
                off(state.soc, *soc) < 1e-8,
                "{} at {t} s: charge {}",
                case["id"],
                state.soc
            );
            if let Some(celsius) = &celsius {
                kelvin = kelvin.max(off(state.celsius, celsius[compared]));
            }
            compared += 1;
        }
        go(&model, &mut state, segment[1], end - now);
        now = end;
    }
    assert_eq!(compared, samples.len(), "{}: samples left out", case["id"]);
    let mut measured = vec![Measured::volt(volt, VOLT)];
    let mut source = "PyBaMM 26.10.1.1, Thevenin".to_owned();
    if celsius.is_some() {
        measured.push(Measured::kelvin(kelvin, KELVIN));
        source += " with its lumped thermal model";
    }
    Line::new(case, &source, measured)
}

fn go(model: &CellModel, state: &mut CellState, amp: f64, seconds: f64) {
    let mut left = seconds;
    while left > 0.0 {
        let step = left.min(FRAME_S);
        model.step(state, amp, step);
        left -= step;
    }
}

fn model(case: &Value) -> CellModel {
    let ocv = &case["ocv"];
    let interpolation = match ocv["interpolation"].as_str() {
        Some("linear") => Interpolation::Linear,
        Some("pchip") => Interpolation::Monotone,
        other => panic!("unknown interpolation {other:?}"),
    };
    let table = |t: &Value| {
        let rows: Vec<Vec<f64>> = list(&t["ohm"]).iter().map(floats).collect();
        Table2::new("ohm", &floats(&t["soc"]), &floats(&t["celsius"]), &rows).unwrap()
    };
    let model = CellModel {
        capacity_ah: number(&case["capacity_ah"]),
        ocv_v: Table1::new(
            "ocv",
            &floats(&ocv["soc"]),
            &floats(&ocv["v"]),
            interpolation,
        )
        .unwrap(),
        r0_ohm: table(&case["r0"]),
        rc: (list(&case["rc"]).iter())
            .map(|p| RcPair {
                ohm: table(&p["ohm"]),
                farad: Table2::constant(number(&p["farad"])),
            })
            .collect(),
        ageing: Ageing::default(),
        thermal: case.get("thermal").map(|t| Thermal {
            joule_per_k: number(&t["joule_per_k"]),
            watt_per_k: number(&t["watt_per_k"]),
            ambient_c: number(&t["ambient_c"]),
        }),
    };
    model.check("cell").unwrap();
    model
}
