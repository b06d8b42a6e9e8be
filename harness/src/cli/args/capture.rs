//! What may be typed about captures of the data lines.

use super::{OwnPartsArgs, PropArgs, TextFormat};
use clap::Args;
use std::path::PathBuf;

/// How a capture is read.
#[derive(Debug, Args, Clone, Default)]
pub struct CaptureArgs {
    /// Signal that carries the data; with several data lines for each the strip it starts at: STRIP=NAME.
    #[arg(long, value_name = "[STRIP=]NAME", requires = "capture")]
    pub signal: Vec<String>,
    /// Signal that carries the clock, where the pixels have one.
    #[arg(long, value_name = "[STRIP=]NAME", requires = "capture")]
    pub clock: Vec<String>,
    /// Pass over pulses shorter than this, such as "30 ns"; one-wire lines only.
    #[arg(long, value_name = "TIME", requires = "capture")]
    pub ignore_below: Option<String>,
}

/// Arguments of `decode`.
#[derive(Debug, Args)]
pub struct DecodeArgs {
    /// The prop's folder.
    pub prop: PathBuf,
    /// The capture: a value change dump (VCD, IEEE 1364); `-` reads standard input.
    #[arg(id = "capture", long = "capture", value_name = "FILE.vcd")]
    pub file: PathBuf,
    /// How it is read.
    #[command(flatten)]
    pub capture: CaptureArgs,
    /// Build file to use instead of PROP/build.toml.
    #[arg(long, value_name = "FILE")]
    pub build: Option<PathBuf>,
    /// Variant of the build file to lay over it.
    #[arg(long, value_name = "NAME")]
    pub variant: Option<String>,
    /// Write the frames to this file: CSV if it ends in .csv, else raw bytes; `--frames` reads both.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `pattern`.
#[derive(Debug, Args)]
pub struct PatternArgs {
    /// Prop and preset.
    #[command(flatten)]
    pub prop: PropArgs,
    /// File to write (.vcd).
    #[arg(long, short, value_name = "FILE.vcd")]
    pub out: PathBuf,
    /// Where in the trace to begin.
    #[arg(long, value_name = "TIME", default_value = "0 s")]
    pub from: String,
    /// How much of the trace to write; a second of a hundred pixels takes some 4 MB.
    #[arg(long, value_name = "TIME", default_value = "1 s")]
    pub length: String,
    /// How far bit times wander: 100 % is to the data sheet's limits, more goes beyond them.
    #[arg(long, value_name = "SHARE", default_value = "0 %")]
    pub jitter: String,
    /// Seed of the jitter.
    #[arg(long, default_value_t = 1)]
    pub seed: u32,
}
