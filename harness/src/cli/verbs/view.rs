//! `view`: the page that shows the prop while it is worked on.

use crate::build::cues::CueTrace;
use crate::build::diag::{InputError, InputErrors};
use crate::build::file::variant_names;
use crate::build::folder::read_text;
use crate::build::prop::Prop;
use crate::cli::args::{PropArgs, ViewArgs};
use crate::cli::exit::Exit;
use crate::cli::load::{load, open_frames, Play};
use crate::cli::{print, VerbError};
use crate::profile::{FrameStream, Program, ProgramOptions, Uncapped};
use crate::study::preset_play::PresetPlay;
use crate::study::trace::Trace;
use crate::view::{run as serve, Options, Ready, ServeError, Shown};
use lampwright_model::Preset;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::mpsc::channel;
use std::sync::Arc;
use tempfile::TempPath;

/// Runs the verb: until it is interrupted.
pub(in crate::cli) fn run(args: &ViewArgs) -> Result<Exit, VerbError> {
    if args.prop.frames.as_deref() == Some(Path::new("-")) {
        let error =
            InputError::whole("the page plays the frames again and again, which a pipe cannot do");
        let error = error.help("write the frames to a file and give that");
        return Err(InputErrors::from(error).into());
    }
    let (sender, stop) = channel();
    ctrlc::set_handler(move || {
        let _ = sender.send(());
    })
    .map_err(|e| VerbError::Tool(e.to_string()))?;
    let options = Options {
        listen: args.listen,
        port: args.port,
        variant: args.prop.variant.clone(),
        folders: folders(&args.prop),
    };
    let prop = args.prop.clone();
    let read = move |variant: Option<&str>| read(&prop, variant);
    match serve(&options, Box::new(read), announce, stop) {
        Ok(()) => Ok(Exit::Holds),
        Err(ServeError::Input(errors)) => Err(errors.into()),
        Err(error) => Err(VerbError::Tool(error.to_string())),
    }
}

fn announce(ready: &Ready) {
    let mut err = anstream::stderr();
    if ready.open_to_others {
        let _ = writeln!(
            err,
            "warning: other machines can reach this page. Whoever has its address sees the prop; it is not encrypted."
        );
    }
    if let Some(why) = &ready.not_watching {
        let _ = writeln!(
            err,
            "warning: files are not watched ({why}): start again after a change"
        );
    }
    let _ = print(&format!(
        "Open {}\nThe address is yours alone: its long number lets in. Stop with Ctrl+C.\n",
        ready.url
    ));
}

/// Reads everything anew.
fn read(args: &PropArgs, variant: Option<&str>) -> Result<Shown, InputErrors> {
    let args = PropArgs {
        variant: variant.map(str::to_owned),
        ..args.clone()
    };
    let loaded = load(&args).map_err(|error| match error {
        VerbError::Input(errors) => errors,
        other => InputError::whole(other.to_string()).into(),
    })?;
    let build = args
        .build
        .clone()
        .unwrap_or_else(|| args.prop.join("build.toml"));
    let variants = read_text(&build).map(|source| variant_names(&source))?;
    Ok(Shown {
        prop: loaded.prop,
        plays: loaded.plays.into_iter().map(kept).collect(),
        cap: loaded.cap,
        variants,
    })
}

/// What is played, without the places in its file, which cannot be shared between threads.
enum Kept {
    Preset(PresetPlay),
    Recorded {
        path: PathBuf,
        rate_hz: Option<f64>,
    },
    Captured {
        file: String,
        frames: Arc<TempPath>,
        rate_hz: Option<f64>,
    },
    Program {
        options: ProgramOptions,
        cues: CueTrace,
    },
}

fn kept(play: Play) -> Box<dyn Trace + Send + Sync> {
    Box::new(match play {
        Play::Preset { preset, cues } => Kept::Preset(PresetPlay {
            name: preset.name,
            preset: Box::new(preset.file.preset),
            cues,
        }),
        Play::Recorded {
            path,
            frame_rate_hz,
        } => Kept::Recorded {
            path,
            rate_hz: frame_rate_hz,
        },
        Play::Captured {
            capture,
            frame_rate_hz,
        } => Kept::Captured {
            file: capture.decoded.file.clone(),
            frames: capture.frames,
            rate_hz: frame_rate_hz,
        },
        Play::Program { options, cues } => Kept::Program { options, cues },
    })
}

impl Trace for Kept {
    fn preset_name(&self) -> Option<String> {
        match self {
            Self::Preset(play) => play.preset_name(),
            Self::Recorded { .. } | Self::Captured { .. } | Self::Program { .. } => None,
        }
    }

    fn cues_name(&self) -> String {
        match self {
            Self::Preset(play) => play.cues_name(),
            Self::Program { cues, .. } => cues.name.clone(),
            Self::Recorded { path, .. } => path.display().to_string(),
            Self::Captured { file, .. } => file.clone(),
        }
    }

    fn preset(&self) -> Option<&Preset> {
        match self {
            Self::Preset(play) => play.preset(),
            Self::Recorded { .. } | Self::Captured { .. } | Self::Program { .. } => None,
        }
    }

    fn length_s(&self) -> Option<f64> {
        match self {
            Self::Preset(play) => play.length_s(),
            Self::Program { cues, .. } => Some(cues.end_ms as f64 / 1e3),
            Self::Recorded { .. } | Self::Captured { .. } => None,
        }
    }

    fn open(&self, prop: &Prop, cap: u8) -> Result<Box<dyn FrameStream + '_>, InputErrors> {
        match self {
            Self::Preset(play) => play.open(prop, cap),
            Self::Recorded { path, rate_hz } => Ok(open_frames(path, *rate_hz, prop, cap)?),
            Self::Captured {
                frames, rate_hz, ..
            } => Ok(open_frames(frames, *rate_hz, prop, cap)?),
            Self::Program { options, cues } => {
                let options = ProgramOptions {
                    cap,
                    ..options.clone()
                };
                Ok(Box::new(Program::start(options, cues)?))
            }
        }
    }

    fn uncapped(&self, prop: &Prop) -> Result<Option<Uncapped<'_>>, InputErrors> {
        match self {
            Self::Preset(play) => play.uncapped(prop),
            Self::Recorded { .. } | Self::Captured { .. } | Self::Program { .. } => Ok(None),
        }
    }

    fn only(
        &self,
        frames: Vec<u64>,
        cap: u8,
    ) -> Result<Option<Box<dyn FrameStream + '_>>, InputErrors> {
        match self {
            Self::Preset(play) => play.only(frames, cap),
            _ => Ok(None),
        }
    }
}

/// Where files may change that were read.
fn folders(args: &PropArgs) -> Vec<PathBuf> {
    let mut folders = vec![args.prop.clone()];
    let named = args
        .preset
        .iter()
        .map(PathBuf::from)
        .filter(|p| p.is_file());
    let files = args
        .build
        .iter()
        .chain(&args.cues)
        .chain(&args.frames)
        .cloned();
    for file in files.chain(named) {
        let folder = match file.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        if !folders.contains(&folder) {
            folders.push(folder);
        }
    }
    folders.retain(|f| f.is_dir());
    folders
}
