//! Arguments of the verbs for the board, and for the installation.

use super::{OwnPartsArgs, TextFormat};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `pack`.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("to").required(true).multiple(true).args(["out", "rust"]))]
pub struct PackArgs {
    /// The prop's folder.
    pub prop: PathBuf,
    /// Build file to use instead of PROP/build.toml.
    #[arg(long, value_name = "FILE")]
    pub build: Option<PathBuf>,
    /// Variant of the build file to lay over it.
    #[arg(long, value_name = "NAME")]
    pub variant: Option<String>,
    /// Preset to pack: a name within PROP/presets or a file; may be given more than once. All, if left out.
    #[arg(long, value_name = "NAME|FILE")]
    pub preset: Vec<String>,
    /// Brightness cap 0..255 instead of the build file's.
    #[arg(long, value_name = "0..255")]
    pub cap: Option<u8>,
    /// Budget of a frame's estimated strip current, such as "1.2 A"; none, if left out.
    #[arg(long, value_name = "CURRENT")]
    pub budget: Option<String>,
    /// File to write, for the board.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Rust source to write: the figures as constants, the packed prop as bytes.
    #[arg(long, value_name = "FILE.rs")]
    pub rust: Option<PathBuf>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `unpack`.
#[derive(Debug, Args)]
pub struct UnpackArgs {
    /// A file that `pack --out` wrote.
    pub file: PathBuf,
    /// Only this preset; without --out its text goes to standard output.
    #[arg(long, value_name = "NAME")]
    pub preset: Option<String>,
    /// Folder to write the presets into, one file each; files already there are never replaced.
    #[arg(long, short, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell.
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// Arguments of `man`.
#[derive(Debug, Args)]
pub struct ManArgs {
    /// Folder to write the pages into; pages already there are replaced.
    #[arg(long, short, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// Arguments of `doctor`.
#[derive(Debug, Args)]
pub struct DoctorArgs {
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}
