//! `compare`: builds or variants side by side.

use crate::build::diag::{InputError, InputErrors};
use crate::build::file::variant_names;
use crate::build::folder::read_text;
use crate::build::prop::Prop;
use crate::cli::args::{CompareArgs, PropArgs, TextFormat};
use crate::cli::exit::Exit;
use crate::cli::load::{layout_of, load_wiring, Loaded};
use crate::cli::{print, progress, VerbError};
use crate::report::compare::{compare_json, compare_text};
use crate::study::cap::{find_cap, CapResult, DIMMEST};
use crate::study::compare::{differences, side_by_side, Compared};
use crate::study::rules::{findings, Severity};
use crate::study::steady::watch_steady;
use crate::study::trace::{cap_of, Search};
use crate::study::verdict::{CheckResult, Verdict};
use crate::study::watch::watch;
use std::path::PathBuf;

/// Runs the verb.
pub(in crate::cli) fn run(args: &CompareArgs) -> Result<Exit, VerbError> {
    let mut builds: Vec<(String, Loaded)> = Vec::new();
    let first = args
        .prop
        .variant
        .clone()
        .unwrap_or_else(|| "as it stands".to_owned());
    builds.push((first, load_wiring(&args.prop)?));
    for (name, prop) in others(args)? {
        builds.push((name, load_wiring(&prop)?));
    }
    let mut compared: Vec<Compared> = Vec::new();
    let mut base: Vec<CheckResult> = Vec::new();
    for (k, (name, loaded)) in builds.iter().enumerate() {
        refuse_faulty(name, &loaded.prop)?;
        let checks = checks_at(loaded, loaded.cap)?;
        let caps = if args.no_caps {
            Vec::new()
        } else {
            caps(loaded)?
        };
        let fails = checks.iter().any(|r| r.verdict == Verdict::Fails);
        compared.push(Compared {
            name: name.clone(),
            differences: builds
                .first()
                .map_or_else(Vec::new, |b| differences(&b.1.prop, &loaded.prop)),
            checks: if k == 0 {
                Vec::new()
            } else {
                side_by_side(&base, &checks)
            },
            caps,
            fails,
        });
        if k == 0 {
            base = checks;
        }
    }
    let (prop, played) = builds.first().map_or_else(Default::default, |(_, l)| {
        let names: Vec<String> = l.plays.iter().filter_map(|p| p.preset_name()).collect();
        let played = if l.plays.is_empty() {
            format!("every pixel at the cap of {}", l.cap)
        } else {
            format!("presets {}", names.join(", "))
        };
        (l.prop.name.clone(), played)
    });
    match args.format {
        TextFormat::Text => print(&compare_text(&prop, &played, &compared))?,
        TextFormat::Json => print(&format!("{:#}\n", compare_json(&prop, &played, &compared)))?,
    }
    let fails = compared.iter().any(|c| c.fails);
    Ok(if fails { Exit::Fails } else { Exit::Holds })
}

/// What to compare with: variants and other builds that were named, else every variant.
fn others(args: &CompareArgs) -> Result<Vec<(String, PropArgs)>, VerbError> {
    let own = args
        .prop
        .build
        .clone()
        .unwrap_or_else(|| args.prop.prop.join("build.toml"));
    let mut names = args.with.clone();
    if names.is_empty() {
        names = variant_names(&read_text(&own)?);
        names.retain(|n| Some(n) != args.prop.variant.as_ref());
    }
    if names.is_empty() {
        let error = InputError::whole(format!(
            "{} holds no variant to compare with",
            own.display()
        ));
        let help = "write one under [variant.NAME], or name another build: --with FILE";
        return Err(InputErrors::from(error.help(help)).into());
    }
    let each = names.into_iter().map(|name| {
        let path = PathBuf::from(&name);
        let mut prop = args.prop.clone();
        if path.is_dir() {
            prop.build = None;
            prop.variant = None;
            // The presets stay those of the first prop where the other folder has none.
            if path.join("presets").is_dir() {
                prop.prop = path;
            } else {
                prop.build = Some(path.join("build.toml"));
            }
        } else if path.is_file() {
            prop.build = Some(path);
            prop.variant = None;
        } else {
            prop.variant = Some(name.clone());
        }
        (name, prop)
    });
    Ok(each.collect())
}

/// A build that does not work as drawn has no checks to compare.
fn refuse_faulty(name: &str, prop: &Prop) -> Result<(), VerbError> {
    let fault = findings(prop)
        .into_iter()
        .find(|f| f.severity == Severity::Fault);
    match fault {
        None => Ok(()),
        Some(f) => {
            let place = f.place.map(|p| format!("{p}: ")).unwrap_or_default();
            let error = InputError::whole(format!("{name}: {place}{}: {}", f.id, f.message));
            Err(InputErrors::from(error.help(f.mend)).into())
        }
    }
}

fn capped(loaded: &Loaded, cap: u8) -> Prop {
    Prop {
        cap,
        ..loaded.prop.clone()
    }
}

fn checks_at(loaded: &Loaded, cap: u8) -> Result<Vec<CheckResult>, VerbError> {
    if loaded.plays.is_empty() {
        return Ok(watch_steady(
            &capped(loaded, cap),
            layout_of(&loaded.prop)?,
        )?);
    }
    let mut out = Vec::new();
    for play in &loaded.plays {
        let mut stream = play.open(&loaded.prop, cap)?;
        out.extend(watch(
            &loaded.prop,
            play.preset(),
            stream.as_mut(),
            &|_| {},
        )?);
    }
    Ok(out)
}

fn caps(loaded: &Loaded) -> Result<Vec<CapResult>, VerbError> {
    if loaded.plays.is_empty() {
        let layout = layout_of(&loaded.prop)?;
        let steady = |cap| watch_steady(&capped(loaded, cap), layout);
        return Ok(vec![find_cap(steady, |_, _| Ok(DIMMEST))?]);
    }
    let mut out = Vec::new();
    for play in &loaded.plays {
        let name = play.preset_name().unwrap_or_else(|| play.cues_name());
        let bar = progress::bar(None, &format!("cap of {name}"));
        out.push(cap_of(&loaded.prop, play, Search::Likely, &|_, _| {})?);
        bar.finish_and_clear();
    }
    Ok(out)
}
