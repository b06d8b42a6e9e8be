//! LED current profiler and firmware test harness for battery-powered hand-held illuminated props.
//!
//! The command `lampwright` is [`cli`]; everything it does can be had from here. A prop goes this way:
//!
//! | module | what it does | begin with |
//! |---|---|---|
//! | [`build`] | files to validated parts; every fault with its place and how to mend it | [`build::folder::read_prop`], [`build::file::read_build`] |
//! | [`profile`] | cues and presets to frames, frames to currents and voltages | [`profile::bench::Bench`], [`profile::FrameStream`] |
//! | [`electrical`] | networks, strips, cells; plain SI numbers; no files | [`electrical::Network`], [`electrical::Solver`] |
//! | [`study`] | checks, caps, tolerance studies, calibration | [`study::watch::watch`], [`study::cap::find_cap`] |
//! | [`report`] | text, JSON, tables, pictures | [`report::text::check_text`] |
//! | [`units`] | quantities with their units | [`units::parse`] |
//!
//! # A build, judged
//!
//! Whether the hand lamp that `lampwright new` writes holds with every pixel at its cap:
//!
//! ```
//! use lampwright::build::diag::Source;
//! use lampwright::build::file::read_build;
//! use lampwright::build::preset::StripMap;
//! use lampwright::build::template::FILES;
//! use lampwright::study::steady::watch_steady;
//! use lampwright::study::verdict::Verdict;
//!
//! let (name, text) = FILES[0];
//! let prop = read_build(&Source::new(name, text)).unwrap_or_else(|faults| panic!("{faults}"));
//! assert_eq!((prop.name.as_str(), prop.pixels()), ("Hand lamp", 24));
//!
//! let layout = StripMap::of(&prop).layout().expect("it has a strip");
//! let results = watch_steady(&prop, layout).expect("the circuit can be solved");
//! let fuse = results.iter().find(|r| r.id == "fuse-hold").expect("it has a fuse");
//! assert_eq!(fuse.verdict, Verdict::Holds, "{}", fuse.why);
//! ```
//!
//! # A file with a fault
//!
//! ```
//! use lampwright::build::diag::Source;
//! use lampwright::build::file::read_build;
//!
//! let text = "[prop]\nname = \"Lamp\"\n[parts.cell]\nkind = \"cel\"\n";
//! let faults = read_build(&Source::new("build.toml", text)).expect_err("there is no such kind");
//! let (file, line, column) = faults.0[0].location().expect("it stands in the text");
//! assert_eq!((&*file, line, column), ("build.toml", 4, 8));
//! assert!(faults.0[0].help.as_deref().is_some_and(|help| help.contains("cell")));
//! ```
//!
//! # A quantity
//!
//! ```
//! use lampwright::units::{parse, Current, Quantity};
//!
//! let amps = parse::<Current>("350 mA").expect("a number and a unit").si();
//! assert!((amps - 0.35).abs() < 1e-12);
//! assert!(parse::<Current>("350").is_err(), "a bare number has no unit");
//! ```
#![forbid(unsafe_code)]

pub mod build;
#[cfg(feature = "command")]
pub mod cli;
pub mod electrical;
pub mod profile;
#[cfg(feature = "command")]
pub mod report;
#[cfg(feature = "proptest")]
pub mod strategies;
pub mod study;
pub mod units;
pub mod view;
