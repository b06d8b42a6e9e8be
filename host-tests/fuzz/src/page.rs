//! What a browser, or something that passes itself off as one, asks of the page's server.

use crate::host::source;
use crate::Target;
use lampwright::build::cues::{read_cues, CueTrace};
use lampwright::build::diag::InputErrors;
use lampwright::build::file::read_variant;
use lampwright::build::preset::{read_preset, StripMap};
use lampwright::build::prop::Prop;
use lampwright::profile::{FrameStream, Played};
use lampwright::study::trace::Trace;
use lampwright::view::{Question, Shown, Unwired};
use lampwright_model::{Engine, Preset};
use std::cell::OnceCell;
use std::time::Duration;

/// The targets of this module by name.
pub(crate) const TARGETS: [(&str, Target); 1] = [("view", view)];

const PATHS: [&str; 12] = [
    "api/quick",
    "api/play",
    "api/margins",
    "api/cap",
    "api/prop",
    "api/wait",
    "api/live/start",
    "api/live/step",
    "",
    "app.js",
    "..%2fbuild.toml",
    "api/none",
];

/// The first byte says what is asked for, the second how; the rest is the body.
fn view(bytes: &[u8]) {
    let [path, how, body @ ..] = bytes else {
        return;
    };
    let path = PATHS[usize::from(*path) % PATHS.len()];
    let mut headers = vec![("content-type", "application/json")];
    if how & 1 != 0 {
        headers[0].1 = "text/plain";
    }
    if how & 2 != 0 {
        headers.push(("host", "elsewhere.example:1"));
    }
    if how & 4 != 0 {
        headers.push(("origin", "http://elsewhere.example"));
    }
    if how & 8 != 0 {
        headers.push(("sec-fetch-site", "cross-site"));
    }
    let wish;
    let body = if how & 64 != 0 {
        wish = wish_of(body);
        wish.as_bytes()
    } else {
        body
    };
    let method = match (how >> 4 & 1, path.starts_with("api")) {
        (0, true) => "POST",
        (0, false) => "GET",
        _ => "DELETE",
    };
    let stranger = how & 0b10_1110 != 0;
    let patience = Duration::from_millis(if path == "api/wait" { 2 } else { 20_000 });
    let question = Question {
        method,
        path,
        with_token: how & 32 == 0,
        headers: &headers,
        body,
        patience,
    };
    SERVER.with(|server| {
        let server =
            server.get_or_init(|| Unwired::new(Box::new(read)).expect("the prop is sound"));
        let Some(answer) = server.ask(&question) else {
            assert!(path == "api/wait" && !stranger, "no answer to {path}");
            return;
        };
        let told = || String::from_utf8_lossy(&answer.body).into_owned();
        assert!(answer.status < 500, "{}: {}", answer.status, told());
        assert!(
            !stranger || matches!(answer.status, 403 | 421),
            "{}",
            answer.status
        );
        if answer.kind == "application/json" {
            let json: serde_json::Value = serde_json::from_slice(&answer.body).expect("JSON");
            assert!(json.is_object(), "{json}");
        }
    });
}

thread_local! {
    static SERVER: OnceCell<Unwired> = const { OnceCell::new() };
}

/// A wish that can be read, from bytes.
fn wish_of(bytes: &[u8]) -> String {
    let at = |i: usize| bytes.get(i).copied().unwrap_or_default();
    let float = |from: usize| {
        let value = f64::from_le_bytes(std::array::from_fn(|i| at(from + i)));
        if value.is_finite() {
            value
        } else {
            0.5
        }
    };
    let flag = |bit: u8| at(0) & bit != 0;
    let variant = ["null", "\"long\"", "\"none\"", "\"\""][usize::from(at(0) >> 3 & 3)];
    format!(
        "{{\"variant\":{variant},\"play\":{},\"cap\":{},\"soc\":{:e},\"celsius\":{:e},\
         \"aged\":{},\"cautious\":{},\"over_set\":{}}}",
        at(1) & 3,
        at(2),
        float(3),
        float(11),
        flag(1),
        flag(2),
        flag(4),
    )
}

struct Play {
    preset: Preset,
    cues: CueTrace,
}

impl Trace for Play {
    fn preset_name(&self) -> Option<String> {
        Some("first".to_owned())
    }

    fn cues_name(&self) -> String {
        "walk".to_owned()
    }

    fn preset(&self) -> Option<&Preset> {
        Some(&self.preset)
    }

    fn length_s(&self) -> Option<f64> {
        Some(self.cues.end_ms as f64 / 1e3)
    }

    fn open(&self, _: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        let engine = Engine::new(&self.preset).expect("the preset is sound");
        Ok(Box::new(
            Played::new(engine, &self.cues, 60.0).with_cap(cap),
        ))
    }
}

const BUILD: &str = include_str!("../../../harness/templates/build.toml");
const PRESET: &str = include_str!("../../../harness/templates/preset.toml");
const VARIANT: &str = "\n[variant.long]\nparts.lamp.pixels = 30\n";
const CUES: &str = "time_s,cue,value\n0.02,short-press,\n0.1,knock,40 %\n0.2,end,\n";

/// The prop that `new` writes, with a variant and a short trace.
fn read(variant: Option<&str>) -> Result<Shown, InputErrors> {
    let prop = read_variant(&source(format!("{BUILD}{VARIANT}").as_bytes()), variant)?;
    let preset = read_preset(&source(PRESET.as_bytes()), &StripMap::of(&prop))?.preset;
    let cues = read_cues(&source(CUES.as_bytes()))?;
    let play: Box<dyn Trace + Send + Sync> = Box::new(Play { preset, cues });
    Ok(Shown {
        cap: prop.cap,
        prop,
        plays: vec![play],
        variants: vec!["long".to_owned()],
    })
}
