//! Runtime against the frame-by-frame run and PyBaMM; standby.

use crate::props::{flicker, prop, small, Frames};
use lampwright::build::prop::Prop;
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::Moment;
use lampwright::profile::sound;
use lampwright::study::runtime::{runtime, standby, Use};
use lampwright_model::State;

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
    println!(
        "{} frames solved for {frames} of the frame-by-frame run",
        found.frames
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
