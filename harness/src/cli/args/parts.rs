//! Arguments of `parts`, and where parts of the user's own lie.

use super::TextFormat;
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Where the user's own parts lie.
#[derive(Debug, Args, Clone, Default)]
pub struct OwnPartsArgs {
    /// Folder of your own parts (*.toml); else LAMPWRIGHT_PARTS, else XDG_DATA_HOME/lampwright/parts, else
    /// ~/.local/share/lampwright/parts. What stands in PROP/parts comes before it.
    #[arg(long, value_name = "DIR")]
    pub parts: Option<PathBuf>,
}

/// Arguments of `parts`.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct PartsArgs {
    /// What else to do than list.
    #[command(subcommand)]
    pub task: Option<PartsTask>,
    /// Only this kind (pixel, cell, switch, ...) or only the entry with this id.
    pub what: Option<String>,
    /// Also list the parts that this prop's folder holds.
    #[arg(long, value_name = "PROP")]
    pub prop: Option<PathBuf>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}

/// What `parts` does beside listing.
#[derive(Debug, Subcommand)]
pub enum PartsTask {
    /// Print a commented text to fill in from a data sheet.
    Template(TemplateArgs),
    /// Check a part of your own and put it into your catalogue folder.
    Add(AddArgs),
    /// Copy the parts of your own that a prop stands on into its folder, so that it reads the same elsewhere.
    Keep(KeepArgs),
}

/// Arguments of `parts template`.
#[derive(Debug, Args)]
pub struct TemplateArgs {
    /// The kind: cell, pixel, switch, fuse, board, ...
    pub kind: String,
    /// File to write; standard output if left out. Nothing that is there is replaced.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// Arguments of `parts add`.
#[derive(Debug, Args)]
pub struct AddArgs {
    /// A filled-in template; or say it all with the options below.
    #[arg(conflicts_with_all = ["id", "kind", "title", "source", "like", "set"], required_unless_present = "id")]
    pub file: Option<PathBuf>,
    /// Id by which builds name it, such as my-toggle-3a.
    #[arg(long, value_name = "ID")]
    pub id: Option<String>,
    /// Its kind; that of --like if left out.
    #[arg(long, value_name = "KIND")]
    pub kind: Option<String>,
    /// What it is, in words.
    #[arg(long, value_name = "TEXT", requires = "id")]
    pub title: Option<String>,
    /// Where the figures that are set come from: data sheet, revision, page.
    #[arg(long, value_name = "TEXT")]
    pub source: Option<String>,
    /// An entry to start from; what is not set stays as it says, with its own sources.
    #[arg(long, value_name = "ID")]
    pub like: Option<String>,
    /// A figure by its key: --set resistance="20 mΩ" --set resistance.high="60 mΩ". May be given more than once.
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Replace an entry of yours with the same id, or stand in for one that ships.
    #[arg(long)]
    pub replace: bool,
    /// Put it into this prop's folder instead: PROP/parts.
    #[arg(long, value_name = "PROP", conflicts_with = "parts")]
    pub prop: Option<PathBuf>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
}

/// Arguments of `parts keep`.
#[derive(Debug, Args)]
pub struct KeepArgs {
    /// The prop's folder.
    pub prop: PathBuf,
    /// Build file to use instead of PROP/build.toml.
    #[arg(long, value_name = "FILE")]
    pub build: Option<PathBuf>,
    /// Variant of the build file to lay over it.
    #[arg(long, value_name = "NAME")]
    pub variant: Option<String>,
    /// Where your own parts lie.
    #[command(flatten)]
    pub own: OwnPartsArgs,
}
