//! The property-test kit on engines that are not this project's: a worked example of one that holds, and
//! faulty ones that must be caught.
//!
//! Start from [`Hearth`] and the tests `a_hearth_...`: they are what one writes for an engine of one's own.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod own_engine_parts;

use lampwright::build::diag::Source;
use lampwright::build::pack::BoardData;
use lampwright::build::preset::{read_preset, StripMap};
use lampwright::strategies::{
    build, cue_trace, frames, preset_toml, properties, show, start, BuildRanges, Ranges, Run, Show,
};
use lampwright_model::preset::Paint;
use lampwright_model::{Channels, Cue, Engine, FrameSource, Layout};
use own_engine_parts::{board, Fault, Hearth, Misled, TIMING};
use proptest::prelude::*;
use proptest::test_runner::{TestCaseError, TestError, TestRunner};

/// Budget of [`Hearth`], µA.
const BUDGET_UA: u32 = 400_000;

fn hearth() -> Hearth {
    Hearth::new(Fault::None)
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

fn hearth_cues() -> impl Strategy<Value = Vec<(u32, Cue)>> {
    cue_trace(TIMING.rise_on, TIMING.fall_on, &Ranges::brief())
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn a_hearth_is_sound_and_repeats_itself(cues in hearth_cues(), start in start()) {
        let run = Run { start, ..Run::of(&cues) };
        properties::sound(hearth, &run)?;
        properties::deterministic(hearth, &run)?;
    }

    #[test]
    fn a_hearth_keeps_its_cap(cues in hearth_cues(), caps in any::<(u8, u8)>()) {
        properties::monotone_cap(hearth, &Run::of(&cues), caps)?;
    }

    #[test]
    fn a_hearth_keeps_its_budget_and_does_not_flash(cues in hearth_cues()) {
        let run = Run::of(&cues);
        properties::within_budget(hearth, &run, &board(), BUDGET_UA)?;
        properties::flash_rate(hearth, &run, 3)?;
    }

    #[test]
    fn a_hearth_is_on_time(offset_ms in 0..100u32, period_ms in 1..40u32) {
        let timing = properties::Timing { period_ms, ..TIMING };
        properties::on_time(hearth, &timing, offset_ms)?;
    }

    /// The engine of this project under its own kit. Its presets may flash and know no budget.
    #[test]
    fn the_engine_holds_under_the_kit(show in show(&Ranges::brief()), caps in any::<(u8, u8)>()) {
        let make = || Engine::new(&show.preset).unwrap();
        let run = Run::of(&show.cues);
        properties::sound(make, &run)?;
        properties::deterministic(make, &run)?;
        properties::monotone_cap(make, &run, caps)?;
    }

    /// What the strategies call a build is one, and every part of it is in its netlist.
    #[test]
    fn every_build_drawn_is_read(drawn in build(&BuildRanges::default())) {
        let prop = drawn.prop();
        prop_assert!(prop.is_ok(), "{}", prop.unwrap_err());
        let prop = prop.unwrap();
        prop_assert!(prop.cell().is_some() && prop.pixels() > 0);
        prop_assert!(lampwright::profile::board_data::board_data(&prop).is_ok());
    }

    #[test]
    fn frames_drawn_are_whole(pixels in 1..50u16, more in any::<prop::sample::Index>()) {
        let layout = Layout { pixels, channels: Channels::Rgbw };
        let mut runner = TestRunner::deterministic();
        let most = 1 + more.index(20);
        let drawn = frames(layout, most).new_tree(&mut runner).unwrap();
        let bytes = proptest::strategy::ValueTree::current(&drawn);
        prop_assert!(!bytes.is_empty() && bytes.len().is_multiple_of(layout.frame_len()));
        prop_assert!(bytes.len() <= most * layout.frame_len());
    }
}

/// Runs a property on a faulty hearth; returns what breaks it after shrinking, with the cues left.
fn broken(
    fault: Fault,
    property: impl Fn(&dyn Fn() -> Hearth, &Run<'_>) -> Result<(), lampwright::strategies::Broken>,
) -> (String, Vec<(u32, Cue)>) {
    let make = move || Hearth::new(fault);
    let mut runner = TestRunner::new_with_rng(
        cases(200),
        proptest::test_runner::TestRng::deterministic_rng(Default::default()),
    );
    let result = runner.run(&hearth_cues(), |cues| {
        property(&make, &Run::of(&cues)).map_err(|e| TestCaseError::fail(e.to_string()))
    });
    match result {
        Err(TestError::Fail(reason, cues)) => (reason.to_string(), cues),
        other => panic!("{fault:?} was not caught: {other:?}"),
    }
}

#[test]
fn each_property_catches_the_fault_it_is_for() {
    let board: BoardData = board();
    let (why, cues) = broken(Fault::PanicsOnKnock, |make, run| {
        properties::sound(make, run)
    });
    assert!(why.contains("panic: knocked too hard"), "{why}");
    // Of all the cues only the knock is left, after the press that every trace starts with.
    assert!(
        matches!(cues[..], [(0, _), (_, Cue::Knock { .. })]),
        "{cues:?}"
    );

    let (why, _) = broken(Fault::LeavesAByte, |make, run| properties::sound(make, run));
    assert!(why.contains("blue of pixel 11 is left as it was"), "{why}");
    let (why, _) = broken(Fault::GlowsInTheDark, |make, run| {
        properties::sound(make, run)
    });
    assert!(why.contains("dark, but red of pixel 0 is lit"), "{why}");
    let (why, _) = broken(Fault::ReadsTheClock, |make, run| {
        properties::deterministic(make, run)
    });
    assert!(why.contains("start of the millisecond counter"), "{why}");
    let (why, _) = broken(Fault::Remembers, |make, run| {
        properties::deterministic(make, run)
    });
    assert!(why.contains("differs from run to run"), "{why}");
    let (why, _) = broken(Fault::CapWraps, |make, run| {
        properties::monotone_cap(make, run, (100, 200))
    });
    assert!(why.contains("at cap 100"), "{why}");
    let (why, _) = broken(Fault::ForgetsDark, |make, run| {
        properties::within_budget(make, run, &board, BUDGET_UA)
    });
    assert!(why.contains("the budget is 400000 µA"), "{why}");
    let (why, _) = broken(Fault::Strobes, |make, run| {
        properties::flash_rate(make, run, 3)
    });
    assert!(why.contains("general flashes within one second"), "{why}");
    let (why, _) = broken(Fault::RisesSlowly, |make, _| {
        properties::on_time(make, &TIMING, 3)
    });
    assert!(
        why.contains("Rising, with a rise of") || why.contains("rising, with a rise of"),
        "{why}"
    );
}

/// The same without a fault: the checks above fail for the fault and nothing else.
#[test]
fn a_hearth_without_fault_passes_all_of_them() {
    let cues = [(0, TIMING.rise_on), (900, TIMING.fall_on)];
    let run = Run::of(&cues);
    properties::sound(hearth, &run).unwrap();
    properties::deterministic(hearth, &run).unwrap();
    properties::monotone_cap(hearth, &run, (100, 200)).unwrap();
    properties::within_budget(hearth, &run, &board(), BUDGET_UA).unwrap();
    properties::flash_rate(hearth, &run, 3).unwrap();
    properties::on_time(hearth, &TIMING, 3).unwrap();
}

/// An engine that goes wrong with one paint only: what a failed property shrinks to is a preset with
/// little else in it, and its text can be pasted into a file.
#[test]
fn a_fault_shrinks_to_a_small_preset_that_can_be_pasted() {
    let mut runner = TestRunner::new_with_rng(
        ProptestConfig {
            max_shrink_iters: 20_000,
            ..cases(500)
        },
        proptest::test_runner::TestRng::deterministic_rng(Default::default()),
    );
    let result = runner.run(&show(&Ranges::brief()), |Show { preset, cues }| {
        let make = || Misled::new(&preset);
        properties::deterministic(make, &Run::of(&cues))
            .map_err(|e| TestCaseError::fail(e.to_string()))
    });
    let Err(TestError::Fail(_, small)) = result else {
        panic!("not caught: {result:?}")
    };
    let text = format!("{small:?}");
    let layers = &small.preset.layers;
    assert_eq!(layers.len(), 1, "{text}");
    assert!(matches!(layers[0].paint, Paint::Sparks { .. }), "{text}");
    assert_eq!(
        (small.preset.pixels, small.preset.zones.len()),
        (1, 1),
        "{text}"
    );
    assert_eq!(small.cues.len(), 1, "{text}");
    // The text holds a preset and a trace, each after a remark with the name of its file.
    assert!(
        text.contains("# presets/show.toml") && text.contains("# cues/show.csv"),
        "{text}"
    );
    let toml = preset_toml(&small.preset);
    assert!(text.contains(&toml));
    let layout = Engine::new(&small.preset).unwrap().layout();
    let read = read_preset(
        &Source::new("show.toml".to_owned(), toml),
        &StripMap::unnamed(layout),
    );
    assert_eq!(read.unwrap().preset, small.preset);
}
