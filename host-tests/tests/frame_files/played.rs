//! Sources played with a cue trace.

use super::*;

/// A source that writes down what it is asked.
struct Probe {
    calls: Vec<(u32, Option<Cue>)>,
    caps: bool,
    fails_at: Option<u32>,
}

impl Probe {
    fn new() -> Self {
        Self {
            calls: Vec::new(),
            caps: false,
            fails_at: None,
        }
    }
}

impl FrameSource for Probe {
    type Error = String;

    fn layout(&self) -> Layout {
        RGBW
    }

    fn cue(&mut self, at: Millis, cue: Cue) {
        self.calls.push((at.0, Some(cue)));
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, String> {
        self.calls.push((at.0, None));
        if self.fails_at == Some(at.0) {
            return Err("the probe is out of ink".into());
        }
        out.fill(200);
        Ok(State::Lit)
    }

    fn set_cap(&mut self, _cap: u8) -> bool {
        self.caps
    }

    fn active_layers(&self) -> LayerSet {
        LayerSet(0b101)
    }
}

fn trace(cues: &[(u64, Cue)], end_ms: u64) -> CueTrace {
    let cues = cues.iter().map(|&(at_ms, cue)| TraceCue { at_ms, cue });
    CueTrace {
        name: "t.csv".into(),
        cues: cues.collect(),
        end_ms,
    }
}

#[test]
fn cues_come_with_their_own_time_before_the_frame_they_are_due_at() {
    let knock = Cue::Knock {
        strength: Share::HALF,
    };
    let trace = trace(
        &[
            (0, Cue::ShortPress),
            (17, knock),
            (18, Cue::LongPress),
            (33, Cue::LowCell),
        ],
        100,
    );
    let mut played = Played::new(Probe::new(), &trace, 60.0);
    assert_eq!((played.frames(), played.period_s()), (6, 1.0 / 60.0));
    let mut chunk = Chunk::new();
    assert_eq!(played.fill(&mut chunk, 3).unwrap(), 3);
    // Frames at 0, 16.667 and 33.333 ms, in whole ms: 0, 17, 33.
    let wanted = [
        (0, Some(Cue::ShortPress)),
        (0, None),
        (17, Some(knock)),
        (17, None),
        (18, Some(Cue::LongPress)),
        (33, Some(Cue::LowCell)),
        (33, None),
    ];
    assert_eq!(played.source().calls, wanted);
    let new: Vec<u32> = chunk.meta.iter().map(|m| m.new_cues).collect();
    assert_eq!(new, [1, 1, 2]);
    let last = chunk.new_cues(&chunk.meta[2]);
    assert_eq!((last[0].time_s, last[0].cue), (0.018, Cue::LongPress));
    let meta = chunk.meta[2];
    assert_eq!(
        (meta.state, meta.layers),
        (Some(State::Lit), LayerSet(0b101))
    );
    assert_eq!(meta.cue.unwrap().cue, Cue::LowCell);
    assert!((meta.time_s - 2.0 / 60.0).abs() < 1e-12);

    // The next chunk starts anew, and remembers the last cue.
    assert_eq!(played.fill(&mut chunk, 10).unwrap(), 3);
    assert!(chunk.cues.is_empty());
    assert_eq!(chunk.meta[0].cue.unwrap().cue, Cue::LowCell);
    assert_eq!(played.fill(&mut chunk, 10).unwrap(), 0);
}

#[test]
fn there_is_a_frame_at_each_multiple_of_the_period_before_the_end() {
    let one = [(0, Cue::ShortPress)];
    let count = |end_ms, rate| Played::new(Probe::new(), &trace(&one, end_ms), rate).frames();
    assert_eq!(count(10_000, 60.0), 600);
    assert_eq!(count(10_001, 60.0), 601);
    assert_eq!(count(3_600_000, 50.0), 180_000);
    assert_eq!(count(1, 60.0), 1);
    // 40 days.
    assert_eq!(count(3_456_000_000, 250.0), 864_000_000);
}

#[test]
fn the_counter_of_the_source_wraps_as_on_the_board() {
    let trace = trace(&[(6, Cue::ShortPress)], 30);
    let played = Played::new(Probe::new(), &trace, 100.0);
    let mut played = played.starting_at(Millis(u32::MAX - 4));
    let mut chunk = Chunk::new();
    assert_eq!(played.fill(&mut chunk, 9).unwrap(), 3);
    let wanted = [
        (u32::MAX - 4, None),
        (1, Some(Cue::ShortPress)),
        (5, None),
        (15, None),
    ];
    assert_eq!(played.source().calls, wanted);
    let times: Vec<f64> = chunk.meta.iter().map(|m| m.time_s).collect();
    assert_eq!(times, [0.0, 0.01, 0.02]);
}

#[test]
fn a_source_without_a_cap_is_scaled() {
    let trace = trace(&[(0, Cue::ShortPress)], 10);
    for (caps, level) in [(true, 200), (false, 100)] {
        let probe = Probe {
            caps,
            ..Probe::new()
        };
        let mut played = Played::new(probe, &trace, 60.0).with_cap(128);
        let mut chunk = Chunk::new();
        played.fill(&mut chunk, 1).unwrap();
        assert_eq!(chunk.levels, [level; 4]);
    }
}

#[test]
fn a_source_that_fails_is_named_with_its_frame() {
    let trace = trace(&[(0, Cue::ShortPress)], 100);
    let probe = Probe {
        fails_at: Some(20),
        ..Probe::new()
    };
    let mut played = Played::new(probe, &trace, 100.0);
    let mut chunk = Chunk::new();
    let errors = played.fill(&mut chunk, 10).unwrap_err();
    assert_fault(
        &errors,
        "",
        "no frame 2 at 0.020 s: the probe is out of ink",
        "frame source",
    );
    assert_eq!((chunk.len(), chunk.levels.len()), (2, 8));
}
