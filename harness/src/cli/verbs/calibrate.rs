//! `calibrate`: the prop's own figures from what a meter read.

mod new_preset;
mod plays;

use super::profile::option;
use crate::build::diag::{InputError, InputErrors, Source};
use crate::build::file::read_with;
use crate::build::folder::{read_prop, read_text, Choice};
use crate::build::measured::{read_measured, ReadOptions};
use crate::build::overrides::with_overrides;
use crate::build::prop::Prop;
use crate::cli::args::{CalibrateArgs, PropArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{load, Loaded};
use crate::cli::{picture, print, progress, VerbError};
use crate::profile::condition::{Condition, NOMINAL_SOC, NOMINAL_TEMPERATURE_K};
use crate::report::calibrate::{calibrate_json, calibrate_text, CalibrateReport, LogReport};
use crate::report::calibrate_picture::residual_picture;
use crate::report::output::Output;
use crate::study::calibrate::{
    calibrate, not_taken, on_supply, overrides, Calibration, Circumstances, Frames, Log, Wanted,
};
use crate::study::compare::{side_by_side, Pair};
use crate::study::verdict::CheckResult;
use crate::study::watch::watch;
use crate::units::{Current, Ratio, Temperature, Time, Voltage};
use plays::{frames_of, named_logs, tap_of, NamedLog};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Runs the verb.
pub(in crate::cli) fn run(args: &CalibrateArgs) -> Result<Exit, VerbError> {
    if args.write_preset {
        return new_preset::run(args);
    }
    picture::check_ending(args.picture.as_deref())?;
    let bench = Bench::of(args)?;
    let choice = Choice {
        build: args.prop.build.clone(),
        variant: args.prop.variant.clone(),
        parts: args.prop.own.folder()?,
        ..Choice::default()
    };
    let prop = read_prop(&args.prop.prop, &choice)?;
    let build = build_path(&args.prop);
    let output = open_copy(args.out.as_deref(), &build)?;
    let named = named_logs(args, &prop)?;
    let (frames, shown) = frames_of(args, &named)?;
    let logs = read_logs(&prop, &named, &shown, &bench.read)?;
    let on_bench = match bench.supply_v {
        Some(v) => on_supply(&prop, v),
        None => prop.clone(),
    };
    let bar = progress::count(1, "fitting");
    let fitted = calibrate(&on_bench, &frames, &logs, bench.circumstances)?;
    bar.finish_and_clear();
    let text = calibrated_text(&prop, &fitted, &logs, &bench, &build)?;
    let calibrated = read_back(&prop, &fitted, &logs, &bench, &text, args)?;
    let (margins, checked) = if args.no_checks {
        (None, String::new())
    } else {
        let (pairs, checked) = margins(args, &named, &calibrated)?;
        (Some(pairs), checked)
    };
    let report = CalibrateReport {
        prop: prop.name.clone(),
        bench: bench.words(),
        logs: log_reports(&named, &logs, &frames, &fitted),
        calibration: fitted,
        margins,
        checked,
        written: args.out.as_ref().map(|p| p.display().to_string()),
    };
    if let Some((mut out, path)) = output {
        let fail = |error| VerbError::Write {
            name: path.display().to_string(),
            error,
        };
        out.write_all(text.as_bytes()).map_err(fail)?;
        out.finish().map_err(fail)?;
    }
    if let (Some(path), Some(chart)) = (&args.picture, residual_picture(&report)) {
        picture::write(path, &chart.to_svg())?;
    }
    match args.format {
        TextFormat::Text => print(&calibrate_text(&report, args.steps))?,
        TextFormat::Json => print(&format!("{:#}\n", calibrate_json(&report)))?,
    }
    Ok(if report.fails() {
        Exit::Fails
    } else {
        Exit::Holds
    })
}

/// The circumstances of the bench, from the options.
struct Bench {
    circumstances: Circumstances,
    supply_v: Option<f64>,
    read: ReadOptions,
}

impl Bench {
    fn of(args: &CalibrateArgs) -> Result<Self, VerbError> {
        let mut errors = Vec::new();
        let missing = f64::NAN;
        let soc = option::<Ratio>("--soc", args.soc.as_deref(), NOMINAL_SOC, &mut errors);
        if !(0.0..=1.0).contains(&soc) {
            errors.push(
                InputError::whole("--soc must lie from 0 % to 100 %").help("write --soc \"60 %\""),
            );
        }
        let temperature_k = option::<Temperature>(
            "--temperature",
            args.temperature.as_deref(),
            NOMINAL_TEMPERATURE_K,
            &mut errors,
        );
        let mut positive = |name: &str, value: f64, example: &str| {
            if value <= 0.0 {
                let error = InputError::whole(format!("{name} must be above zero"));
                errors.push(error.help(format!("write {name} \"{example}\"")));
            }
            value.is_finite().then_some(value)
        };
        let mut own = Vec::new();
        let supply = option::<Voltage>("--supply", args.supply.as_deref(), missing, &mut own);
        let interval = option::<Time>("--interval", args.interval.as_deref(), missing, &mut own);
        let range = option::<Current>("--range", args.range.as_deref(), missing, &mut own);
        let supply_v = positive("--supply", supply, "4.0 V");
        let interval_s = positive("--interval", interval, "10 ms");
        let range_a = positive("--range", range, "3 A");
        errors.extend(own);
        let wanted = match args.fit.as_slice() {
            [] => None,
            words => match Wanted::of_words(words.iter().map(String::as_str)) {
                Ok(wanted) => Some(wanted),
                Err(word) => {
                    let near = crate::build::diag::near_miss(&word, Wanted::WORDS);
                    let hint = near.map_or_else(String::new, |n| format!("did you mean {n}? "));
                    let error = InputError::whole(format!("--fit: \"{word}\" cannot be fitted"));
                    errors.push(error.help(format!("{hint}one of {}", Wanted::WORDS.join(", "))));
                    None
                }
            },
        };
        if !errors.is_empty() {
            return Err(InputErrors(errors).into());
        }
        Ok(Self {
            circumstances: Circumstances {
                condition: Condition {
                    soc,
                    temperature_k,
                    ..Condition::nominal()
                },
                speaker: !args.speaker_off,
                wanted,
            },
            supply_v,
            read: ReadOptions {
                columns: args.columns.clone(),
                interval_s,
                range_a,
            },
        })
    }

    fn words(&self) -> String {
        let c = &self.circumstances.condition;
        let celsius = (c.temperature_k - 273.15).round();
        let source = match self.supply_v {
            Some(v) => format!("supply of {v} V"),
            None => format!("cell {:.0} % charged", c.soc * 100.0),
        };
        let speaker = if self.circumstances.speaker {
            ""
        } else {
            ", speaker off"
        };
        format!("{source}, {celsius:.0} °C{speaker}")
    }
}

fn build_path(args: &PropArgs) -> PathBuf {
    args.build
        .clone()
        .unwrap_or_else(|| args.prop.join("build.toml"))
}

/// Opens the copy before the work starts. The build file itself is never written.
fn open_copy<'p>(
    out: Option<&'p Path>,
    build: &Path,
) -> Result<Option<(Output, &'p Path)>, VerbError> {
    let Some(path) = out else { return Ok(None) };
    let same = match (path.canonicalize(), build.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    };
    let refuse = |why: &str, help: &str| {
        let error = InputError::whole(format!("--out {}: {why}", path.display()));
        VerbError::from(InputErrors::from(error.help(help)))
    };
    if same {
        return Err(refuse(
            "is the build file itself",
            "name another file: the calibrated build is a copy",
        ));
    }
    if path.extension().is_none_or(|e| e != "toml") {
        return Err(refuse(
            "must end in .toml",
            "write --out build-calibrated.toml",
        ));
    }
    let output = Output::create(path).map_err(|error| VerbError::Write {
        name: path.display().to_string(),
        error,
    })?;
    Ok(Some((output, path)))
}

fn read_logs(
    prop: &Prop,
    named: &[NamedLog],
    shown: &[usize],
    options: &ReadOptions,
) -> Result<Vec<Log>, VerbError> {
    let mut logs = Vec::new();
    let mut errors = Vec::new();
    for (log, play) in named.iter().zip(shown) {
        match read_measured(&log.path, options) {
            Ok(measured) => {
                // What is said on the command line outweighs what stands in the log.
                let tap = match (&log.tap, &measured.voltage_at) {
                    (None, Some(text)) => Some(tap_of(text, prop)?),
                    (tap, _) => *tap,
                };
                logs.push(Log {
                    measured,
                    play: *play,
                    tap,
                });
            }
            Err(InputErrors(more)) => errors.extend(more),
        }
    }
    if errors.is_empty() {
        Ok(logs)
    } else {
        Err(InputErrors(errors).into())
    }
}

fn names(logs: &[Log]) -> String {
    let names: Vec<&str> = logs.iter().map(|l| l.measured.name.as_str()).collect();
    names.join(", ")
}

/// The build file's text with every fitted figure written over.
fn calibrated_text(
    prop: &Prop,
    fitted: &Calibration,
    logs: &[Log],
    bench: &Bench,
    build: &Path,
) -> Result<String, VerbError> {
    let sure = &fitted.judged.certainty;
    let heading = format!(
        "A copy of {} with figures fitted by `lampwright calibrate` {}.\nLogs: {}\nBench: {}\n{} readings, {} far out. Each fitted figure names its source; its low and high are the ends of the\n95 % interval (the high end of a contact stays that of a worn one).",
        build.display(),
        env!("CARGO_PKG_VERSION"),
        names(logs),
        bench.words(),
        sure.readings.0,
        sure.outliers
    );
    let list = overrides(
        prop,
        &fitted.judged.estimates,
        &names(logs),
        bench.supply_v.is_some(),
    );
    Ok(with_overrides(&read_text(build)?.text, &heading, &list)?)
}

/// Reads the calibrated text as a build file and makes sure that its figures are in force.
fn read_back(
    prop: &Prop,
    fitted: &Calibration,
    logs: &[Log],
    bench: &Bench,
    text: &str,
    args: &CalibrateArgs,
) -> Result<Prop, VerbError> {
    let source = Source::new("the calibrated build", text);
    let calibrated = read_with(&source, args.prop.variant.as_deref(), &prop.catalogue)?;
    let list = overrides(
        prop,
        &fitted.judged.estimates,
        &names(logs),
        bench.supply_v.is_some(),
    );
    if let Some(what) = not_taken(&calibrated, &list) {
        let error = InputError::whole(format!("the fitted {what} does not take effect"));
        let help = "the variant gives that figure itself: take it out of [variant.NAME], or calibrate the plain build";
        return Err(InputErrors::from(error.help(help)).into());
    }
    Ok(calibrated)
}

/// Every check with the stated and with the fitted figures: of the presets that were named, else of all the
/// prop has, else of what was logged.
fn margins(
    args: &CalibrateArgs,
    named: &[NamedLog],
    calibrated: &Prop,
) -> Result<(Vec<Pair>, String), VerbError> {
    let own = args.prop.prop.join("presets");
    let has_own = std::fs::read_dir(own).is_ok_and(|mut d| d.next().is_some());
    let one = if has_own || args.prop.frames.is_some() {
        args.prop.clone()
    } else {
        named
            .first()
            .map_or_else(|| args.prop.clone(), |l| l.play.clone())
    };
    let loaded = load(&one)?;
    let mut before = Vec::new();
    let mut after = Vec::new();
    for play in &loaded.plays {
        let name = play.preset_name().unwrap_or_else(|| play.cues_name());
        let bar = progress::bar(play.length_s(), &name);
        let run = |prop: &Prop| -> Result<Vec<CheckResult>, VerbError> {
            let mut stream = play.open(prop, loaded.cap)?;
            Ok(watch(prop, play.preset(), stream.as_mut(), &|_| {})?)
        };
        before.extend(run(&loaded.prop)?);
        after.extend(run(calibrated)?);
        bar.finish_and_clear();
    }
    Ok((side_by_side(&before, &after), played(&loaded)))
}

fn played(loaded: &Loaded) -> String {
    format!(
        "{} at cap {}, worst of the cautious conditions",
        loaded.names(),
        loaded.cap
    )
}

fn log_reports(
    named: &[NamedLog],
    logs: &[Log],
    frames: &[Frames],
    fitted: &Calibration,
) -> Vec<LogReport> {
    let each = named.iter().zip(logs).zip(&fitted.alignments);
    each.map(|((named, log), alignment)| LogReport {
        name: log.measured.name.clone(),
        samples: log.measured.len(),
        interval_s: log.measured.interval_s,
        voltage_at: (!log.measured.voltage_v.is_empty()).then(|| {
            named
                .tap_text
                .clone()
                .or_else(|| log.measured.voltage_at.clone())
                .unwrap_or_else(|| "the cell".to_owned())
        }),
        play: frames
            .get(log.play)
            .map_or_else(String::new, |f| f.name.clone()),
        alignment: *alignment,
        notes: log.measured.notes.clone(),
    })
    .collect()
}
