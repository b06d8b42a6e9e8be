//! The page's answers without a server or files: what a report carries to be tried out anywhere.

use super::answers::{self, QuickAsk, Refusal};
use super::faults::faults_json;
use super::hand::{HandCue, HandPlay};
use super::reading::{Reading, Shown};
use super::wish::Wish;
use crate::build::catalogue::CatalogueText;
use crate::build::cues::read_cues;
use crate::build::diag::{InputError, InputErrors, Source};
use crate::build::file::read_with;
use crate::build::preset::{read_preset, StripMap};
use crate::build::sounds::{cue_of_file, read_sound};
use crate::study::preset_play::PresetPlay;
use crate::study::trace::Trace;
use serde::{Deserialize, Serialize};
use serde_json::{json, Value};
use std::path::Path;

/// The files of a prop as texts.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Texts {
    /// The variant of the build; `None` as it stands.
    pub variant: Option<String>,
    /// The cap in force; `None` for the build's own.
    pub cap: Option<u8>,
    /// Names within the prop's folder, with what the files say.
    pub files: Vec<(String, String)>,
    /// What is played: names of a preset file and a cue file.
    pub plays: Vec<(String, String)>,
}

impl Texts {
    fn source(&self, name: &str) -> Result<Source, InputErrors> {
        let found = self.files.iter().find(|(n, _)| n == name);
        let (name, text) =
            found.ok_or_else(|| InputError::whole(format!("{name} is not among the texts")))?;
        Ok(Source::new(name.as_str(), text.as_str()))
    }

    /// What ships, and the prop's own parts among the texts.
    fn catalogue(&self) -> CatalogueText {
        let own = self.files.iter().filter(|(n, _)| n.starts_with("parts/"));
        CatalogueText::with_texts(own.map(|(n, text)| Source::new(n.as_str(), text.as_str())))
    }

    /// Reads them.
    ///
    /// # Errors
    /// Every fault of the first faulty text.
    pub fn read(&self) -> Result<Shown, InputErrors> {
        let build = self.source("build.toml")?;
        let mut prop = read_with(&build, self.variant.as_deref(), &self.catalogue())?;
        for (name, text) in &self.files {
            if name.starts_with("sounds/") {
                let cue = cue_of_file(Path::new(name)).map_err(|e| InputErrors::from(*e))?;
                let source = Source::new(name.as_str(), text.as_str());
                prop.sound.traces.push(read_sound(&source, cue)?);
            }
        }
        let map = StripMap::of(&prop);
        let mut plays: Vec<Box<dyn Trace + Send + Sync>> = Vec::new();
        for (preset, cues) in &self.plays {
            let stem = Path::new(preset).file_stem();
            plays.push(Box::new(PresetPlay {
                name: stem.map_or_else(String::new, |s| s.to_string_lossy().into_owned()),
                preset: Box::new(read_preset(&self.source(preset)?, &map)?.preset),
                cues: read_cues(&self.source(cues)?)?,
            }));
        }
        let cap = self.cap.unwrap_or(prop.cap);
        Ok(Shown {
            prop,
            plays,
            cap,
            variants: Vec::new(),
        })
    }
}

/// A prop that answers what the page asks.
pub struct Engine {
    reading: &'static Reading,
    hand: Option<HandPlay<'static>>,
}

/// A step of a play by hand.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StepAsk {
    cues: Vec<HandCue>,
    frames: u32,
}

fn told(refusal: Refusal) -> Vec<u8> {
    let faults = match refusal {
        Refusal::Input(errors) => faults_json(&errors),
        Refusal::Dropped => json!([]),
        Refusal::Live(why) => json!([{ "message": why }]),
    };
    json!({ "faults": faults }).to_string().into_bytes()
}

fn unreadable(error: &serde_json::Error) -> Vec<u8> {
    told(InputErrors::from(InputError::whole(format!("not a question: {error}"))).into())
}

impl Engine {
    /// From [`Texts`] as JSON.
    ///
    /// # Errors
    /// The faults as JSON, in the form of the server's.
    pub fn open(texts: &[u8]) -> Result<Self, Vec<u8>> {
        let texts: Texts = serde_json::from_slice(texts).map_err(|e| unreadable(&e))?;
        let shown = texts.read().map_err(|errors| told(errors.into()))?;
        // A play by hand stands on the reading, and an engine holds one prop for as long as it runs: it may keep it.
        Ok(Self {
            reading: Box::leak(Box::new(Reading::new(shown))),
            hand: None,
        })
    }

    /// Answers `quick`, `play`, `margins`, `cap`, `live/start` or `live/step` with the bytes that the server gives.
    ///
    /// # Errors
    /// As [`open`](Self::open).
    pub fn ask(&mut self, what: &str, body: &[u8]) -> Result<Vec<u8>, Vec<u8>> {
        match what {
            "quick" => {
                let ask: QuickAsk = serde_json::from_slice(body).map_err(|e| unreadable(&e))?;
                answers::quick(self.reading, &ask).map_err(told)
            }
            "live/step" => {
                let ask: StepAsk = serde_json::from_slice(body).map_err(|e| unreadable(&e))?;
                let next = self
                    .hand
                    .as_mut()
                    .and_then(|h| h.step(&ask.cues, ask.frames));
                next.ok_or_else(|| told(Refusal::Live("this live play is over")))
            }
            _ => {
                let wish: Wish = serde_json::from_slice(body).map_err(|e| unreadable(&e))?;
                self.wished(what, &wish).map_err(told)
            }
        }
    }

    fn wished(&mut self, what: &str, wish: &Wish) -> Result<Vec<u8>, Refusal> {
        let text = |value: Value| value.to_string().into_bytes();
        let wanted = || false;
        match what {
            "play" => answers::play(self.reading, wish, &wanted),
            "margins" => answers::margins(self.reading, wish, &wanted).map(text),
            "cap" => answers::cap(self.reading, wish).map(text),
            "live/start" => {
                self.hand = Some(HandPlay::new(self.reading, wish)?);
                Ok(text(json!({ "id": "" })))
            }
            _ => {
                let error = InputError::whole(format!("no answer is called {what}"));
                Err(InputErrors::from(error).into())
            }
        }
    }
}
