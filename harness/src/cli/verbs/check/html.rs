//! `check --html`: the results and all that belongs to them, gathered for one page.

use crate::build::diag::{InputError, InputErrors};
use crate::build::folder::read_text;
use crate::cli::args::CheckArgs;
use crate::cli::load::{Loaded, Play};
use crate::cli::verbs::profile::{bench, each_frame, recorded_length_s};
use crate::cli::verbs::wiring::{sheets, worst_frame};
use crate::cli::VerbError;
use crate::profile::bench::Bench;
use crate::profile::condition::Condition;
use crate::report::diagram::{lay_out, sheet, SheetWords, A4};
use crate::report::film::FilmGatherer;
use crate::report::html::{flash_words, InputText, Played, ReportPage, TryOut};
use crate::report::output::Output;
use crate::report::profile_picture::Gatherer;
use crate::report::text::CheckReport;
use crate::study::verdict::CheckResult;
use crate::study::workshop::cut_list::cut_list;
use crate::study::workshop::joints::joint_plan;
use crate::view::{carried, Texts};
use std::collections::BTreeSet;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// What all films together may take, bytes; a page holds them a third larger.
const FILMS_BYTES: usize = 350_000;

/// A page about to be written.
pub(super) struct Page {
    output: Output,
    name: String,
}

/// Opens the file before the work starts.
pub(super) fn open(path: &Path, loaded: &Loaded) -> Result<Page, VerbError> {
    if loaded.plays.iter().any(|p| p.cues_name() == "-") {
        let error =
            InputError::whole("a page plays the frames more than once, which a pipe cannot do");
        let error = error.help("write the frames to a file and give that");
        return Err(InputErrors::from(error).into());
    }
    let name = path.display().to_string();
    let output = Output::create(path).map_err(|error| VerbError::Write {
        name: name.clone(),
        error,
    })?;
    Ok(Page { output, name })
}

/// Gathers and writes it; `each` holds the results of each play.
pub(super) fn write(
    page: Page,
    args: &CheckArgs,
    loaded: &Loaded,
    report: &CheckReport,
    each: &[Vec<CheckResult>],
) -> Result<(), VerbError> {
    let prop = &loaded.prop;
    let mut played = Vec::new();
    for (play, results) in loaded.plays.iter().zip(each) {
        // Where the circuit cannot be solved there is nothing to play; the verdicts say so.
        if let Ok(one) = one(loaded, play, results) {
            played.push(one);
        }
    }
    let diagram = worst_frame(loaded).ok().map(|(currents, words)| {
        let words = format!("Currents: {words}, stated values, 60 % charged, 25 °C.");
        let svg = sheet(prop, &lay_out(prop, &currents), A4, &SheetWords::default());
        (svg, words)
    });
    // Paths of this machine are nobody's business: a trace goes by its file's name.
    let mut report = report.clone();
    for check in &mut report.checks {
        check.cues = check.cues.as_deref().map(file_name);
    }
    for part in &mut report.own_parts {
        part.file = format!("parts/{}", file_name(&part.file));
    }
    let inputs = inputs(args, loaded)?;
    let html = ReportPage {
        report,
        played,
        diagram,
        cuts: cut_list(prop),
        joints: joint_plan(prop),
        bench: sheets::sheet(loaded).ok(),
        try_out: try_out(args, loaded, &inputs),
        inputs,
        command: command(args),
    }
    .to_html();
    let Page { mut output, name } = page;
    let failed = |error: io::Error| VerbError::Write {
        name: name.clone(),
        error,
    };
    output.write_all(html.as_bytes()).map_err(failed)?;
    output.finish().map_err(failed)
}

/// The page that computes anew from the texts; `None` where something else than presets was played, or where the texts do
/// not give the plays again.
fn try_out(args: &CheckArgs, loaded: &Loaded, inputs: &[InputText]) -> Option<TryOut> {
    let mut plays = Vec::new();
    for play in &loaded.plays {
        let Play::Preset { preset, cues } = play else {
            return None;
        };
        let preset = format!("presets/{}.toml", preset.name);
        plays.push((preset, format!("cues/{}", file_name(&cues.name))));
    }
    let texts = Texts {
        variant: args.prop.variant.clone(),
        cap: Some(loaded.cap),
        files: inputs
            .iter()
            .map(|i| (i.name.clone(), i.text.clone()))
            .collect(),
        plays,
    };
    let shown = texts.read().ok()?;
    Bench::new(&shown.prop, Condition::nominal()).ok()?;
    Some(carried(&shown, &texts))
}

/// The film and the plots of one play, nominal case.
fn one(loaded: &Loaded, play: &Play, results: &[CheckResult]) -> Result<Played, VerbError> {
    let prop = &loaded.prop;
    let mut bench = bench(prop, Condition::nominal())?;
    let circuit = bench.circuit().clone();
    let length_s = match play.length_s() {
        Some(s) => s,
        None => recorded_length_s(loaded, play)?,
    };
    let channels = prop.frame_channels();
    let mut plot = Gatherer::new(&circuit, channels, length_s);
    let mut film = FilmGatherer::new(&circuit, channels, length_s);
    each_frame(loaded, play, &mut bench, |levels, f| {
        plot.add(levels, f);
        film.add(levels, f.moment.time_s);
    })?;
    let name = play
        .preset_name()
        .unwrap_or_else(|| "recorded frames".to_owned());
    let cues = play.cues_name();
    let mut picture = plot.finish(
        prop,
        &circuit,
        format!("{}: {name}", prop.name),
        format!("{}, {length_s:.0} s, cap {}", file_name(&cues), loaded.cap),
    );
    // The film shows the light already.
    picture.strips.clear();
    let film = film
        .finish(FILMS_BYTES / loaded.plays.len().max(1))
        .map_err(|e| VerbError::Tool(e.to_string()))?;
    let (flashes, flashing) = flash_words(results);
    Ok(Played {
        name,
        cues: file_name(&cues),
        film,
        plot: picture.to_svg(),
        flashes,
        flashing,
    })
}

fn file_name(path: &str) -> String {
    let name = Path::new(path).file_name();
    name.map_or_else(|| path.to_owned(), |n| n.to_string_lossy().into_owned())
}

/// The files that were read, under their names within a prop folder.
fn inputs(args: &CheckArgs, loaded: &Loaded) -> Result<Vec<InputText>, VerbError> {
    let folder = &args.prop.prop;
    let build = args.prop.build.clone();
    let mut files = vec![(
        "build.toml".to_owned(),
        build.unwrap_or_else(|| folder.join("build.toml")),
    )];
    for play in &loaded.plays {
        let Play::Preset { preset, cues } = play else {
            continue;
        };
        let own = folder.join("presets").join(format!("{}.toml", preset.name));
        let named = args.prop.preset.iter().map(PathBuf::from);
        let path = std::iter::once(own).chain(named).find(|p| {
            p.is_file()
                && p.file_stem()
                    .is_some_and(|s| s.to_string_lossy() == preset.name)
        });
        files.extend(path.map(|p| (format!("presets/{}.toml", preset.name), p)));
        let own = folder.join("cues").join(&cues.name);
        let path = args.prop.cues.clone().unwrap_or(own);
        files.push((format!("cues/{}", file_name(&cues.name)), path));
    }
    let sounds = std::fs::read_dir(folder.join("sounds"))
        .into_iter()
        .flatten();
    let mut sounds: Vec<PathBuf> = sounds.flatten().map(|e| e.path()).collect();
    sounds.retain(|p| p.extension().is_some_and(|e| e == "csv"));
    sounds.sort();
    for path in sounds {
        let name = file_name(&path.display().to_string());
        files.push((format!("sounds/{name}"), path));
    }
    let mut seen = BTreeSet::new();
    files.retain(|(name, _)| seen.insert(name.clone()));
    let read = |(name, path): (String, PathBuf)| {
        let text = read_text(&path)?.text.to_string();
        Ok(InputText { name, text })
    };
    let read: Result<Vec<InputText>, VerbError> = files.into_iter().map(read).collect();
    let mut inputs = read?;
    // In the prop's folder they are found first, wherever they came from.
    for part in &loaded.prop.own_parts {
        let (name, text) = part.file_and_text();
        let name = format!("parts/{name}");
        if seen.insert(name.clone()) {
            let text = text.to_owned();
            inputs.push(InputText { name, text });
        }
    }
    Ok(inputs)
}

/// The command that makes the page from these files.
fn command(args: &CheckArgs) -> String {
    let mut words = vec!["lampwright check .".to_owned()];
    let p = &args.prop;
    words.extend(p.variant.iter().map(|v| format!("--variant {v}")));
    let stem = |name: &String| {
        let stem = Path::new(name).file_stem();
        stem.map_or_else(|| name.clone(), |s| s.to_string_lossy().into_owned())
    };
    words.extend(p.preset.iter().map(|n| format!("--preset {}", stem(n))));
    let cues = p.cues.iter().map(|c| file_name(&c.display().to_string()));
    words.extend(cues.map(|c| format!("--cues cues/{c}")));
    let frames = p.frames.iter().map(|f| file_name(&f.display().to_string()));
    words.extend(frames.map(|f| format!("--frames {f}")));
    let captures = p
        .capture
        .iter()
        .map(|f| file_name(&f.display().to_string()));
    words.extend(captures.map(|f| format!("--capture {f}")));
    words.extend(p.engine.iter().map(|e| format!("--engine '{e}'")));
    words.extend(p.frame_rate.iter().map(|r| format!("--frame-rate {r}")));
    words.extend(p.cap.iter().map(|c| format!("--cap {c}")));
    words.push("--html report.html".to_owned());
    words.join(" ")
}
