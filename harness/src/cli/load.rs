//! From typed arguments to a prop and what it plays.

use super::args::PropArgs;
use super::capture::{captured, Captured};
use super::own_parts::tell;
use super::VerbError;
use crate::build::cues::CueTrace;
use crate::build::diag::{InputError, InputErrors};
use crate::build::folder::{read_cue_traces, read_presets, read_prop, Choice, NamedPreset};
use crate::build::preset::StripMap;
use crate::build::prop::Prop;
use crate::profile::{
    open_recorded, FrameStream, Program, ProgramOptions, RecordedOptions, Uncapped,
};
use crate::study::preset_play::{open_preset, open_uncapped};
use crate::study::trace::Trace;
use crate::units::{parse, Quantity, Time};
use lampwright_model::Preset;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A prop and everything that is to be played on it.
pub(super) struct Loaded {
    /// The prop.
    pub(super) prop: Prop,
    /// What is played.
    pub(super) plays: Vec<Play>,
    /// The cap in force.
    pub(super) cap: u8,
}

/// One thing to play.
pub(super) enum Play {
    /// A preset with a cue trace.
    Preset {
        /// The preset.
        preset: Box<NamedPreset>,
        /// Its cue trace.
        cues: CueTrace,
    },
    /// Recorded frames.
    Recorded {
        /// The file, `-` for standard input.
        path: PathBuf,
        /// Frames a second, where given.
        frame_rate_hz: Option<f64>,
    },
    /// A capture of the data lines, decoded.
    Captured {
        /// The capture.
        capture: Captured,
        /// Frames a second, as given or as captured.
        frame_rate_hz: Option<f64>,
    },
    /// A program with a cue trace.
    Program {
        /// The program and how it is run.
        options: ProgramOptions,
        /// The cue trace.
        cues: CueTrace,
    },
}

impl Loaded {
    /// The names of all that is played, parted by commas.
    pub(super) fn names(&self) -> String {
        let names: Vec<String> = self
            .plays
            .iter()
            .map(|p| p.preset_name().unwrap_or_else(|| p.cues_name()))
            .collect();
        names.join(", ")
    }
}

impl Play {
    /// The preset's name.
    pub(super) fn preset_name(&self) -> Option<String> {
        match self {
            Self::Preset { preset, .. } => Some(preset.name.clone()),
            Self::Recorded { .. } | Self::Captured { .. } | Self::Program { .. } => None,
        }
    }

    /// The cue trace's name, or the file of the recorded frames.
    pub(super) fn cues_name(&self) -> String {
        match self {
            Self::Preset { cues, .. } | Self::Program { cues, .. } => cues.name.clone(),
            Self::Recorded { path, .. } => path.display().to_string(),
            Self::Captured { capture, .. } => capture.decoded.file.clone(),
        }
    }

    /// The preset itself.
    pub(super) fn preset(&self) -> Option<&Preset> {
        match self {
            Self::Preset { preset, .. } => Some(&preset.file.preset),
            Self::Recorded { .. } | Self::Captured { .. } | Self::Program { .. } => None,
        }
    }

    /// Length, where known.
    pub(super) fn length_s(&self) -> Option<f64> {
        match self {
            Self::Preset { cues, .. } | Self::Program { cues, .. } => {
                Some(cues.end_ms as f64 / 1e3)
            }
            Self::Recorded { .. } | Self::Captured { .. } => None,
        }
    }

    /// Opens the stream of frames at a cap.
    ///
    /// # Errors
    /// The recorded file cannot be opened, or the preset is not sound.
    pub(super) fn open(
        &self,
        prop: &Prop,
        cap: u8,
    ) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        match self {
            Self::Preset { preset, cues } => {
                open_preset(&preset.name, &preset.file.preset, cues, cap)
            }
            Self::Recorded {
                path,
                frame_rate_hz,
            } => open_frames(path, *frame_rate_hz, prop, cap),
            Self::Captured {
                capture,
                frame_rate_hz,
            } => open_frames(&capture.frames, *frame_rate_hz, prop, cap),
            Self::Program { options, cues } => {
                let options = ProgramOptions {
                    cap,
                    ..options.clone()
                };
                Ok(Box::new(Program::start(options, cues)?))
            }
        }
    }
}

/// Recorded frames, from the start.
pub(super) fn open_frames(
    path: &Path,
    rate_hz: Option<f64>,
    prop: &Prop,
    cap: u8,
) -> Result<Box<dyn FrameStream>, InputErrors> {
    let options = RecordedOptions {
        rate_hz,
        cap,
        ..RecordedOptions::new(layout_of(prop)?)
    };
    Ok(Box::new(open_recorded(path, &options)?))
}

pub(super) fn layout_of(prop: &Prop) -> Result<lampwright_model::Layout, InputErrors> {
    StripMap::of(prop).layout().ok_or_else(|| {
        InputError::whole("the build has no strip, or more pixels than a frame can hold").into()
    })
}

/// Reads everything that the arguments name.
///
/// # Errors
/// Every fault of every file.
pub(super) fn load(args: &PropArgs) -> Result<Loaded, VerbError> {
    if let Some(rate) = args.frame_rate.filter(|r| !(1.0..=10_000.0).contains(r)) {
        let error = InputError::whole(format!("--frame-rate is {rate}, which is no frame rate"));
        return Err(InputErrors::from(error.help("give a number from 1 to 10000, in Hz")).into());
    }
    let choice = Choice {
        build: args.build.clone(),
        variant: args.variant.clone(),
        presets: args.preset.clone(),
        cues: args.cues.clone(),
        parts: args.own.folder()?,
    };
    let prop = read_prop(&args.prop, &choice)?;
    tell(&prop, &args.prop);
    let plays = match (&args.frames, &args.capture) {
        _ if args.engine.is_some() => programs(args, &prop)?,
        (Some(path), _) => vec![Play::Recorded {
            path: path.clone(),
            frame_rate_hz: args.frame_rate,
        }],
        (None, Some(file)) => {
            let capture = captured(&prop, file, &args.signals)?;
            let own = capture.decoded.period_s.map(|p| 1.0 / p);
            vec![Play::Captured {
                frame_rate_hz: args.frame_rate.or(own),
                capture,
            }]
        }
        (None, None) => plays(read_presets(&args.prop, &choice, &prop)?),
    };
    let cap = args.cap.unwrap_or(prop.cap);
    Ok(Loaded { prop, plays, cap })
}

/// The program with each cue trace.
fn programs(args: &PropArgs, prop: &Prop) -> Result<Vec<Play>, VerbError> {
    let wrong = |what: String, help: &str| InputErrors::from(InputError::whole(what).help(help));
    let text = args.engine.as_deref().unwrap_or_default();
    let command = shlex::split(text)
        .filter(|c| !c.is_empty())
        .ok_or_else(|| {
            let help = "write it as in a shell: --engine \"./engine --bright\"; close every quote";
            wrong(format!("--engine: \"{text}\" is no command"), help)
        })?;
    let wait = parse::<Time>(&args.engine_wait).map_err(|e| e.to_string());
    let wait = wait.and_then(|w| {
        Duration::try_from_secs_f64(w.si()).map_err(|_| format!("{} is no wait", args.engine_wait))
    });
    let wait = wait.map_err(|e| {
        wrong(
            format!("--engine-wait: {e}"),
            "write --engine-wait \"10 s\"",
        )
    })?;
    let options = ProgramOptions {
        command,
        layout: layout_of(prop)?,
        rate_hz: args.frame_rate.unwrap_or(RecordedOptions::DEFAULT_RATE_HZ),
        cap: u8::MAX,
        wait,
    };
    let traces = read_cue_traces(&args.prop, args.cues.as_deref())?;
    let each = traces.into_iter().map(|cues| Play::Program {
        options: options.clone(),
        cues,
    });
    Ok(each.collect())
}

fn plays(presets: Vec<NamedPreset>) -> Vec<Play> {
    let each = |preset: NamedPreset| {
        let traces = preset.cues.clone();
        traces.into_iter().map(move |cues| Play::Preset {
            preset: Box::new(preset.clone()),
            cues,
        })
    };
    presets.into_iter().flat_map(each).collect()
}

/// Reads a prop for the wiring desk: a prop without presets is as good as one with.
///
/// # Errors
/// Every fault of every file.
pub(super) fn load_wiring(args: &PropArgs) -> Result<Loaded, VerbError> {
    let nothing_named = args.preset.is_empty()
        && args.frames.is_none()
        && args.capture.is_none()
        && args.engine.is_none();
    if nothing_named && !has_presets(&args.prop) {
        let choice = Choice {
            build: args.build.clone(),
            variant: args.variant.clone(),
            parts: args.own.folder()?,
            ..Choice::default()
        };
        let prop = read_prop(&args.prop, &choice)?;
        tell(&prop, &args.prop);
        let cap = args.cap.unwrap_or(prop.cap);
        return Ok(Loaded {
            prop,
            plays: Vec::new(),
            cap,
        });
    }
    load(args)
}

fn has_presets(folder: &std::path::Path) -> bool {
    let entries = std::fs::read_dir(folder.join("presets"));
    let mut paths = entries.into_iter().flatten().flatten().map(|e| e.path());
    paths.any(|p| p.extension().is_some_and(|e| e == "toml"))
}

impl Trace for Play {
    fn preset_name(&self) -> Option<String> {
        Play::preset_name(self)
    }

    fn cues_name(&self) -> String {
        Play::cues_name(self)
    }

    fn preset(&self) -> Option<&Preset> {
        Play::preset(self)
    }

    fn length_s(&self) -> Option<f64> {
        Play::length_s(self)
    }

    fn open(&self, prop: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        Play::open(self, prop, cap)
    }

    fn uncapped(&self, prop: &Prop) -> Result<Option<Uncapped<'_>>, InputErrors> {
        let Self::Preset { preset, cues } = self else {
            return Ok(None);
        };
        open_uncapped(prop, &preset.name, &preset.file.preset, cues).map(Some)
    }

    fn with_preset(&self, changed: Preset) -> Option<Box<dyn Trace>> {
        let Self::Preset { preset, cues } = self else {
            return None;
        };
        let mut preset = preset.clone();
        preset.file.preset = changed;
        Some(Box::new(Self::Preset {
            preset,
            cues: cues.clone(),
        }))
    }
}
