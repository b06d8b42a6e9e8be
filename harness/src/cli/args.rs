//! What may be typed: syntax only, nothing is opened here.

mod board;

pub use board::{CompletionsArgs, DoctorArgs, ManArgs, PackArgs, UnpackArgs};

mod calibrate;

pub use calibrate::CalibrateArgs;

mod capture;

pub use capture::{CaptureArgs, DecodeArgs, PatternArgs};

mod parts;

use clap::{Args, Parser, Subcommand, ValueEnum};
pub use parts::{AddArgs, KeepArgs, OwnPartsArgs, PartsArgs, PartsTask, TemplateArgs};
use std::path::PathBuf;

/// LED current profiler and firmware test harness for battery-powered hand-held illuminated props.
///
/// A prop is a folder with build.toml, presets/*.toml and cues/*.csv. Exit codes: 0 all checks hold,
/// 1 a check fails, 2 the input is wrong, 3 the tool itself failed.
#[derive(Debug, Parser)]
#[command(name = "lampwright", version, max_term_width = 100)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub verb: Verb,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Start a prop: write a folder with a commented build file, a preset and a cue trace.
    New(NewArgs),
    /// List the parts that the program knows, with unit, condition and source of every value; add your own.
    Parts(PartsArgs),
    /// Check presets before flashing: one line a check, the worst first.
    Check(CheckArgs),
    /// Show what every frame draws: a table or a picture.
    Profile(ProfileArgs),
    /// Find the highest safe brightness cap and what binds it.
    Cap(CapArgs),
    /// Look at it: a page on this machine with the light, the currents and the margins, that follows your files.
    View(ViewArgs),
    /// Play one preset on many props, each with its own draw of every tolerance: how likely each check fails.
    Sweep(SweepArgs),
    /// Find how long the cell lasts: to cut-off, brown-out, first failing check; and forgotten, on or off.
    Runtime(RuntimeArgs),
    /// Show the light of each preset, and how even it is behind the diffuser.
    Light(LightArgs),
    /// Put the samples of several sweeps' shards together.
    Merge(MergeArgs),
    /// Check the drawing; draw it; list what to cut, solder and measure; judge the readings.
    Wiring(WiringArgs),
    /// Read a logic analyser's capture of the data lines: frames, faults, and every bit time against its limits.
    Decode(DecodeArgs),
    /// Write a preset as a capture of the data lines (VCD): a pattern for the bench.
    Pattern(PatternArgs),
    /// Fit the prop's own figures to what a meter read while it played, and check it again with them.
    Calibrate(CalibrateArgs),
    /// Compare builds or variants: differences in words, every check side by side, the cap each allows.
    Compare(CompareArgs),
    /// Pack presets, cap, budget and figures of the parts into one file for the board, or into Rust constants.
    Pack(PackArgs),
    /// Show what a packed prop holds, or give back its presets as text.
    Unpack(UnpackArgs),
    /// Print the completion script of a shell.
    Completions(CompletionsArgs),
    /// Write man pages.
    Man(ManArgs),
    /// Report versions, locale and terminal, and check the installation by solving a circuit with a known answer.
    Doctor(DoctorArgs),
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// Folder to write; it must not hold a build.toml yet.
    pub prop: PathBuf,
}

/// Where the prop and what it plays come from.
#[derive(Debug, Args, Clone)]
pub struct PropArgs {
    /// The prop's folder.
    pub prop: PathBuf,
    /// Build file to use instead of PROP/build.toml.
    #[arg(long, value_name = "FILE")]
    pub build: Option<PathBuf>,
    /// Variant of the build file to lay over it.
    #[arg(long, value_name = "NAME")]
    pub variant: Option<String>,
    /// Preset to play: a name within PROP/presets or a file; may be given more than once. All, if left out.
    #[arg(long, value_name = "NAME|FILE")]
    pub preset: Vec<String>,
    /// Cue trace to play instead of the ones the preset names.
    #[arg(long, value_name = "FILE")]
    pub cues: Option<PathBuf>,
    /// Recorded frames instead of a preset: CSV (a .csv file) or raw bytes; `-` reads standard input.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["preset", "cues"])]
    pub frames: Option<PathBuf>,
    /// A logic analyser's capture (VCD) of the data lines instead of a preset.
    #[arg(long, value_name = "FILE.vcd", conflicts_with_all = ["preset", "cues", "frames"])]
    pub capture: Option<PathBuf>,
    /// How the capture is read.
    #[command(flatten)]
    pub signals: CaptureArgs,
    /// A program to play instead of a preset, with its arguments: it gets the cues on its standard input and writes
    /// raw frames to its standard output.
    #[arg(long, value_name = "COMMAND", conflicts_with_all = ["preset", "frames", "capture"])]
    pub engine: Option<String>,
    /// Longest time to wait for a byte from the program.
    #[arg(long, value_name = "TIME", default_value = "10 s")]
    pub engine_wait: String,
    /// Frame rate of recorded frames or of a program, in Hz; 60, or what the times of a CSV recording or a capture say, if left out.
    #[arg(long, value_name = "HZ")]
    pub frame_rate: Option<f64>,
    /// Brightness cap 0..255 instead of the build file's.
    #[arg(long, value_name = "0..255")]
    pub cap: Option<u8>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Show every part and preset, not only the worst of each check.
    #[arg(long)]
    pub all: bool,
    /// Also write one page that needs nothing else: verdicts, light that plays, plots, diagram, lists, inputs.
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `cap`.
#[derive(Debug, Args)]
pub struct CapArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Play every cap in full instead of clearing dim ones by a bound. Takes some ten times as long.
    #[arg(long)]
    pub every_cap: bool,
    /// Do not look at dimmer caps: the one found holds and one step more fails. Takes a tenth of the time.
    #[arg(long, conflicts_with = "every_cap")]
    pub quick: bool,
    /// Also find the current budget for a limiter that dims only frames that draw too much.
    #[arg(long)]
    pub budget: bool,
    /// Also show what changes of the prop would give: leads, feeds, splices, cell, switch. Takes a while.
    #[arg(long)]
    pub levers: bool,
    /// Also map the cap over state of charge and temperature, for a new and for an aged cell.
    #[arg(long)]
    pub map: bool,
    /// Draw into this file (.svg or .png) the levers where asked for, else the map with the aged cell.
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `view`.
#[derive(Debug, Args)]
pub struct ViewArgs {
    /// Prop and presets.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Address to listen on. Any but this machine's own lets others see and play the prop.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1")]
    pub listen: std::net::IpAddr,
    /// Port to listen on; a free one, if left out.
    #[arg(long, default_value_t = 0)]
    pub port: u16,
}

/// Arguments of `sweep`.
#[derive(Debug, Args)]
pub struct SweepArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// How many props to draw.
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    pub samples: u64,
    /// Seed of the draws: the same seed gives the same samples on any machine.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// State of charge at the start, "60 %" or "20 %..100 %"; from the prop's floor to full, if left out.
    #[arg(long, value_name = "SHARE")]
    pub soc: Option<String>,
    /// Temperature, "0 °C" or "0 °C..40 °C"; the prop's own range, if left out.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub temperature: Option<String>,
    /// How values lie between the ends of a tolerance.
    #[arg(long, value_enum, default_value_t = SpreadArg::Even)]
    pub spread: SpreadArg,
    /// Also find the cap at which at most this share of props fails, such as "5 %".
    #[arg(long, value_name = "SHARE")]
    pub risk: Option<String>,
    /// Also play the corners: the ends of each tolerance alone, and of the six that matter most together.
    #[arg(long)]
    pub corners: bool,
    /// Play the whole trace too for this many samples that the digest decided, the nearest to a limit, and count
    /// verdicts that differ.
    #[arg(long, default_value_t = 16, value_name = "N")]
    pub audit: usize,
    /// Play the whole trace for every sample, however far its margins are from their limits.
    #[arg(long)]
    pub full: bool,
    /// Draw the P95 margin of every check into this file (.svg or .png).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Write every sample to this file: CSV, or Parquet if it ends in .parquet.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Go on where an interrupted run with the same --out stopped.
    #[arg(long, requires = "out")]
    pub resume: bool,
    /// Play only this part of the samples, such as 2/5; put the parts together with `merge`.
    #[arg(long, value_name = "I/N")]
    pub shard: Option<String>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `runtime`.
#[derive(Debug, Args)]
pub struct RuntimeArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Draw the times to each end into this file (.svg or .png).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `light`.
#[derive(Debug, Args)]
pub struct LightArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Draw the unevenness over the distance of the diffuser into this file (.svg or .png).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `merge`.
#[derive(Debug, Args)]
pub struct MergeArgs {
    /// Samples files that `sweep --shard I/N --out FILE` wrote.
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
    /// Write all samples to one file: CSV, or Parquet if it ends in .parquet.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// How values lie between the ends of a tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SpreadArg {
    /// All equally likely on each side of the stated value.
    Even,
    /// Normal, the ends at two standard deviations.
    Normal,
}

/// Arguments of `profile`.
#[derive(Debug, Args)]
pub struct ProfileArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// What to write; guessed from the ending of --out where left out, else csv.
    #[arg(long, value_enum)]
    pub format: Option<ProfileFormat>,
    /// File to write; standard output if left out.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// State of charge at the start, such as "60 %" (nominal case if left out).
    #[arg(long, value_name = "SHARE")]
    pub soc: Option<String>,
    /// Temperature of prop and cell, such as "0 °C".
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub temperature: Option<String>,
    /// Take an aged cell.
    #[arg(long)]
    pub aged: bool,
    /// Take the unfavourable end of every tolerance.
    #[arg(long)]
    pub cautious: bool,
}

/// Arguments of `wiring`.
#[derive(Debug, Args)]
pub struct WiringArgs {
    /// Prop and presets.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Cut list: every wire with gauge, colour and cut length.
    #[arg(long, group = "sheet")]
    pub cut_list: bool,
    /// Joint plan: in which order to solder, and what to check after each joint.
    #[arg(long, group = "sheet")]
    pub joints: bool,
    /// Bench sheet: what the meter should read before and after the cell goes in.
    #[arg(long, group = "sheet")]
    pub bench: bool,
    /// Judge the readings written into the CSV of a bench sheet.
    #[arg(long, group = "sheet", value_name = "FILE.csv")]
    pub judge: Option<PathBuf>,
    /// File to write: .svg, .png or .pdf is the diagram; with a sheet .csv, .txt, .html or .pdf as it offers.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write the currents of the worst frame on the wires of the diagram.
    #[arg(long)]
    pub currents: bool,
    /// Paper of diagram and sheets.
    #[arg(long, value_enum, default_value_t = Paper::A4)]
    pub paper: Paper,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Prop and presets.
    #[command(flatten)]
    pub prop: PropArgs,
    /// What to compare it with: a variant of its build file, or another build file or prop folder; may be given
    /// more than once. Every variant, if left out.
    #[arg(long = "with", value_name = "VARIANT|FILE|FOLDER")]
    pub with: Vec<String>,
    /// Leave the search for the caps out.
    #[arg(long)]
    pub no_caps: bool,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Paper {
    /// 210 mm × 297 mm.
    A4,
    /// 8.5 in × 11 in.
    Letter,
}

/// Formats of verdicts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TextFormat {
    /// For people.
    Text,
    /// For programs; see FORMATS.md.
    Json,
}

/// Formats of a profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ProfileFormat {
    /// A row a frame.
    Csv,
    /// An object a frame.
    Json,
    /// A picture, scalable.
    Svg,
    /// A picture, as pixels.
    Png,
}
