//! `profile`: what every frame draws.

use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::cli::args::{ProfileArgs, ProfileFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded, Play};
use crate::cli::{progress, VerbError};
use crate::profile::bench::Bench;
use crate::profile::condition::{Condition, NOMINAL_SOC, NOMINAL_TEMPERATURE_K};
use crate::profile::ending::{Ended, Ending};
use crate::profile::figures::Figures;
use crate::profile::{play_ahead, shown, Chunk, Playing};
use crate::report::output::Output;
use crate::report::picture::to_png;
use crate::report::profile_picture::Gatherer;
use crate::report::table::{csv_header, Rows, PROFILE_SCHEMA};
use crate::units::{parse, Quantity, Ratio, Temperature};
use serde_json::json;
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Frames rendered before they are solved.
const CHUNK_FRAMES: usize = 512;

/// Runs the verb.
pub(in crate::cli) fn run(args: &ProfileArgs) -> Result<Exit, VerbError> {
    let condition = condition(args)?;
    let loaded = load(&args.prop)?;
    let play = single(&loaded)?;
    let format = match args.format {
        Some(format) => format,
        None => guess(args.out.as_deref())?,
    };
    let mut sink = Sink::open(args.out.as_deref())?;
    let written = match format {
        ProfileFormat::Csv => csv(&loaded, play, condition, &mut sink),
        ProfileFormat::Json => json(&loaded, play, condition, &mut sink),
        ProfileFormat::Svg | ProfileFormat::Png => {
            picture(&loaded, play, condition, format, &mut sink)
        }
    };
    written?;
    sink.finish()?;
    Ok(Exit::Holds)
}

/// The condition that the options name, the nominal one where they are silent.
fn condition(args: &ProfileArgs) -> Result<Condition, VerbError> {
    let mut errors = Vec::new();
    let soc = option::<Ratio>("--soc", args.soc.as_deref(), NOMINAL_SOC, &mut errors);
    if !(0.0..=1.0).contains(&soc) {
        errors.push(
            InputError::whole(format!(
                "--soc is {:.0} %, but must lie from 0 % to 100 %",
                soc * 100.0
            ))
            .help("write --soc \"60 %\""),
        );
    }
    let temperature_k = option::<Temperature>(
        "--temperature",
        args.temperature.as_deref(),
        NOMINAL_TEMPERATURE_K,
        &mut errors,
    );
    if !errors.is_empty() {
        return Err(InputErrors(errors).into());
    }
    Ok(Condition {
        soc,
        temperature_k,
        aged: args.aged,
        cautious: args.cautious,
        ..Condition::nominal()
    })
}

/// A quantity from an option, or what holds where it is left out.
pub(super) fn option<Q: Quantity>(
    name: &str,
    text: Option<&str>,
    fallback: f64,
    errors: &mut Vec<InputError>,
) -> f64 {
    let Some(text) = text else { return fallback };
    match parse::<Q>(text) {
        Ok(value) => value.si(),
        Err(error) => {
            errors.push(
                InputError::whole(format!("{name}: {error}"))
                    .help(format!("write {name} \"{}\"", Q::EXAMPLE)),
            );
            fallback
        }
    }
}

/// A profile is of one preset and one cue trace.
pub(in crate::cli) fn single(loaded: &Loaded) -> Result<&Play, VerbError> {
    match loaded.plays.as_slice() {
        [play] => Ok(play),
        plays => {
            let mut names: Vec<String> = plays.iter().filter_map(Play::preset_name).collect();
            names.dedup();
            let what = if names.len() > 1 {
                "presets"
            } else {
                "cue traces"
            };
            let error = InputError::whole(format!(
                "a profile is of one preset and one cue trace, but there are {} to play",
                plays.len()
            ));
            let help = if names.len() > 1 {
                format!("choose one with --preset; {what}: {}", names.join(", "))
            } else {
                let cues: Vec<String> = plays.iter().map(Play::cues_name).collect();
                format!("choose one with --cues; {what}: {}", cues.join(", "))
            };
            Err(InputErrors::from(error.help(help)).into())
        }
    }
}

/// What the ending of the file to write asks for; CSV where there is no ending to go by.
fn guess(out: Option<&Path>) -> Result<ProfileFormat, VerbError> {
    let Some(ending) = out.and_then(Path::extension) else {
        return Ok(ProfileFormat::Csv);
    };
    match ending.to_str() {
        Some("csv" | "txt") => Ok(ProfileFormat::Csv),
        Some("json") => Ok(ProfileFormat::Json),
        Some("svg") => Ok(ProfileFormat::Svg),
        Some("png") => Ok(ProfileFormat::Png),
        _ => {
            let ending = ending.to_string_lossy();
            let fault = InputError::whole(format!("a profile cannot be written as \".{ending}\""));
            let help = "end the file's name in .csv, .json, .svg or .png, or add --format";
            Err(InputErrors::from(fault.help(help)).into())
        }
    }
}

/// Plays the whole trace, handing over the levels and figures of every frame.
pub(in crate::cli) fn each_frame(
    loaded: &Loaded,
    play: &Play,
    bench: &mut Bench<'_>,
    mut see: impl FnMut(&[u8], &Figures) + Send,
) -> Result<Option<Ended>, VerbError> {
    let see = |levels: &[u8], figures: &Figures, (): &mut ()| see(levels, figures);
    each_frame_and(loaded, play, bench, see, |()| {}, |()| Ok(()))
}

/// The same where frames leave something behind: `finish` works on it on whichever core is idle, `take` takes it.
fn each_frame_and<T: Default + Send>(
    loaded: &Loaded,
    play: &Play,
    bench: &mut Bench<'_>,
    mut see: impl FnMut(&[u8], &Figures, &mut T) + Send,
    finish: impl Fn(&mut T) + Sync,
    mut take: impl FnMut(&mut T) -> Result<(), VerbError>,
) -> Result<Option<Ended>, VerbError> {
    let mut stream = play.open(&loaded.prop, loaded.cap)?;
    let bar = progress::bar(
        play.length_s(),
        &play.preset_name().unwrap_or_else(|| play.cues_name()),
    );
    let period_s = stream.period_s();
    let mut ending = Ending::new(bench.subject());
    let mut seconds = 0.0;
    let prop = &loaded.prop;
    let mut taken = Ok(());
    let playing = Playing {
        play: |chunk: &Chunk, left: &mut T| {
            bench.play(shown(prop, chunk, period_s), |frame, figures| {
                ending.observe(figures);
                see(frame.levels, figures, left);
            });
            true
        },
        finish,
        take: |frames, left: &mut T| {
            seconds += frames as f64 * period_s;
            bar.set_position(seconds as u64);
            taken = take(left);
            taken.is_ok()
        },
    };
    let played = play_ahead(stream.as_mut(), CHUNK_FRAMES, playing);
    bar.finish_and_clear();
    taken?;
    played?;
    if let Some(ended) = ending.found() {
        anstream::eprintln!(
            "note: the prop would go dark here: {ended}; the frames after that show what it would draw if it went on"
        );
    }
    Ok(ending.found().cloned())
}

pub(in crate::cli) fn bench(prop: &Prop, condition: Condition) -> Result<Bench<'_>, VerbError> {
    Bench::new(prop, condition).map_err(|error| {
        let error = InputError::whole(format!("the netlist cannot be solved: {error}"));
        InputErrors::from(error.help("`lampwright check` names the wiring fault")).into()
    })
}

fn csv(
    loaded: &Loaded,
    play: &Play,
    condition: Condition,
    sink: &mut Sink,
) -> Result<(), VerbError> {
    let mut bench = bench(&loaded.prop, condition)?;
    let circuit = bench.circuit().clone();
    sink.write(|out| csv_header(out, &circuit))?;
    let make = |rows: &mut Rows| rows.make_csv(&circuit);
    each_rows(loaded, play, &mut bench, make, |text| {
        sink.write(|out| out.write_all(text))
    })?;
    Ok(())
}

/// Plays the whole trace; `make` makes the text of rows, beside the solving of the next frames, `write` writes it.
fn each_rows(
    loaded: &Loaded,
    play: &Play,
    bench: &mut Bench<'_>,
    make: impl Fn(&mut Rows) + Sync,
    mut write: impl FnMut(&[u8]) -> Result<(), VerbError>,
) -> Result<Option<Ended>, VerbError> {
    let see = |_: &[u8], figures: &Figures, rows: &mut Rows| rows.add(figures);
    each_frame_and(loaded, play, bench, see, make, |rows| {
        write(rows.text())?;
        rows.clear_text();
        Ok(())
    })
}

fn json(
    loaded: &Loaded,
    play: &Play,
    condition: Condition,
    sink: &mut Sink,
) -> Result<(), VerbError> {
    let mut bench = bench(&loaded.prop, condition)?;
    let circuit = bench.circuit().clone();
    let head = json!({
        "schema": PROFILE_SCHEMA, "prop": loaded.prop.name, "preset": play.preset_name(), "cues": play.cues_name(),
        "cap": loaded.cap, "condition": condition.to_string(),
    });
    let head = head.to_string();
    // The frames are written one by one: a day of them does not fit into memory.
    sink.write(|out| write!(out, "{},\"frames\":[", head.trim_end_matches('}')))?;
    let make = |rows: &mut Rows| rows.make_json(&circuit);
    let mut first = true;
    let ended = each_rows(loaded, play, &mut bench, make, |text| {
        // No comma before the first row.
        let skipped = usize::from(std::mem::take(&mut first) && !text.is_empty());
        sink.write(|out| out.write_all(&text[skipped..]))
    })?;
    sink.write(|out| writeln!(out, "\n],\"ended\":{}}}", json!(ended)))
}

fn picture(
    loaded: &Loaded,
    play: &Play,
    condition: Condition,
    format: ProfileFormat,
    sink: &mut Sink,
) -> Result<(), VerbError> {
    let mut bench = bench(&loaded.prop, condition)?;
    let circuit = bench.circuit().clone();
    let length_s = match play.length_s() {
        Some(s) => s,
        None => recorded_length_s(loaded, play)?,
    };
    let mut gatherer = Gatherer::new(&circuit, loaded.prop.frame_channels(), length_s);
    each_frame(loaded, play, &mut bench, |levels, f| {
        gatherer.add(levels, f);
    })?;
    let title = format!(
        "{}: {}",
        loaded.prop.name,
        play.preset_name()
            .unwrap_or_else(|| "recorded frames".to_owned())
    );
    let subtitle = format!("{}, {length_s:.0} s, cap {}", play.cues_name(), loaded.cap);
    let svg = gatherer
        .finish(&loaded.prop, &circuit, title, subtitle)
        .to_svg();
    if format == ProfileFormat::Svg {
        return sink.write(|out| out.write_all(svg.as_bytes()));
    }
    let png = to_png(&svg, 1.0).map_err(|e| VerbError::Tool(e.to_string()))?;
    sink.write(|out| out.write_all(&png))
}

/// Length of recorded frames: counted, since a picture needs its time axis before the first frame.
pub(in crate::cli) fn recorded_length_s(loaded: &Loaded, play: &Play) -> Result<f64, VerbError> {
    if play.cues_name() == "-" {
        let error = InputError::whole(
            "a picture needs the length of the recording first, which a pipe does not tell",
        );
        return Err(
            InputErrors::from(error.help("write the frames to a file and give that")).into(),
        );
    }
    let mut stream = play.open(&loaded.prop, loaded.cap)?;
    let mut chunk = Chunk::new();
    let mut frames = 0;
    loop {
        let more = stream.fill(&mut chunk, CHUNK_FRAMES)?;
        if more == 0 {
            return Ok(frames as f64 * stream.period_s());
        }
        frames += more;
    }
}

/// Where a profile goes.
enum Sink {
    File { output: Box<Output>, name: String },
    Stdout(BufWriter<io::Stdout>),
}

impl Sink {
    fn open(path: Option<&Path>) -> Result<Self, VerbError> {
        match path {
            Some(path) => {
                let name = path.display().to_string();
                let output = Output::create(path).map_err(|error| VerbError::Write {
                    name: name.clone(),
                    error,
                })?;
                Ok(Self::File {
                    output: Box::new(output),
                    name,
                })
            }
            None => Ok(Self::Stdout(BufWriter::new(io::stdout()))),
        }
    }

    fn write(
        &mut self,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), VerbError> {
        match self {
            Self::File { output, name } => {
                write(output.as_mut()).map_err(|error| VerbError::Write {
                    name: name.clone(),
                    error,
                })
            }
            Self::Stdout(out) => write(out).map_err(|error| VerbError::Write {
                name: "standard output".into(),
                error,
            }),
        }
    }

    fn finish(self) -> Result<(), VerbError> {
        match self {
            Self::File { output, name } => output
                .finish()
                .map_err(|error| VerbError::Write { name, error }),
            Self::Stdout(mut out) => out.flush().map_err(|error| VerbError::Write {
                name: "standard output".into(),
                error,
            }),
        }
    }
}
