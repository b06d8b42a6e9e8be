//! Tubes: how they are read, and that heat in them does what heat does.

use super::{moment, one_pixel, read};
use lampwright::build::diag::InputErrors;
use lampwright::profile::condition::Condition;
use lampwright::profile::{Chunk, FrameMeta, FrameStream};
use lampwright::study::verdict::{CheckResult, Verdict};
use lampwright::study::watch::watch_each;
use lampwright_model::{Channels, LayerSet, Layout, State};

const TUBE: &str = r#"
[enclosure.body]
material = "polycarbonate"
outer-diameter = "30 mm"
wall = "2 mm"
length = "300 mm"
touch = "held"
"#;

/// The same frame for a minute.
struct Still {
    levels: [u8; 3],
    next: u64,
}

impl FrameStream for Still {
    fn layout(&self) -> Layout {
        Layout {
            pixels: 1,
            channels: Channels::Rgb,
        }
    }

    fn period_s(&self) -> f64 {
        1.0
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.levels.clear();
        chunk.meta.clear();
        chunk.cues.clear();
        chunk.frame_len = 3;
        while chunk.meta.len() < frames && self.next < 60 {
            chunk.levels.extend(self.levels);
            chunk.meta.push(FrameMeta {
                index: self.next,
                time_s: moment(self.next, 1.0).time_s,
                state: Some(State::Lit),
                layers: LayerSet::default(),
                cue: None,
                new_cues: 0,
                first_cue: 0,
            });
            self.next += 1;
        }
        Ok(chunk.meta.len())
    }
}

fn results(extra: &str, levels: [u8; 3]) -> Vec<CheckResult> {
    let prop = read(&one_pixel(extra)).unwrap();
    let mut still = Still { levels, next: 0 };
    let conditions = vec![Condition::nominal()];
    let mut each = watch_each(&prop, None, conditions, &mut still, &|_| {}).unwrap();
    each.remove(0)
}

fn touch(extra: &str, levels: [u8; 3]) -> CheckResult {
    let all = results(extra, levels);
    all.into_iter()
        .find(|r| r.id == "touch-temperature")
        .unwrap()
}

// 1.2 A from a cell at 3.72 V open (60 %) behind 0.15 Ω: 4.25 W leave its terminals and 0.22 W stay in it. The hand-held
// tube of the reference table (30 mm, 0.3 m, emissivity 0.9) sheds 11.55 W/(m²·K) at 20 K: 4.5 W spread evenly would
// raise it by some 14 K. A single pixel sits in one place, and plastic keeps its heat there: much hotter.
#[test]
fn heat_in_one_place_is_hotter_than_heat_spread_out() {
    let hot = touch(TUBE, [255, 255, 255]);
    assert!(hot.worst.unwrap() > 25.0 + 14.0, "{hot:?}");
    assert!(
        hot.why.contains("estimate") && hot.why.contains("4."),
        "{hot:?}"
    );
    let dim = touch(TUBE, [60, 60, 60]);
    assert!(dim.worst < hot.worst && dim.worst.unwrap() > 25.0);
    let metal = TUBE.replace("polycarbonate", "anodised-aluminium");
    assert!(touch(&metal, [255, 255, 255]).worst < hot.worst);
    let wide = TUBE.replace("30 mm", "60 mm");
    assert!(touch(&wide, [255, 255, 255]).worst < hot.worst);
}

#[test]
fn the_longer_skin_stays_the_lower_the_limit() {
    let limit = |touch_word: &str| {
        let text = TUBE.replace("\"held\"", &format!("\"{touch_word}\""));
        touch(&text, [0, 0, 0]).limit.unwrap()
    };
    assert_eq!(
        (limit("held"), limit("handled"), limit("touched")),
        (48.0, 60.0, 77.0)
    );
}

#[test]
fn without_a_tube_nothing_is_claimed() {
    for id in ["touch-temperature", "cell-temperature"] {
        let all = results("", [255, 255, 255]);
        let r = all.iter().find(|r| r.id == id).unwrap();
        assert_eq!(r.verdict, Verdict::NotChecked);
        assert!(r.why.contains("[enclosure.NAME]"), "{}", r.why);
    }
}

#[test]
fn slips_in_a_tube_are_told_with_the_nearest_name() {
    for (from, to, message, help) in [
        ("polycarbonate", "polycarbonat", "material", "polycarbonate"),
        ("\"held\"", "\"hold\"", "touch", "held"),
        ("wall = \"2 mm\"", "wall = \"15 mm\"", "no bore", "2 mm"),
        ("wall = ", "wal = ", "wall", "2"),
        ("length = \"300 mm\"\n", "", "length", ""),
        (
            "touch = \"held\"",
            "touch = \"held\"\nholds = [\"strp\"]",
            "strp",
            "strip",
        ),
        (
            "touch = \"held\"",
            "touch = \"held\"\nholds = [\"strip\", \"strip\"]",
            "two tubes",
            "one of them",
        ),
        (
            "[enclosure.body]",
            "[enclosure]",
            "right under [enclosure]",
            "name",
        ),
        (
            "touch = \"held\"",
            "touch = \"held\"\nemissivity = \"150 %\"",
            "emissivity",
            "90 %",
        ),
    ] {
        let text = one_pixel(&TUBE.replacen(from, to, 1));
        let InputErrors(errors) = read(&text).expect_err(to);
        let told: Vec<String> = errors
            .iter()
            .map(|e| format!("{} | {}", e.message, e.help.clone().unwrap_or_default()))
            .collect();
        let found = errors
            .iter()
            .any(|e| e.message.contains(message) && e.help.as_deref().unwrap_or("").contains(help));
        assert!(found, "{to}: {told:#?}");
        assert!(errors.iter().all(|e| e.location().is_some()), "{told:#?}");
    }
}

#[test]
fn parts_that_no_tube_names_lie_in_the_first() {
    let two = format!(
        "{TUBE}\n{}",
        TUBE.replace("body", "head").replace(
            "touch = \"held\"",
            "touch = \"touched\"\nholds = [\"strip\"]"
        )
    );
    let prop = read(&one_pixel(&two)).unwrap();
    let at = |name: &str| prop.parts.iter().position(|p| p.name == name).unwrap();
    assert_eq!(prop.tube_of(at("cell")), Some(0));
    assert_eq!(prop.tube_of(at("strip")), Some(1));
}
