//! The bench sheet against hand-worked resistances and the solver, and fault diagnosis on both demo props.

use super::builds::{read, RIGHT};
use lampwright::build::prop::Prop;
use lampwright::study::bench_sheet::faults::{all, Fault};
use lampwright::study::bench_sheet::judge::{readings, Hypotheses};
use lampwright::study::bench_sheet::states::plain;
use lampwright::study::bench_sheet::{bench_sheet, judge, BenchSheet, RowVerdict, OPEN_OHM};
use std::fmt::Write as _;
use std::path::Path;

fn demo(name: &str) -> Prop {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces");
    read(&std::fs::read_to_string(root.join(name).join("build.toml")).unwrap())
}

fn sheet_of(prop: &Prop) -> BenchSheet {
    bench_sheet(prop, plain(prop, prop.cap))
}

fn expected(sheet: &BenchSheet, what: &str, when: &str) -> f64 {
    let row = sheet
        .rows
        .iter()
        .find(|r| r.what == what && r.when.starts_with(when));
    let row = row.unwrap_or_else(|| {
        let all: Vec<String> = sheet
            .rows
            .iter()
            .map(|r| format!("{} [{}]", r.what, r.when))
            .collect();
        panic!("no row {what:?} {when:?} in\n{}", all.join("\n"))
    });
    row.expected.unwrap_or(OPEN_OHM)
}

/// By hand, at 25 °C: 22 AWG is 52.96 mΩ/m at 20 °C (ASTM B258 diameter 0.6438 mm, resistivity 0.017241 Ω mm²/m),
/// 24 AWG 84.2 mΩ/m (diameter 0.5106 mm); times 1 + 0.00393 · 5 = 1.01965.
#[test]
fn resistances_are_those_worked_out_by_hand() {
    let text = RIGHT
        .replace("type = \"wire-22awg-ptfe\"", "gauge = \"22 AWG\"")
        .replace("type = \"wire-24awg-ptfe\"", "gauge = \"24 AWG\"")
        .replace("type = \"wire-28awg-ptfe\"", "gauge = \"28 AWG\"");
    let prop = read(&text);
    let sheet = sheet_of(&prop);
    let warm = 1.0 + 0.00393 * 5.0;
    let area = |d: f64| std::f64::consts::PI / 4.0 * d * d;
    let r22 = 0.017241 / area(0.6438) * warm;
    let r24 = 0.017241 / area(0.5106) * warm;
    let fuse = prop.parts.iter().find_map(|p| match &p.kind {
        lampwright::build::prop::PartKind::Fuse(f) => Some(f.resistance.si()),
        _ => None,
    });
    let fuse = fuse.unwrap();
    let cold = "cell out, switches on";
    let by_hand = [
        ("cell.plus ↔ fuse.a", 0.030 * r22),
        ("cell.plus ↔ fuse.b", 0.030 * r22 + fuse),
        ("cell.plus ↔ plus", 0.090 * r22 + fuse),
        ("cell.plus ↔ strip.plus", 0.190 * r22 + fuse),
        ("cell.plus ↔ board.supply", 0.090 * r22 + fuse + 0.050 * r24),
        // The toggle switch of the catalogue: 10 mΩ.
        ("cell.minus ↔ master.b", 0.050 * r22 + 0.010),
        ("cell.minus ↔ strip.minus", 0.210 * r22 + 0.010),
        ("resistor.a ↔ resistor.b", 330.0),
    ];
    for (what, ohm) in by_hand {
        let found = expected(&sheet, what, cold);
        assert!(
            (found - ohm).abs() < 2e-4 * ohm.max(0.05),
            "{what}: {found} against {ohm}"
        );
    }
    for what in [
        "cell.minus ↔ cell.plus",
        "strip.minus ↔ strip.plus",
        "strip.plus ↔ strip.data-in",
    ] {
        assert_eq!(expected(&sheet, what, cold), OPEN_OHM, "{what}");
    }
    assert_eq!(
        expected(&sheet, "master.a ↔ master.b", "cell out, switches off"),
        OPEN_OHM
    );
    let on = expected(&sheet, "cell.minus ↔ master.b", cold)
        - expected(&sheet, "cell.minus ↔ master.a", cold);
    assert!((on - 0.010).abs() < 1e-6, "{on}");
}

/// A strip fed at both ends: two ways in parallel, worked out by hand.
#[test]
fn parallel_ways_are_worked_out_as_such() {
    let text = format!("{RIGHT}\n[[wires]]\nname = \"X\"\nfrom = \"plus\"\nto = \"strip.plus@end\"\nresistance = \"50 mΩ\"\n")
        .replace("from = \"plus\"\nto = \"strip.plus\"\ntype = \"wire-22awg-ptfe\"\nlength = \"100 mm\"", "from = \"plus\"\nto = \"strip.plus\"\nresistance = \"20 mΩ\"")
        .replace("from = \"fuse.b\"\nto = \"plus\"\ntype = \"wire-22awg-ptfe\"\nlength = \"60 mm\"", "from = \"fuse.b\"\nto = \"plus\"\nresistance = \"0 mΩ\"");
    let prop = read(&text);
    let sheet = sheet_of(&prop);
    let rail = prop.strips().next().unwrap().1.rail_plus.si() * 9.0;
    let cold = "cell out, switches on";
    let bus = expected(&sheet, "cell.plus ↔ plus", cold);
    let start = expected(&sheet, "cell.plus ↔ strip.plus", cold) - bus;
    let by_hand = 1.0 / (1.0 / 0.020 + 1.0 / (0.050 + rail));
    assert!((start - by_hand).abs() < 1e-6, "{start} against {by_hand}");
}

/// The current of the supply is what the loads draw, from the figures of the data sheets alone.
#[test]
fn currents_agree_with_the_solver_and_with_the_parts() {
    let prop = read(RIGHT);
    let sheet = sheet_of(&prop);
    let dark = expected(
        &sheet,
        "current of the supply",
        "supply on, every pixel off",
    );
    let (_, strip) = prop.strips().next().unwrap();
    let (_, board) = prop.board().unwrap();
    let by_hand = f64::from(strip.pixels) * strip.pixel.dark.si()
        + board.logic.si()
        + board.card.as_ref().map_or(0.0, |c| c.si())
        + board.regulator.quiescent.si();
    assert!(
        (dark - by_hand).abs() < 0.01 * by_hand,
        "{dark} against {by_hand}"
    );
    // White: against one frame of the whole-prop bench with the same cell voltage within its own resistance.
    let white = expected(
        &sheet,
        "current of the supply",
        "supply on, every pixel white",
    );
    let mut bench = lampwright::profile::bench::Bench::new(
        &prop,
        lampwright::profile::condition::Condition::nominal(),
    )
    .unwrap();
    let moment = lampwright::profile::figures::Moment {
        frame: 0,
        time_s: 0.0,
        state: None,
        layers: Default::default(),
        cue: None,
        new_cues: 0,
    };
    let whole = bench
        .step(
            &vec![prop.cap; prop.pixels() as usize * 3],
            moment,
            0.1,
            0.0,
        )
        .cell_a;
    assert!(
        (white - whole).abs() < 0.03 * whole,
        "{white} against {whole}"
    );
    assert!(sheet.limit_a > white && sheet.limit_a < 1.25 * white + 0.2);
}

#[test]
fn a_sound_prop_is_judged_sound() {
    for name in ["lantern-staff", "stage-torch"] {
        let prop = demo(name);
        let sheet = sheet_of(&prop);
        let values: Vec<Option<f64>> = readings(&prop, &sheet, None)
            .into_iter()
            .map(Some)
            .collect();
        let judged = judge(&prop, &sheet, &values);
        assert!(
            judged.rows.iter().all(|r| *r == RowVerdict::InRange),
            "{name}"
        );
        assert_eq!(judged.causes[0].fault, None, "{name}: {:?}", judged.causes);
        let nothing = judge(&prop, &sheet, &vec![None; values.len()]);
        assert!(nothing.rows.iter().all(|r| *r == RowVerdict::Missing));
    }
}

/// What a hand meter on a real prop makes of a value: parts and meter differ from what was computed by a few per
/// cent, contacts by some hundredths of an ohm, and the last digit is rounded. The same on every run.
fn on_a_meter(unit: &str, value: f64, seed: u64) -> f64 {
    let mut x = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x1234_5678_9abc_def1;
    let mut random = || {
        x ^= x << 13;
        x ^= x >> 7;
        x ^= x << 17;
        (x % 20_001) as f64 / 10_000.0 - 1.0
    };
    let (a, b) = (random(), random());
    let (share, offset, step) = match unit {
        "Ω" if value >= OPEN_OHM => return value,
        "Ω" => (0.03, 0.02, 0.01),
        "V" => (0.03, 0.002, 0.001),
        "A" => (0.05, 0.003, 0.001),
        _ => return value,
    };
    let read =
        (value * (1.0 + share * a) + offset * b).max(if unit == "V" { f64::MIN } else { 0.0 });
    (read / step).round() * step
}

/// Every single fault in both demo props: where the ranking puts it. The table is committed.
#[test]
fn the_true_fault_comes_first_in_four_cases_of_five_and_within_three_always() {
    let mut table =
        String::from("| prop | fault | place in the ranking | named first |\n|---|---|---|---|\n");
    let (mut first, mut third, mut total) = (0, 0, 0);
    for name in ["lantern-staff", "stage-torch"] {
        let prop = demo(name);
        let sheet = sheet_of(&prop);
        let hypotheses = Hypotheses::of(&prop, &sheet);
        for fault in all(&prop) {
            // Readings as a meter shows them; the dead pixel sits elsewhere than the one in the hypothesis.
            let injected = match &fault {
                Fault::DeadPixel(part, pixel) => Fault::DeadPixel(*part, pixel / 2),
                other => other.clone(),
            };
            let values: Vec<Option<f64>> = readings(&prop, &sheet, Some(&injected))
                .into_iter()
                .zip(&sheet.rows)
                .enumerate()
                .map(|(k, (v, row))| Some(on_a_meter(row.unit, v, (total * 1000 + k + 1) as u64)))
                .collect();
            let ranked = hypotheses.rank(&sheet, &values);
            let place = ranked.iter().position(|(f, _)| *f == Some(&fault)).unwrap() + 1;
            total += 1;
            first += usize::from(place == 1);
            third += usize::from(place <= 3);
            let named = ranked[0]
                .0
                .map_or_else(|| "nothing is wrong".to_owned(), |f| f.words(&prop));
            let _ = writeln!(
                table,
                "| {name} | {} | {place} | {} |",
                fault.words(&prop),
                if place == 1 {
                    "the same".to_owned()
                } else {
                    named
                }
            );
        }
    }
    let _ = write!(
        table,
        "\n{first} of {total} first, {third} within the first three.\n"
    );
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/fault-diagnosis.md");
    let head = "# Fault diagnosis\n\nEvery single fault put into both demo props, read with parts and meter a few per cent off (up to 3 % and\n0.02 Ω, 3 % and 2 mV, 5 % and 3 mA), and where the ranking of `wiring --judge` puts the true fault. Faults and readings come\nfrom the same model of the netlist: the table shows that readings tell the faults apart, not that the model is right. Written by the test `wiring`; set `UPDATE_FAULT_TABLE=1` to write it again.\n\n";
    let text = format!("{head}{table}");
    if std::env::var_os("UPDATE_FAULT_TABLE").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    assert!(first * 5 >= total * 4, "{table}");
    assert_eq!(third, total, "{table}");
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(kept, text, "the committed table differs");
}
