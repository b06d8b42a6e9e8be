//! The light of frames drawn once for many settings, against the frames of each setting.

use crate::props::{flicker, prop, Frames};
use lampwright::build::prop::Prop;
use lampwright::profile::figures::Light;
use lampwright::profile::{Chunk, FrameStream, LightMeter, Played, Uncapped};
use lampwright::strategies::{cue_file, show, Ranges, Show};
use lampwright::study::flashes::{
    first_flashing, first_flashing_of, AtBudgets, AtCaps, Behind, DrawnOnce as _,
};
use lampwright::study::limit::Estimate;
use lampwright::study::screen::Known;
use lampwright::study::trace::Trace as _;
use lampwright::study::verdict::Verdict;
use lampwright_model::{Channels, Engine, Millis};
use proptest::prelude::*;

/// A prop whose strips take the frames of a preset: with white, the last pixels are of a type without.
fn wired(pixels: u16, channels: Channels) -> Prop {
    let strip = |name: &str, pixel: &str, count: u16| {
        format!("[parts.{name}]\nkind = \"strip\"\npixel = \"{pixel}\"\npixels = {count}\nrail-plus = \"1 mΩ\"\nrail-minus = \"1 mΩ\"\n")
    };
    let mut text =
        "[prop]\nname = \"random\"\n[parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n"
            .to_owned();
    match channels {
        Channels::Rgb => text += &strip("s", "ws2812b", pixels),
        Channels::Rgbw => {
            text += &strip("s", "sk6812rgbw", pixels - pixels / 3);
            if pixels >= 3 {
                text += &strip("t", "ws2812b", pixels / 3);
            }
        }
    }
    prop(&text)
}

fn lights(meter: &LightMeter, mut stream: impl FrameStream) -> Vec<Light> {
    let (mut chunk, mut all) = (Chunk::default(), Vec::new());
    while stream.fill(&mut chunk, 100).unwrap() > 0 {
        all.extend(chunk.frames().map(|(_, levels)| meter.read(levels)));
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn a_preset_drawn_once_has_the_light_of_every_cap(
        Show { preset, cues } in show(&Ranges::brief()),
        caps in prop::collection::vec(any::<u8>(), 1..4),
    ) {
        let cues = cue_file("random", &cues, 1000);
        let rate = f64::from(preset.frame_rate_hz);
        let played = || Played::new(Engine::new(&preset).unwrap(), &cues, rate);
        let meter = LightMeter::of(&wired(preset.pixels, preset.channels));
        let mut drawn = Uncapped::new(played(), &meter);
        let mut seen = vec![Vec::new(); caps.len()];
        while drawn.draw(64).unwrap() > 0 {
            for (seen, cap) in seen.iter_mut().zip(&caps) {
                seen.extend(drawn.lights(*cap).map(|(_, light)| light));
            }
        }
        for (seen, cap) in seen.into_iter().zip(caps) {
            prop_assert_eq!(seen, lights(&meter, played().with_cap(cap)));
        }
    }

    #[test]
    fn the_first_cap_that_flashes_is_the_same_drawn_once_or_each_for_itself(
        Show { preset, cues } in show(&Ranges::brief()),
    ) {
        let cues = cue_file("random", &cues, 1000);
        let rate = f64::from(preset.frame_rate_hz);
        let played = || Played::new(Engine::new(&preset).unwrap(), &cues, rate);
        let built = wired(preset.pixels, preset.channels);
        let drawn = AtCaps(Uncapped::new(played(), &LightMeter::of(&built)));
        let caps: Vec<u8> = (1..=255).step_by(11).collect();
        let once = first_flashing(&built, drawn, caps.iter().copied(), &KNOWN).unwrap();
        let open = |cap| Ok(Box::new(played().with_cap(cap)) as Box<dyn FrameStream + '_>);
        prop_assert_eq!(once, first_flashing_of(&built, &caps, &open, &KNOWN).unwrap());
    }
}

const KNOWN: Known<'static> = Known {
    dimmest: &[],
    mendable: &|r| matches!(r.verdict, Verdict::Fails),
    judged: &|_| true,
};

/// Four flashes a second of white: the first cap at which they are a tenth of full light, drawn once as well as alone.
#[test]
fn flashes_are_found_at_the_cap_where_they_reach_a_tenth() {
    let frame = |k: usize| vec![if (k / 7).is_multiple_of(2) { 0 } else { 255 }; 6];
    let trace = Frames {
        pixels: 2,
        rate_hz: 60.0,
        frames: (0..180).map(frame).collect(),
    };
    let built = wired(2, Channels::Rgb);
    let caps: Vec<u8> = (1..=255).collect();
    let open = |cap| trace.open(&built, cap);
    let first = first_flashing_of(&built, &caps, &open, &KNOWN).unwrap();
    // 0.1 of 255 is 25.5.
    assert_eq!(first.map(|place| caps[place]), Some(26));
}

/// The light of frames behind limiters, against one limiter that dims them one after the other.
#[test]
fn frames_drawn_once_have_the_light_of_every_budget() {
    let trace = flicker(9, 700);
    let built = wired(9, Channels::Rgb);
    let (estimate, meter) = (Estimate::of(&built), LightMeter::of(&built));
    let budgets = [0.02, 0.1, 0.15, 1.0];
    let mut drawn = AtBudgets::new(trace.open(&built, 255).unwrap(), meter.clone());
    let mut behind = budgets.map(|a| (Behind::new(estimate.limiter(a)), Vec::new()));
    while let Some(frames) = drawn.draw().unwrap() {
        for (setting, seen) in &mut behind {
            AtBudgets::look(frames, setting, |light, _| seen.push(*light));
        }
    }
    for (budget, (_, seen)) in budgets.iter().zip(behind) {
        let mut limiter = estimate.limiter(*budget);
        let mut dimmed = 0;
        let alone: Vec<Light> = (0u32..)
            .zip(&trace.frames)
            .map(|(k, levels)| {
                let mut levels = levels.clone();
                let now = Millis((f64::from(k) / 60.0 * 1e3).round() as u32);
                dimmed += usize::from(limiter.apply(now, &mut levels).dimmed());
                meter.read(&levels)
            })
            .collect();
        assert_eq!(seen, alone, "{budget} A");
        assert_eq!(dimmed == 0, *budget > 0.5, "{budget} A: {dimmed} dimmed");
    }
}
