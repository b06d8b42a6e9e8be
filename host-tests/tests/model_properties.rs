//! What must hold of the engine for every preset and every cue trace.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::strategies::{bare_cue, preset, show, start, Ranges, Show};
use lampwright_model::codec::{self, decode, encode, DecodeError};
use lampwright_model::{drive_level, Cue, Engine, LayerSet, Millis, Preset, State};
use proptest::prelude::*;

const BRIEF: Ranges = Ranges::brief();
/// Time after the last cue for which frames are compared, in ms.
const AFTER_MS: u32 = 2 * BRIEF.longest_ms;

/// What can be seen of an engine at one moment.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    at: u32,
    state: State,
    progress: u16,
    active: LayerSet,
    frame: Vec<u8>,
}

/// Plays a trace and looks at the times in `looks` (ascending, from the first cue on). A cue at
/// the time of a look comes before it.
fn play(preset: &Preset, start: Millis, cap: u8, trace: &[(u32, Cue)], looks: &[u32]) -> Vec<Seen> {
    let mut engine = Engine::new(preset).unwrap();
    engine.set_cap(cap);
    let mut cues = trace.iter().peekable();
    let mut seen = Vec::new();
    for &at in looks {
        while let Some((when, cue)) = cues.next_if(|(when, _)| *when <= at) {
            engine.cue(start.plus(*when), *cue);
        }
        let mut frame = vec![0xa5; preset.frame_len()];
        let state = engine.render(start.plus(at), &mut frame).unwrap();
        seen.push(Seen {
            at,
            state,
            progress: engine.progress(),
            active: engine.active_layers(),
            frame,
        });
    }
    seen
}

/// Times a period apart over the whole of a trace.
fn every(trace: &[(u32, Cue)], period: u32) -> Vec<u32> {
    let end = trace.last().map_or(0, |cue| cue.0) + AFTER_MS;
    (0..=end).step_by(period as usize).collect()
}

fn period_ms(preset: &Preset) -> u32 {
    1000 / u32::from(preset.frame_rate_hz)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn frames_do_not_depend_on_which_frames_were_rendered_before(
        Show { preset, cues: trace } in show(&BRIEF),
        picks in prop::collection::vec(any::<prop::sample::Index>(), 1..12),
    ) {
        let all = every(&trace, 17);
        let mut some: Vec<u32> = picks.iter().map(|pick| all[pick.index(all.len())]).collect();
        some.sort_unstable();
        some.dedup();
        let full = play(&preset, Millis(0), 255, &trace, &all);
        let part = play(&preset, Millis(0), 255, &trace, &some);
        let same: Vec<Seen> = full.into_iter().filter(|seen| some.contains(&seen.at)).collect();
        prop_assert_eq!(part, same);
    }

    #[test]
    fn frames_do_not_depend_on_where_the_millisecond_counter_starts(
        Show { preset, cues: trace } in show(&BRIEF),
        start in start(),
    ) {
        let looks = every(&trace, 61);
        prop_assert_eq!(
            play(&preset, Millis(0), 255, &trace, &looks),
            play(&preset, start, 255, &trace, &looks)
        );
    }

    #[test]
    fn dark_means_every_channel_is_zero(Show { preset, cues: trace } in show(&BRIEF)) {
        let mut cues = trace;
        // Let it end dark, whatever came before.
        let last = cues.last().unwrap().0;
        cues.push((last + 5, bare_cue(preset.fall_on)));
        for seen in play(&preset, Millis(9), 255, &cues, &every(&cues, 53)) {
            if seen.state == State::Dark {
                prop_assert!(seen.frame.iter().all(|level| *level == 0));
                prop_assert_eq!(seen.progress, 0);
                prop_assert_eq!(seen.active, LayerSet::default());
            }
        }
    }

    #[test]
    fn rise_and_fall_end_within_their_time_and_a_frame(preset in preset(&BRIEF), start in start()) {
        let frame = period_ms(&preset).max(1);
        let mut engine = Engine::new(&preset).unwrap();
        let mut out = vec![0; preset.frame_len()];
        let stages = [
            (preset.rise_on, preset.rise.duration_ms, State::Rising, State::Lit),
            (preset.fall_on, preset.fall.duration_ms, State::Falling, State::Dark),
        ];
        let mut now = start;
        for (kind, duration, on_the_way, arrived) in stages {
            engine.cue(now, bare_cue(kind));
            let began = now;
            let mut before = engine.progress();
            loop {
                let state = engine.render(now, &mut out).unwrap();
                let gone = now.since(began);
                if state == arrived {
                    prop_assert!(gone >= duration, "{gone} ms, {duration} asked for");
                    prop_assert!(gone <= duration + frame, "{gone} ms, {duration} asked for");
                    break;
                }
                prop_assert_eq!(state, on_the_way);
                prop_assert!(gone < duration, "still {} after {} of {} ms", state, gone, duration);
                // It only goes one way.
                let progress = engine.progress();
                match arrived {
                    State::Lit => prop_assert!(progress >= before),
                    _ => prop_assert!(progress <= before),
                }
                before = progress;
                now = now.plus(frame);
            }
            now = now.plus(1);
        }
    }

    #[test]
    fn a_way_that_turns_round_takes_at_most_its_time_and_does_not_jump(
        preset in preset(&BRIEF),
        turn in 0..BRIEF.longest_ms,
    ) {
        let mut engine = Engine::new(&preset).unwrap();
        engine.cue(Millis(0), bare_cue(preset.rise_on));
        if engine.advance(Millis(turn)) == State::Rising {
            let before = engine.progress();
            engine.cue(Millis(turn), bare_cue(preset.fall_on));
            // A fall of no length is over at once.
            if engine.state() == State::Falling {
                prop_assert!(engine.progress().abs_diff(before) <= 1);
            }
            let state = engine.advance(Millis(turn + preset.fall.duration_ms));
            prop_assert_eq!(state, State::Dark);
        }
    }

    #[test]
    fn every_channel_is_monotone_in_the_cap(
        Show { preset, cues: trace } in show(&BRIEF),
        a in any::<u8>(),
        b in any::<u8>(),
    ) {
        let looks = every(&trace, 97);
        let low = play(&preset, Millis(0), a.min(b), &trace, &looks);
        let high = play(&preset, Millis(0), a.max(b), &trace, &looks);
        for (low, high) in low.iter().zip(&high) {
            prop_assert!(low.frame.iter().zip(&high.frame).all(|(l, h)| l <= h));
            prop_assert!(low.frame.iter().all(|level| *level <= a.min(b)));
        }
    }

    #[test]
    fn the_values_of_a_frame_give_its_levels_at_every_cap(
        Show { preset, cues: trace } in show(&BRIEF),
        cap in any::<u8>(),
    ) {
        let looks = every(&trace, 97);
        let (mut values, mut thresholds) = (vec![7; preset.frame_len()], vec![7; preset.frame_len()]);
        let mut engine = Engine::new(&preset).unwrap();
        engine.set_cap(3);
        let mut cues = trace.iter().peekable();
        for seen in play(&preset, Millis(0), cap, &trace, &looks) {
            while let Some((when, cue)) = cues.next_if(|(when, _)| *when <= seen.at) {
                engine.cue(Millis(*when), *cue);
            }
            let state = engine.render_values(Millis(seen.at), &mut values, &mut thresholds).unwrap();
            let each = values.iter().zip(&thresholds);
            let levels: Vec<u8> = each.map(|(value, by)| drive_level(*value, *by, cap)).collect();
            prop_assert_eq!((state, levels), (seen.state, seen.frame));
        }
    }

    #[test]
    fn pixels_outside_every_zone_stay_dark(Show { preset, cues: trace } in show(&BRIEF)) {
        let lit = |pixel: u32| {
            preset.zones.iter().flat_map(|zone| &zone.runs)
                .any(|run| (u32::from(run.start)..run.end()).contains(&pixel))
        };
        for seen in play(&preset, Millis(0), 255, &trace, &every(&trace, 211)) {
            let pixels = seen.frame.chunks(preset.channels.count());
            for (pixel, levels) in (0u32..).zip(pixels) {
                prop_assert!(lit(pixel) || levels.iter().all(|level| *level == 0));
            }
        }
    }

    #[test]
    fn a_preset_survives_its_binary_form(preset in preset(&BRIEF)) {
        let mut buffer = [0; codec::MAX_LEN];
        let bytes = encode(&preset, &mut buffer).unwrap();
        prop_assert_eq!(decode(bytes).unwrap(), preset);
    }

    #[test]
    fn a_damaged_preset_is_refused(
        preset in preset(&BRIEF),
        place in any::<prop::sample::Index>(),
        flip in 1..=255u8,
        cut in any::<prop::sample::Index>(),
    ) {
        let mut buffer = [0; codec::MAX_LEN];
        let bytes = encode(&preset, &mut buffer).unwrap().to_vec();
        let mut damaged = bytes.clone();
        damaged[place.index(bytes.len())] ^= flip;
        prop_assert!(decode(&damaged).is_err());
        prop_assert!(decode(&bytes[..cut.index(bytes.len())]).is_err());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn any_bytes_are_a_preset_or_an_error(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = decode(&bytes);
    }

    /// Bytes with a right head and checksum get past both, to the body and to validation; what
    /// decodes then plays without a panic, and encodes again.
    #[test]
    fn any_body_is_a_preset_or_an_error(
        preset in preset(&BRIEF),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let mut buffer = [0; codec::MAX_LEN];
        let mut bytes = encode(&preset, &mut buffer).unwrap().to_vec();
        let body = bytes.len() - 4;
        for (place, value) in changes {
            bytes[5 + place.index(body - 5)] = value;
        }
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..body]);
        bytes[body..].copy_from_slice(&crc.to_le_bytes());
        match decode(&bytes) {
            Ok(changed) => {
                let trace = [(0, bare_cue(changed.rise_on)), (40, bare_cue(changed.fall_on))];
                play(&changed, Millis(u32::MAX - 20), 200, &trace, &[0, 7, 40, 41, 5000, 1 << 30]);
                let mut buffer = [0; codec::MAX_LEN];
                prop_assert!(encode(&changed, &mut buffer).is_ok());
            }
            Err(DecodeError::Body | DecodeError::Invalid(_)) => {}
            Err(other) => prop_assert!(false, "{other:?}"),
        }
    }
}

/// The properties above would mean little if most shows stayed dark.
#[test]
fn the_shows_made_for_these_tests_light_up_and_use_what_there_is() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let (mut lit, mut dark_again, mut many_layers, mut turned) = (0, 0, 0, 0);
    for _ in 0..200 {
        let Show {
            preset,
            cues: trace,
        } = show(&BRIEF).new_tree(&mut runner).unwrap().current();
        let seen = play(&preset, Millis(0), 255, &trace, &every(&trace, 61));
        lit += u32::from(seen.iter().any(|s| s.frame.iter().any(|level| *level > 0)));
        let states: Vec<State> = seen.iter().map(|s| s.state).collect();
        dark_again += u32::from(states.contains(&State::Dark));
        many_layers += u32::from(seen.iter().any(|s| s.active.iter().count() > 1));
        let turn = |pair: &[State]| pair == [State::Rising, State::Falling];
        turned += u32::from(states.windows(2).any(turn));
    }
    assert!(lit > 100, "{lit}");
    assert!(dark_again > 20, "{dark_again}");
    assert!(many_layers > 50, "{many_layers}");
    assert!(turned > 5, "{turned}");
}
