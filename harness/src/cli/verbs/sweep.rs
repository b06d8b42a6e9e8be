//! `sweep` and `merge`: the same trace on many props, each with its own draw of every tolerance.

use super::cap::{refuse_faults, refuse_pipe};
use crate::build::diag::{InputError, InputErrors};
use crate::build::prop::Prop;
use crate::cli::args::{MergeArgs, SpreadArg, SweepArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded, Play};
use crate::cli::{picture, print, progress, VerbError};
use crate::report::cap_picture::sweep_picture;
use crate::report::output::Output;
use crate::report::samples::{read, write_row, Head, SAMPLES_SCHEMA};
use crate::report::samples_parquet;
use crate::report::sweep::{sweep_json, sweep_text, RiskCap, SweepReport};
use crate::study::sweep::corners::corners;
use crate::study::sweep::design::{Design, Spread};
use crate::study::sweep::engine::{settings_of, Sample, Settings, Sweep};
use crate::study::sweep::summary::{cap_for_risk, outcomes};
use crate::study::sweep::tolerance::tolerances;
use crate::units::{parse, Quantity, Ratio, Temperature};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::fs::{File, OpenOptions};
use std::io::{BufReader, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::Arc;

/// Samples that are played before they are written down.
const BLOCK: usize = 128;
/// Samples whose own safe cap is looked for.
const RISK_SAMPLES: u64 = 128;

/// Runs `sweep`.
pub(in crate::cli) fn run(args: &SweepArgs) -> Result<Exit, VerbError> {
    refuse_pipe(args.prop.frames.as_deref(), "sweep")?;
    picture::check_ending(args.picture.as_deref())?;
    let loaded = load(&args.prop)?;
    refuse_faults(&loaded)?;
    let play = only(&loaded)?;
    let settings = settings(args, &loaded)?;
    let (shard, shards) = shard(args.shard.as_deref())?;
    let prop = &loaded.prop;
    let bar = progress::bar(play.length_s(), "whole trace");
    let sweep = Sweep::new(prop, play, tolerances(prop), settings.clone(), &|s| {
        bar.set_position(s as u64);
    })?;
    bar.finish_and_clear();
    let head = Head {
        schema: SAMPLES_SCHEMA.to_owned(),
        prop: prop.name.clone(),
        preset: play.preset_name().unwrap_or_else(|| play.cues_name()),
        cues: play.cues_name(),
        fingerprint: fingerprint(prop, play, &settings),
        seed: settings.design.seed,
        samples: settings.design.samples,
        shard,
        shards,
        cap: settings.cap,
        checks: sweep.checks().iter().map(|c| (*c).to_owned()).collect(),
        tolerances: sweep.tolerances().iter().map(|t| t.name.clone()).collect(),
    };
    let (samples, complete) = play_all(&sweep, &head, args)?;
    let risk = match args.risk.as_deref() {
        Some(text) if complete => Some(risk(text, &sweep, &settings, prop, play)?),
        _ => None,
    };
    let corners = match args.corners && complete {
        true => Some(corners(&sweep)?),
        false => None,
    };
    let audit = audit(&sweep, &samples, args.audit)?;
    let (short, long) = sweep.frames();
    let reduction = if settings.full {
        format!("every sample played the whole trace of {long} frames")
    } else {
        let worst = sweep.deviation().map_or(String::new(), |(id, d)| {
            format!(
                "; largest deviation of the digest on calibration props {:.3} % ({id})",
                d * 100.0
            )
        });
        format!("digest of {short} frames for {long}, the whole trace where a margin lies within four times its deviation{worst}{audit}")
    };
    let mut report = report(
        head,
        samples,
        risk,
        reduction,
        sweep
            .tolerances()
            .iter()
            .map(|t| (t.name.clone(), t.source.clone()))
            .collect(),
    );
    report.corners = corners;
    if let Some(path) = &args.picture {
        let r = &report;
        let drawn = sweep_picture(&r.head.prop, &r.head.preset, r.played, &r.outcomes);
        picture::write(path, &drawn.to_svg())?;
    }
    show(&report, args.format)
}

/// Words on how often a digest's verdict differed from the whole trace's, where that is likeliest: nearest to a limit.
fn audit(sweep: &Sweep<'_>, samples: &[Sample], wanted: usize) -> Result<String, VerbError> {
    let mut decided: Vec<&Sample> = samples.iter().filter(|s| !s.full).collect();
    if wanted == 0 || decided.is_empty() {
        return Ok(String::new());
    }
    let nearness = |s: &&Sample| s.margins.iter().fold(f64::INFINITY, |m, v| m.min(v.abs()));
    decided.sort_by(|a, b| nearness(a).total_cmp(&nearness(b)));
    decided.truncate(wanted);
    let differing = sweep.audit(&decided)?;
    let advice = [": do not trust this digest, play with --full", ""][usize::from(differing == 0)];
    Ok(format!(
        "; audit: {differing} verdicts differ in {} samples, the nearest to a limit, played both ways{advice}",
        decided.len()
    ))
}

fn show(report: &SweepReport, format: TextFormat) -> Result<Exit, VerbError> {
    match format {
        TextFormat::Text => print(&sweep_text(report))?,
        TextFormat::Json => print(&format!("{:#}\n", sweep_json(report)))?,
    }
    let fails = report.outcomes.first().is_some_and(|o| o.failures > 0);
    Ok(if fails { Exit::Fails } else { Exit::Holds })
}

fn report(
    head: Head,
    mut samples: Vec<Sample>,
    risk: Option<RiskCap>,
    reduction: String,
    sources: Vec<(String, String)>,
) -> SweepReport {
    samples.sort_by_key(|s| s.index);
    SweepReport {
        played: samples.len() as u64,
        whole: samples.iter().filter(|s| s.full).count() as u64,
        outcomes: outcomes(&head.checks, &head.tolerances, &samples),
        head,
        risk,
        corners: None,
        reduction,
        sources,
    }
}

/// Runs `merge`.
pub(in crate::cli) fn merge(args: &MergeArgs) -> Result<Exit, VerbError> {
    let mut merged: Option<(Head, Vec<Sample>)> = None;
    let mut seen = BTreeSet::new();
    for path in &args.files {
        let (head, samples) = read_file(path)?.0;
        let fail = |why: String, help: &str| {
            InputErrors::from(InputError::whole(format!("{}: {why}", path.display())).help(help))
        };
        if let Some(s) = samples.iter().find(|s| !seen.insert(s.index)) {
            return Err(fail(
                format!("sample {} is in another file too", s.index),
                "give each shard once",
            )
            .into());
        }
        match &mut merged {
            None => merged = Some((head, samples)),
            Some((first, all)) if first.same_sweep(&head) => all.extend(samples),
            Some(_) => {
                return Err(fail(
                    "belongs to another sweep than the files before".to_owned(),
                    "merge shards of the same prop, preset, settings, seed and number of samples",
                )
                .into())
            }
        }
    }
    let Some((mut head, mut samples)) = merged else {
        return Err(InputErrors::from(InputError::whole("no samples file is given")).into());
    };
    (head.shard, head.shards) = (1, 1);
    samples.sort_by_key(|s| s.index);
    if let Some(out) = args.out.as_ref().filter(|o| is_parquet(o)) {
        write_parquet(out, &head, &samples)?;
    } else if let Some(out) = &args.out {
        let mut file = Output::create(out).map_err(|e| write_error(out, e))?;
        head.write(&mut file).map_err(|e| write_error(out, e))?;
        for s in &samples {
            write_row(&mut file, s).map_err(|e| write_error(out, e))?;
        }
        file.finish().map_err(|e| write_error(out, e))?;
    }
    let reduction = format!("merged from {} files", args.files.len());
    show(
        &report(head, samples, None, reduction, Vec::new()),
        args.format,
    )
}

fn is_parquet(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "parquet")
}

fn write_parquet(out: &Path, head: &Head, samples: &[Sample]) -> Result<(), VerbError> {
    let file = Output::create(out).map_err(|e| write_error(out, e))?;
    let file = samples_parquet::write(file, head, samples)
        .map_err(|e| write_error(out, std::io::Error::other(e)))?;
    file.finish().map_err(|e| write_error(out, e))
}

type SamplesFile = ((Head, Vec<Sample>), u64);

fn read_file(path: &Path) -> Result<SamplesFile, VerbError> {
    let fail = |why: String| {
        let error = InputError::whole(format!("{}: {why}", path.display()));
        VerbError::from(InputErrors::from(
            error.help("give a file that `lampwright sweep --out` wrote"),
        ))
    };
    let file = File::open(path).map_err(|e| fail(format!("cannot be read: {e}")))?;
    let (head, samples, bytes) = read(BufReader::new(file)).map_err(fail)?;
    Ok(((head, samples), bytes))
}

fn write_error(path: &Path, error: std::io::Error) -> VerbError {
    VerbError::Write {
        name: path.display().to_string(),
        error,
    }
}

/// Plays every sample of the shard that is not there yet; says whether all are there now.
fn play_all(
    sweep: &Sweep<'_>,
    head: &Head,
    args: &SweepArgs,
) -> Result<(Vec<Sample>, bool), VerbError> {
    let part = args.out.as_ref().map(|out| {
        let mut name = out.clone().into_os_string();
        name.push(".part");
        PathBuf::from(name)
    });
    let mut samples = Vec::new();
    let mut file = match (&args.out, &part) {
        (Some(out), Some(_)) if args.resume && out.exists() && !is_parquet(out) => {
            samples = resumed(out, head)?.0;
            None
        }
        (Some(_), Some(part)) => {
            let (found, file) = start(part, head, args.resume)?;
            samples = found;
            Some(file)
        }
        _ => None,
    };
    let done: BTreeSet<u64> = samples.iter().map(|s| s.index).collect();
    let wanted: Vec<u64> = head.indices().filter(|i| !done.contains(i)).collect();
    let stop = stop_flag();
    let bar = progress::count(wanted.len() as u64, "samples");
    for block in wanted.chunks(BLOCK) {
        if stop.load(Ordering::Relaxed) {
            bar.finish_and_clear();
            let kept = part.as_ref().map_or_else(
                || "; with --out FILE they would have been kept".to_owned(),
                |p| format!(", kept in {}; go on with --resume", p.display()),
            );
            let _ = writeln!(
                anstream::stderr(),
                "stopped after {} samples{kept}",
                samples.len()
            );
            return Ok((samples, false));
        }
        let played = sweep.samples(block)?;
        if let (Some(file), Some(part)) = (&mut file, &part) {
            for s in &played {
                write_row(file, s).map_err(|e| write_error(part, e))?;
            }
            file.flush().map_err(|e| write_error(part, e))?;
        }
        samples.extend(played);
        bar.inc(block.len() as u64);
    }
    bar.finish_and_clear();
    if let (Some(out), Some(part), Some(file)) = (&args.out, &part, file) {
        drop(file);
        if is_parquet(out) {
            samples.sort_by_key(|s| s.index);
            write_parquet(out, head, &samples)?;
            std::fs::remove_file(part).map_err(|e| write_error(part, e))?;
        } else {
            std::fs::rename(part, out).map_err(|e| write_error(out, e))?;
        }
    }
    Ok((samples, true))
}

fn start(
    part: &Path,
    head: &Head,
    resume: bool,
) -> Result<(Vec<Sample>, BufWriter<File>), VerbError> {
    if resume && part.exists() {
        let (samples, bytes) = resumed(part, head)?;
        let mut file = OpenOptions::new()
            .write(true)
            .open(part)
            .map_err(|e| write_error(part, e))?;
        file.set_len(bytes).map_err(|e| write_error(part, e))?;
        file.seek(SeekFrom::End(0))
            .map_err(|e| write_error(part, e))?;
        let mut file = BufWriter::new(file);
        if bytes == 0 {
            head.write(&mut file).map_err(|e| write_error(part, e))?;
        }
        return Ok((samples, file));
    }
    let file = File::create(part).map_err(|e| write_error(part, e))?;
    let mut file = BufWriter::new(file);
    head.write(&mut file).map_err(|e| write_error(part, e))?;
    Ok((Vec::new(), file))
}

fn resumed(path: &Path, head: &Head) -> Result<(Vec<Sample>, u64), VerbError> {
    let ((found, samples), bytes) = read_file(path)?;
    if found != *head {
        let error = InputError::whole(format!(
            "{}: was made with another prop, preset, seed, number of samples or shard",
            path.display()
        ));
        return Err(InputErrors::from(
            error.help("give the same arguments as before, or leave --resume out"),
        )
        .into());
    }
    Ok((samples, bytes))
}

/// Set by an interrupt: the block under way is finished and written first.
fn stop_flag() -> Arc<AtomicBool> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&flag);
    // Without a handler an interrupt ends the run at once; whole blocks are kept all the same.
    let _ = ctrlc::set_handler(move || {
        // A second interrupt means it.
        if set.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    });
    flag
}

fn only(loaded: &Loaded) -> Result<&Play, VerbError> {
    match loaded.plays.as_slice() {
        [one] => Ok(one),
        plays => {
            let names: Vec<String> = plays.iter().filter_map(|p| p.preset_name()).collect();
            let error = InputError::whole(format!(
                "a sweep plays one preset with one cue trace, and here are {}: {}",
                plays.len(),
                names.join(", ")
            ));
            Err(InputErrors::from(error.help(
                "choose with --preset NAME, and with --cues FILE where it has several traces",
            ))
            .into())
        }
    }
}

fn settings(args: &SweepArgs, loaded: &Loaded) -> Result<Settings, VerbError> {
    let design = Design {
        seed: args.seed,
        samples: args.samples,
    };
    let mut s = settings_of(&loaded.prop, design, loaded.cap);
    s.full = args.full;
    s.spread = match args.spread {
        SpreadArg::Even => Spread::Even,
        SpreadArg::Normal => Spread::Normal,
    };
    if let Some(text) = &args.soc {
        s.soc = range::<Ratio>("--soc", text)?;
    }
    if let Some(text) = &args.temperature {
        s.temperature_k = range::<Temperature>("--temperature", text)?;
    }
    if !(0.0..=1.0).contains(&s.soc.0) || !(0.0..=1.0).contains(&s.soc.1) {
        let error = InputError::whole("--soc must lie from 0 % to 100 %");
        return Err(
            InputErrors::from(error.help("write --soc \"20 %\" or --soc \"20 %..100 %\"")).into(),
        );
    }
    Ok(s)
}

/// "20 %" or "20 %..100 %".
fn range<Q: Quantity>(option: &str, text: &str) -> Result<(f64, f64), VerbError> {
    let value = |text: &str| {
        parse::<Q>(text.trim()).map(|q| q.si()).map_err(|e| {
            let error = InputError::whole(format!("{option} {text}: {e}"));
            VerbError::from(InputErrors::from(
                error.help("write one value, or two with .. between them"),
            ))
        })
    };
    match text.split_once("..") {
        Some((low, high)) => {
            let (low, high) = (value(low)?, value(high)?);
            Ok((low.min(high), low.max(high)))
        }
        None => value(text).map(|v| (v, v)),
    }
}

fn shard(text: Option<&str>) -> Result<(u64, u64), VerbError> {
    let Some(text) = text else { return Ok((1, 1)) };
    let parsed = text.split_once('/').and_then(|(i, n)| {
        let (i, n) = (i.trim().parse().ok()?, n.trim().parse().ok()?);
        (1..=n).contains(&i).then_some((i, n))
    });
    parsed.ok_or_else(|| {
        let error = InputError::whole(format!("--shard {text} is not a part of a whole"));
        InputErrors::from(error.help("write --shard 2/5 for the second of five parts")).into()
    })
}

fn risk(
    text: &str,
    sweep: &Sweep<'_>,
    settings: &Settings,
    prop: &Prop,
    play: &Play,
) -> Result<RiskCap, VerbError> {
    let risk = range::<Ratio>("--risk", text)?.0;
    if !(0.0..1.0).contains(&risk) {
        let error = InputError::whole("--risk must lie from 0 % to below 100 %");
        return Err(InputErrors::from(error.help("write --risk \"5 %\"")).into());
    }
    let uncapped;
    let full = if settings.cap == u8::MAX {
        sweep
    } else {
        let settings = Settings {
            cap: u8::MAX,
            ..settings.clone()
        };
        uncapped = Sweep::new(prop, play, tolerances(prop), settings, &|_| {})?;
        &uncapped
    };
    let digests = full.capped_digests();
    let count = settings.design.samples.min(RISK_SAMPLES);
    // Spread over the design, so that every part of each tolerance is met.
    let step = settings.design.samples / count.max(1);
    let caps = (0..count)
        .into_par_iter()
        .map(|i| full.safe_cap(i * step, &digests))
        .collect::<Result<Vec<_>, _>>()?;
    let found = cap_for_risk(&caps, risk);
    Ok(RiskCap {
        risk,
        cap: found.map(|f| f.0),
        low: found.map(|f| f.1),
        high: found.map(|f| f.2),
        samples: caps.len(),
    })
}

/// Changes with any figure that the samples depend on (FNV-1a, 64 bits).
fn fingerprint(prop: &Prop, play: &Play, settings: &Settings) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    let mut add = |text: String| {
        for byte in text.bytes() {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3);
        }
    };
    for part in &prop.parts {
        add(format!("{} {:?}", part.name, part.kind));
    }
    add(format!(
        "{:?} {:?} {:?}",
        prop.wires, prop.conditions, prop.sound
    ));
    match play {
        Play::Preset { preset, cues } => add(format!("{:?} {cues:?}", preset.file.preset)),
        Play::Recorded {
            path,
            frame_rate_hz,
        } => add(format!("{path:?} {frame_rate_hz:?}")),
        Play::Captured {
            capture,
            frame_rate_hz,
        } => add(format!("{:?} {frame_rate_hz:?}", capture.decoded)),
        Play::Program { options, cues } => add(format!("{options:?} {cues:?}")),
    }
    add(format!("{settings:?}"));
    format!("{hash:016x}")
}
