//! The sweep against closed forms and full plays.

use crate::props::{flicker, prop, small, Frames};
use lampwright::build::folder::{read_prop, Choice};
use lampwright::study::sweep::design::{Design, Spread};
use lampwright::study::sweep::engine::{settings_of, Settings, Sweep};
use lampwright::study::sweep::summary::outcomes;
use lampwright::study::sweep::tolerance::tolerances;
use std::path::Path;

/// Supply at the board is EMF less a steady current times a sum of resistances, each normal: its margin is
/// normal too, and the chance of falling short is Φ(−mean/σ) in closed form.
#[test]
fn a_linear_gaussian_prop_fails_as_often_as_the_closed_form_says() {
    let built = prop(
        "[prop]\nname = \"linear\"\n[conditions]\naged-cell = false\n\
         [pixels.sink]\ndark-current = \"0 A\"\n\
         red = { current = \"20 mA\", off = \"0.1 V\", full = \"0.5 V\" }\n\
         green = { current = \"20 mA\", off = \"0.1 V\", full = \"0.5 V\" }\n\
         blue = { current = \"20 mA\", off = \"0.1 V\", full = \"0.5 V\" }\n\
         [parts.cell]\nkind = \"cell\"\ncapacity = \"500 Ah\"\nr0 = \"100 mΩ\"\ncut-off = \"2.5 V\"\n\
         ocv = { soc = [\"0 %\", \"100 %\"], voltage = [\"4 V\", \"4 V\"] }\n\
         [parts.a]\nkind = \"contact\"\nresistance = { value = \"300 mΩ\", tolerance = \"20 %\" }\n\
         [parts.b]\nkind = \"contact\"\nresistance = { value = \"300 mΩ\", tolerance = \"20 %\" }\n\
         [parts.board]\nkind = \"board\"\nlogic-current = \"0 A\"\nsupply-min = \"3.55 V\"\nregulator = { kind = \"direct\" }\n\
         [parts.s]\nkind = \"strip\"\npixel = \"sink\"\npixels = 10\nrail-plus = \"0 mΩ\"\nrail-minus = \"0 mΩ\"\n\
         [[wires]]\nfrom = \"cell.plus\"\nto = \"a.a\"\nresistance = \"0 Ω\"\n\
         [[wires]]\nfrom = \"a.b\"\nto = \"b.a\"\nresistance = \"0 Ω\"\n\
         [[wires]]\nfrom = \"b.b\"\nto = \"s.plus\"\nresistance = \"0 Ω\"\n\
         [[wires]]\nfrom = \"b.b\"\nto = \"board.supply\"\nresistance = \"0 Ω\"\n\
         [[wires]]\nfrom = \"s.minus\"\nto = \"cell.minus\"\nresistance = \"0 Ω\"\n\
         [[wires]]\nfrom = \"board.ground\"\nto = \"cell.minus\"\nresistance = \"0 Ω\"\n",
    );
    let trace = Frames {
        pixels: 10,
        rate_hz: 60.0,
        frames: vec![vec![255; 30]; 3],
    };
    let samples = 3000;
    let settings = Settings {
        spread: Spread::Normal,
        ..settings_of(&built, Design { seed: 11, samples }, 255)
    };
    let sweep = Sweep::new(&built, &trace, tolerances(&built), settings, &|_| {}).unwrap();
    let played = sweep.samples(&(0..samples).collect::<Vec<_>>()).unwrap();
    let checks: Vec<String> = sweep.checks().iter().map(|c| (*c).to_owned()).collect();
    let all = outcomes(&checks, &[], &played);
    let board = all.iter().find(|o| o.check == "board-supply").unwrap();
    // 0.6 A through 0.7 Ω from 4 V; the ends of each tolerance are two standard deviations away: 10 % of
    // 300 mΩ twice, and half of the cell's ±15 % of 100 mΩ.
    let sigma = 0.6 * (0.030_f64.powi(2) * 2.0 + 0.0075_f64.powi(2)).sqrt();
    let z = (4.0 - 0.6 * 0.7 - 3.55) / sigma;
    let closed = 0.5 * libm::erfc(z / std::f64::consts::SQRT_2);
    assert!(
        (0.05..0.3).contains(&closed),
        "a case worth testing: {closed}"
    );
    assert!(
        board.probability_low <= closed && closed <= board.probability_high,
        "{board:?} against {closed}"
    );
    // The margin that 95 % have: mean less 1.645 standard deviations, over the limit.
    let p95 = (4.0 - 0.6 * 0.7 - 3.55 - 1.644_854 * sigma) / 3.55;
    assert!(
        (board.margin_95.unwrap() - p95).abs() < 0.02 * sigma,
        "{board:?} {p95}"
    );
}

#[test]
fn a_digest_gives_the_verdicts_of_the_whole_trace() {
    let built = small(16, 12.0, 600.0, 60.0, 0.30, 20);
    let trace = flicker(16, 1200);
    let sweep = |full| {
        let settings = Settings {
            full,
            ..settings_of(
                &built,
                Design {
                    seed: 3,
                    samples: 120,
                },
                255,
            )
        };
        let sweep = Sweep::new(&built, &trace, tolerances(&built), settings, &|_| {}).unwrap();
        (
            sweep.samples(&(0..120).collect::<Vec<_>>()).unwrap(),
            sweep.frames(),
        )
    };
    let ((short, frames), (whole, _)) = (sweep(false), sweep(true));
    assert!(frames.0 * 4 < frames.1, "{frames:?}");
    assert!(short.iter().filter(|s| s.full).count() < 60);
    let mut failing = 0;
    for (a, b) in short.iter().zip(&whole) {
        for (x, y) in a.margins.iter().zip(&b.margins) {
            assert_eq!(*x < 0.0, *y < 0.0, "sample {}: {a:?} {b:?}", a.index);
            assert!(
                (x - y).abs() < 0.02 || x == y,
                "sample {}: {x} {y}",
                a.index
            );
            failing += u32::from(*x < 0.0);
        }
    }
    assert!(
        (20..700).contains(&failing),
        "verdicts of both kinds: {failing}"
    );
}

#[test]
fn any_number_of_threads_gives_the_same_samples() {
    let built = small(8, 12.0, 600.0, 60.0, 0.2, 20);
    let trace = flicker(8, 200);
    let play = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let settings = settings_of(
                &built,
                Design {
                    seed: 8,
                    samples: 40,
                },
                255,
            );
            let sweep = Sweep::new(&built, &trace, tolerances(&built), settings, &|_| {}).unwrap();
            sweep.samples(&(0..40).collect::<Vec<_>>()).unwrap()
        })
    };
    let one = play(1);
    assert_eq!(one, play(3));
    assert!(one.iter().any(|s| s.shares != one[0].shares));
}

/// Where a spread comes from is said for each: a source, or that it is common practice, from memory or the builder's own.
#[test]
fn every_tolerance_of_the_demo_props_says_where_it_comes_from() {
    for name in ["lantern-staff", "stage-torch"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../traces")
            .join(name);
        let built = read_prop(&folder, &Choice::default()).unwrap();
        let all = tolerances(&built);
        assert!(all.len() > 20, "{name}: {}", all.len());
        for t in &all {
            assert!(
                t.source.trim().len() > 8,
                "{name}, {}: {:?}",
                t.name,
                t.source
            );
        }
    }
}
