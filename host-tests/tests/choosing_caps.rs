//! Choosing caps: the search against brute force, the sweep against closed forms, runtime against the
//! frame-by-frame run and against an outside cell model.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::diag::{InputErrors, Source};
use lampwright::build::file::read_build;
use lampwright::build::prop::Prop;
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::Moment;
use lampwright::profile::{cap_levels, sound, Chunk, FrameMeta, FrameStream};
use lampwright::study::limit::{find_budget, Estimate, STEP_A};
use lampwright::study::runtime::{runtime, standby, Use};
use lampwright::study::sweep::design::{Design, Spread};
use lampwright::study::sweep::engine::{settings_of, Settings, Sweep};
use lampwright::study::sweep::summary::outcomes;
use lampwright::study::sweep::tolerance::tolerances;
use lampwright::study::trace::{cap_of, Trace};
use lampwright::study::verdict::Verdict;
use lampwright::study::watch::watch;
use lampwright_model::{Channels, Layout, Preset, State};
use proptest::prelude::*;

/// Frames from memory, as many pixels as the prop has.
struct Frames {
    pixels: u16,
    rate_hz: f64,
    frames: Vec<Vec<u8>>,
}

struct Reel<'a> {
    of: &'a Frames,
    cap: u8,
    next: usize,
}

impl FrameStream for Reel<'_> {
    fn layout(&self) -> Layout {
        Layout {
            pixels: self.of.pixels,
            channels: Channels::Rgb,
        }
    }

    fn period_s(&self) -> f64 {
        1.0 / self.of.rate_hz
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.levels.clear();
        chunk.meta.clear();
        chunk.cues.clear();
        chunk.frame_len = usize::from(self.of.pixels) * 3;
        while chunk.meta.len() < frames && self.next < self.of.frames.len() {
            let mut levels = self.of.frames[self.next].clone();
            cap_levels(&mut levels, self.cap);
            chunk.levels.extend(levels);
            chunk.meta.push(FrameMeta {
                index: self.next as u64,
                time_s: self.next as f64 / self.of.rate_hz,
                state: Some(State::Lit),
                layers: Default::default(),
                cue: None,
                new_cues: 0,
                first_cue: 0,
            });
            self.next += 1;
        }
        Ok(chunk.meta.len())
    }
}

impl Trace for Frames {
    fn preset_name(&self) -> Option<String> {
        None
    }
    fn cues_name(&self) -> String {
        "from memory".to_owned()
    }
    fn preset(&self) -> Option<&Preset> {
        None
    }
    fn length_s(&self) -> Option<f64> {
        Some(self.frames.len() as f64 / self.rate_hz)
    }
    fn open(&self, _: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        Ok(Box::new(Reel {
            of: self,
            cap,
            next: 0,
        }))
    }
}

fn prop(text: &str) -> Prop {
    read_build(&Source::new("test.toml", text)).unwrap_or_else(|e| panic!("{e:?}"))
}

/// A cell, two wires, a switch, a strip.
fn small(
    pixels: u32,
    rail_mohm: f64,
    wire_mm: f64,
    switch_mohm: f64,
    rating_a: f64,
    floor: u32,
) -> Prop {
    prop(&format!(
        "[prop]\nname = \"small\"\n[conditions]\nsoc-floor = \"{floor} %\"\n\
         [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.master]\nkind = \"switch\"\nresistance = \"{switch_mohm} mΩ\"\nrating = \"{rating_a} A\"\n\
         [parts.s]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = {pixels}\nrail-plus = \"{rail_mohm} mΩ\"\nrail-minus = \"{rail_mohm} mΩ\"\nrail-rating = \"{rating_a} A\"\n\
         [[wires]]\nfrom = \"cell.plus\"\nto = \"master.a\"\ngauge = \"26 AWG\"\nlength = \"50 mm\"\n\
         [[wires]]\nfrom = \"master.b\"\nto = \"s.plus\"\ngauge = \"26 AWG\"\nlength = \"{wire_mm} mm\"\n\
         [[wires]]\nfrom = \"s.minus\"\nto = \"cell.minus\"\ngauge = \"26 AWG\"\nlength = \"{wire_mm} mm\"\n"
    ))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// Against trying every cap. What no cap mends is what fails at the dimmest setting too.
    ///
    /// The cap found always holds, and one step more fails. It is the highest of all that hold wherever
    /// the failing caps are the upper ones. That is not always so: with levels rounded to 8 bits and a
    /// channel at full drive having no pulses, the coincidence peak can fall by a hair as drive rises, and
    /// then a hole of a few caps can open at the edge; `find_cap` documents that.
    #[test]
    fn the_cap_is_the_one_that_trying_all_256_gives(
        pixels in 2u32..14,
        rail in 1.0..30.0,
        wire in 20.0..1500.0,
        switch in 1.0..400.0,
        rating in 0.02..0.5,
        floor in 5u32..60,
        bright in prop::collection::vec(0u8..=255, 3..10),
    ) {
        let built = small(pixels, rail, wire, switch, rating, floor);
        let frames = bright.iter().enumerate().map(|(k, b)| {
            (0..pixels as usize * 3).map(|i| b.saturating_add((i * 7 * k) as u8 % 40)).collect()
        });
        let trace = Frames { pixels: pixels as u16, rate_hz: 30.0, frames: frames.collect() };
        let failing = |cap: u8| -> Vec<(String, String, &str)> {
            let mut stream = trace.open(&built, cap).unwrap();
            let results = watch(&built, None, stream.as_mut(), &|_| {}).unwrap();
            let timing = ["frame-time", "response-time", "rise-fall-time", "polarity", "runtime"];
            let failing = results.into_iter().filter(|r| r.verdict == Verdict::Fails && !timing.contains(&r.id));
            let part = |p: Option<String>| p.unwrap_or_default().split('[').next().unwrap().to_owned();
            failing.map(|r| (r.id.to_owned(), part(r.part), r.unit)).collect()
        };
        let always = failing(1);
        let mended = |cap: u8| failing(cap).iter().all(|f| always.contains(f));
        let holds: Vec<bool> = (1..=255u8).map(mended).collect();
        let brute = (1..=255u8).rev().find(|cap| holds[usize::from(*cap) - 1]);
        let no_hole = holds.windows(2).all(|w| w[0] || !w[1]);
        let found = cap_of(&built, &trace, &|_, _| {}).unwrap();
        if no_hole {
            prop_assert_eq!(found.cap, brute);
        }
        prop_assert!(found.cap.is_none_or(mended), "the cap holds");
        if let Some(cap) = found.cap.filter(|c| *c < 255) {
            prop_assert!(!mended(cap + 1), "one step more fails");
            prop_assert!(found.one_above.is_some());
        }
    }
}

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

/// A strip that flickers about, so that a digest has something to lose.
fn flicker(pixels: usize, frames: usize) -> Frames {
    let mut state = 9u32;
    let mut next = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let mut level = vec![128u8; pixels * 3];
    let frames = (0..frames).map(|k| {
        let swell = (k as f64 / 40.0).sin() * 60.0;
        for l in &mut level {
            let drift = f64::from(next() % 31) - 15.0;
            *l = (f64::from(*l) * 0.95 + (150.0 + swell) * 0.05 + drift).clamp(0.0, 255.0) as u8;
        }
        level.clone()
    });
    Frames {
        pixels: pixels as u16,
        rate_hz: 60.0,
        frames: frames.collect(),
    }
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

/// Plays a trace over and over, frame by frame, until the cell's voltage falls below its cut-off.
fn frame_by_frame(
    built: &Prop,
    trace: &Frames,
    condition: Condition,
    cut_off_v: f64,
) -> (f64, u64) {
    let mut bench = Bench::new(built, condition).unwrap();
    let period = 1.0 / trace.rate_hz;
    let mut frame = 0u64;
    loop {
        let moment = Moment {
            frame,
            time_s: frame as f64 * period,
            state: Some(State::Lit),
            layers: Default::default(),
            cue: None,
            new_cues: 0,
        };
        let levels = &trace.frames[(frame % trace.frames.len() as u64) as usize];
        let figures = bench.step(levels, moment, period, sound::level(&built.sound, &moment));
        if figures.cell_peak_v.is_nan() || figures.cell_peak_v < cut_off_v {
            return (frame as f64 * period, frame);
        }
        frame += 1;
        assert!(frame < 5_000_000, "never empty");
    }
}

#[test]
fn runtime_is_that_of_the_frame_by_frame_run_and_takes_a_hundredth_of_it() {
    let mut built = small(12, 3.0, 100.0, 20.0, 5.0, 20);
    for part in &mut built.parts {
        if let lampwright::build::prop::PartKind::Cell(cell) = &mut part.kind {
            // An ampere hour and a fifth, so that the whole run is short enough for a test.
            use lampwright::units::Quantity;
            let small = Quantity::from_si(1.2 * 3600.0);
            (cell.capacity.nominal, cell.capacity.low, cell.capacity.high) = (small, small, small);
            for map in
                std::iter::once(&mut cell.r0).chain(cell.rc.iter_mut().map(|p| &mut p.resistance))
            {
                map.value.iter_mut().flatten().for_each(|r| *r *= 3.0);
            }
        }
    }
    // A loop of five seconds: a small share of the whole.
    let trace = flicker(12, 300);
    let condition = Condition {
        soc: 1.0,
        ..Condition::nominal()
    };
    let (whole_s, frames) = frame_by_frame(&built, &trace, condition, 2.5);
    let uses = [Use {
        trace: &trace,
        share: 1.0,
    }];
    let found = runtime(&built, &uses, condition, 255).unwrap();
    let minutes = found.ends[0].minutes.unwrap();
    let off = minutes * 60.0 / whole_s - 1.0;
    assert!(
        off.abs() < 0.01,
        "{minutes} min against {} min",
        whole_s / 60.0
    );
    // The bound that is given holds, with one loop's length for the place within the loop.
    assert!(
        off.abs() <= found.error_share + 5.0 / whole_s,
        "{off} {found:?}"
    );
    assert!(found.frames * 100 <= frames, "{} of {frames}", found.frames);
}

/// Discharge at constant current from 4.2 V to 2.5 V, ampere hours: PyBaMM 26.10.1.1, DFN model, set
/// Chen2020, 25 °C, isothermal.
#[test]
fn constant_current_runtime_is_that_of_pybamm() {
    for (current_a, pybamm_ah) in [(1.0, 5.117), (2.5, 5.069), (5.0, 4.992)] {
        let channel = current_a / 30.0;
        let built = prop(&format!(
            "[prop]\nname = \"drain\"\n[pixels.sink]\ndark-current = \"0 A\"\n\
             red = {{ current = \"{channel} A\", off = \"0.1 V\", full = \"0.5 V\" }}\n\
             green = {{ current = \"{channel} A\", off = \"0.1 V\", full = \"0.5 V\" }}\n\
             blue = {{ current = \"{channel} A\", off = \"0.1 V\", full = \"0.5 V\" }}\n\
             [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
             [parts.s]\nkind = \"strip\"\npixel = \"sink\"\npixels = 10\nrail-plus = \"0 mΩ\"\nrail-minus = \"0 mΩ\"\n\
             [[wires]]\nfrom = \"cell.plus\"\nto = \"s.plus\"\nresistance = \"0 Ω\"\n\
             [[wires]]\nfrom = \"s.minus\"\nto = \"cell.minus\"\nresistance = \"0 Ω\"\n"
        ));
        let trace = Frames {
            pixels: 10,
            rate_hz: 10.0,
            // Long enough that the cell's RC pair settles within one pass.
            frames: vec![vec![255; 30]; 3000],
        };
        let condition = Condition {
            soc: 1.0,
            ..Condition::nominal()
        };
        let uses = [Use {
            trace: &trace,
            share: 1.0,
        }];
        let found = runtime(&built, &uses, condition, 255).unwrap();
        let hours = found.ends[0].minutes.unwrap() / 60.0;
        let off = hours * current_a / pybamm_ah - 1.0;
        assert!(off.abs() < 0.02, "{current_a} A: {hours} h, {off:+.4} off");
        assert!((found.mean_a - current_a).abs() < 1e-6);
    }
}

#[test]
fn a_forgotten_prop_drains_by_its_dark_current_only_while_switched_on() {
    let built = small(100, 1.0, 100.0, 20.0, 5.0, 20);
    let found = standby(&built).unwrap();
    let dark = built.strips().next().unwrap().1.pixel.dark.nominal;
    let expected = 100.0 * lampwright::units::Quantity::si(dark);
    assert!(
        (found.on_a.unwrap() / expected - 1.0).abs() < 1e-3,
        "{found:?} {expected}"
    );
    assert!(found.off_a.unwrap() < 1e-6, "{found:?}");
    assert!(found.on_hours.unwrap() > 10.0);
}

#[test]
fn a_limiter_holds_at_its_budget_and_fails_one_step_above() {
    let built = small(14, 12.0, 900.0, 60.0, 0.22, 20);
    let trace = flicker(14, 240);
    let found = find_budget(&built, &[&trace], &|_, _| {}).unwrap();
    assert!(
        found.budget_a < found.largest_estimate_a - STEP_A,
        "{found:?}"
    );
    let estimate = Estimate::of(&built);
    let failing = |frames: Vec<Vec<u8>>| -> Vec<(String, String, &str)> {
        let limited = Frames {
            pixels: 14,
            rate_hz: trace.rate_hz,
            frames,
        };
        let mut stream = limited.open(&built, 255).unwrap();
        let results = watch(&built, None, stream.as_mut(), &|_| {}).unwrap();
        let part = |p: Option<String>| p.unwrap_or_default().split('[').next().unwrap().to_owned();
        let failing = results.into_iter().filter(|r| r.verdict == Verdict::Fails);
        failing
            .map(|r| (r.id.to_owned(), part(r.part), r.unit))
            .collect()
    };
    let at = |budget_a: f64| {
        // The board's limiter, which lets go slowly: what it does depends on the frames before.
        let mut limiter = estimate.limiter(budget_a);
        let dim = |(n, f): (usize, &Vec<u8>)| {
            let mut f = f.clone();
            let ms = (n as f64 * 1e3 / trace.rate_hz).round() as u32;
            limiter.apply(lampwright_model::Millis(ms), &mut f);
            assert!(estimate.current_a(&f) <= budget_a, "never above its budget");
            f
        };
        failing(trace.frames.iter().enumerate().map(dim).collect())
    };
    // What the dimmest setting leaves failing is not the limiter's to mend.
    let dimmest = trace.frames.iter().map(|f| {
        let mut f = f.clone();
        cap_levels(&mut f, 1);
        f
    });
    let always = failing(dimmest.collect());
    assert!(at(found.budget_a).iter().all(|f| always.contains(f)));
    assert!(at(found.budget_a + STEP_A)
        .iter()
        .any(|f| !always.contains(f)));
    assert!(found.light[0].unwrap().luminous_share < 1.0);
}
