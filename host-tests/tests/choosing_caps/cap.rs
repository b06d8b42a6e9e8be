//! The cap against every cap played.

use crate::props::{failing, prop, small, Frames};
use lampwright::build::prop::Prop;
use lampwright::study::cap::CapResult;
use lampwright::study::trace::{cap_of, Search, Trace as _};
use lampwright::study::verdict::Verdict;
use lampwright::study::watch::watch;
use proptest::prelude::*;

/// How the strips of a random prop are laid.
#[derive(Debug, Clone, Copy)]
enum Shape {
    /// One strip.
    One,
    /// Two strips behind one pair of leads: what one draws the other lacks.
    Two,
    /// One strip fed at both ends, a capacitor at its start.
    Loop,
}

fn shaped(
    shape: Shape,
    pixels: u32,
    rail_mohm: f64,
    wire_mm: f64,
    switch_mohm: f64,
    rating_a: f64,
    floor: u32,
) -> Prop {
    let strip = |name: &str| {
        format!("[parts.{name}]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = {pixels}\nrail-plus = \"{rail_mohm} mΩ\"\nrail-minus = \"{rail_mohm} mΩ\"\nrail-rating = \"{rating_a} A\"\n")
    };
    let wire = |from: &str, to: &str, mm: f64| {
        format!("[[wires]]\nfrom = \"{from}\"\nto = \"{to}\"\ngauge = \"26 AWG\"\nlength = \"{mm} mm\"\n")
    };
    let mut text = format!(
        "[prop]\nname = \"random\"\n[conditions]\nsoc-floor = \"{floor} %\"\n\
         [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.master]\nkind = \"switch\"\nresistance = \"{switch_mohm} mΩ\"\nrating = \"{rating_a} A\"\n"
    );
    text += &strip("s");
    match shape {
        Shape::One => {}
        Shape::Two => text += &strip("t"),
        Shape::Loop => {
            text += "[parts.c]\nkind = \"capacitor\"\nfrom = \"capacitor-electrolytic-470uf\"\n"
        }
    }
    text += &wire("cell.plus", "master.a", 50.0);
    text += &wire("master.b", "s.plus", wire_mm);
    text += &wire("s.minus", "cell.minus", wire_mm);
    match shape {
        Shape::One => {}
        Shape::Two => {
            text += &wire("s.plus", "t.plus", wire_mm);
            text += &wire("t.minus", "s.minus", wire_mm);
        }
        Shape::Loop => {
            text += &wire("master.b", "s.plus@end", 2.0 * wire_mm);
            text += &wire("s.minus@end", "cell.minus", 2.0 * wire_mm);
            text += &wire("c.plus", "s.plus", 10.0);
            text += &wire("c.minus", "s.minus", 10.0);
        }
    }
    prop(&text)
}

/// The highest cap at which, as at every dimmer one, nothing fails but what fails at the dimmest; every cap played.
pub(crate) fn brute(built: &Prop, trace: &Frames) -> u8 {
    let always = failing(built, trace, 1);
    let holds = |cap: &u8| {
        failing(built, trace, *cap)
            .iter()
            .all(|f| always.contains(f))
    };
    (1..=255u8).take_while(holds).last().unwrap()
}

fn screened(built: &Prop, trace: &Frames) -> CapResult {
    cap_of(built, trace, Search::Screened, &|_, _| {}).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// Against trying every cap, whatever the prop: no case is left out. One step more fails.
    #[test]
    fn the_cap_is_the_one_that_trying_all_256_gives(
        shape in prop_oneof![2 => Just(Shape::One), 1 => Just(Shape::Two), 1 => Just(Shape::Loop)],
        pixels in 2u32..14,
        rail in 1.0..30.0,
        wire in 20.0..1500.0,
        switch in 1.0..400.0,
        rating in 0.02..0.5,
        floor in 5u32..60,
        bright in prop::collection::vec(0u8..=255, 3..12),
        spread in 1u8..=255,
    ) {
        let built = shaped(shape, pixels, rail, wire, switch, rating, floor);
        let shown = built.pixels() as u16;
        let frames = bright.iter().enumerate().map(|(k, b)| {
            (0..usize::from(shown) * 3).map(|i| b.saturating_add((i * 7 * k) as u8 % spread)).collect()
        });
        let trace = Frames { pixels: shown, rate_hz: 30.0, frames: frames.collect() };
        let found = screened(&built, &trace);
        prop_assert_eq!(found.cap, Some(brute(&built, &trace)));
        prop_assert_eq!(found.one_above.is_some(), found.cap < Some(255));
        if let (Some(at), Some(above)) = (&found.at_cap, &found.one_above) {
            prop_assert!(at.verdict != Verdict::Fails && above.verdict == Verdict::Fails);
        }
    }
}

/// Ten full pixels beside thirty dim ones: at full drive the bright ones have no pulses, so that a little less of it
/// has the higher coincidence peak. A rating between the two holds at 255 and fails below.
#[test]
fn a_cap_that_holds_is_none_where_a_dimmer_one_fails() {
    let rated = |rating_a: f64| small(40, 2.0, 50.0, 5.0, rating_a, 20);
    let frame: Vec<u8> = (0..120).map(|i| if i < 30 { 255 } else { 4 }).collect();
    let trace = Frames {
        pixels: 40,
        rate_hz: 30.0,
        frames: vec![frame; 3],
    };
    let peak = |cap: u8| {
        let built = rated(5.0);
        let mut stream = trace.open(&built, cap).unwrap();
        let results = watch(&built, None, stream.as_mut(), &|_| {}).unwrap();
        results
            .iter()
            .find(|r| r.id == "rail-current")
            .unwrap()
            .worst
            .unwrap()
    };
    let (full, dimmer) = (peak(255), peak(240));
    assert!(
        dimmer > full * 1.01,
        "a case worth testing: {dimmer} {full}"
    );
    let built = rated(f64::midpoint(full, dimmer));
    assert!(failing(&built, &trace, 255).is_empty());
    let found = screened(&built, &trace);
    assert!(found.cap < Some(240), "{:?}", found.cap);
    assert_eq!(found.cap, Some(brute(&built, &trace)));
    assert_eq!(found.binding.as_deref(), Some("rail-current"));
    let every = cap_of(&built, &trace, Search::EveryCap, &|_, _| {}).unwrap();
    assert_eq!(every, found);
}

/// Between bright states changes are exempt: a light that is safe at full flashes when it is dimmed.
#[test]
fn a_dimmer_picture_that_flashes_bounds_the_cap() {
    let built = small(4, 2.0, 50.0, 5.0, 5.0, 20);
    let frames = (0..120).map(|k| vec![if k / 4 % 2 == 0 { 215 } else { 255 }; 12]);
    let trace = Frames {
        pixels: 4,
        rate_hz: 60.0,
        frames: frames.collect(),
    };
    assert!(failing(&built, &trace, 255).is_empty());
    let found = screened(&built, &trace);
    assert_eq!(found.binding.as_deref(), Some("flash-rate"));
    // The change is 40 of 255 at full: a tenth from cap 163 on, while the darker state stays below 0.8.
    assert_eq!(found.cap, Some(brute(&built, &trace)));
    assert!((150..170).contains(&found.cap.unwrap()), "{:?}", found.cap);
}
