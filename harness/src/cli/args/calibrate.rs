//! Arguments of `calibrate`.

use super::{PropArgs, TextFormat};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `calibrate`.
#[derive(Debug, Args)]
pub struct CalibrateArgs {
    /// Prop and what was played. Left out, a log's name says: calibration*.csv shows the calibration preset,
    /// NAME*.csv the preset NAME.
    #[command(flatten)]
    pub prop: PropArgs,
    /// Log of a meter, supply or current monitor; its voltage is that of the cell unless two terminals follow,
    /// plus first. May be given more than once. All of PROP/measured/*.csv, if left out.
    #[arg(long, value_name = "FILE[=PLUS:MINUS]")]
    pub measured: Vec<String>,
    /// Names of the logs' columns in place of their header, such as "time s, -, current mA, voltage V".
    #[arg(long, value_name = "NAMES")]
    pub columns: Option<String>,
    /// Time from row to row of logs without times, such as "10 ms".
    #[arg(long, value_name = "TIME")]
    pub interval: Option<String>,
    /// End of the ammeter's range, such as "3 A": readings there are left out.
    #[arg(long, value_name = "CURRENT")]
    pub range: Option<String>,
    /// State of charge when the log began, such as "60 %" (nominal case if left out).
    #[arg(long, value_name = "SHARE")]
    pub soc: Option<String>,
    /// Temperature of prop and cell, such as "21 °C".
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub temperature: Option<String>,
    /// A bench supply of this voltage stood in for the cell, such as "4.0 V".
    #[arg(long, value_name = "VOLTAGE")]
    pub supply: Option<String>,
    /// The speaker was unplugged.
    #[arg(long)]
    pub speaker_off: bool,
    /// What to fit: channels, dark, source, contacts, ocv, meter-zero; comma separated. What the logs can
    /// tell, if left out.
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    pub fit: Vec<String>,
    /// Write a calibrated copy of the build file.
    #[arg(long, short, value_name = "FILE.toml")]
    pub out: Option<PathBuf>,
    /// Draw what the model leaves over, before and after, into this file (.svg or .png).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Tell every step in which the light stands still.
    #[arg(long)]
    pub steps: bool,
    /// Leave the checks out.
    #[arg(long)]
    pub no_checks: bool,
    /// Write a preset to calibrate with, as bright as overloads nothing, into PROP/calibration, and stop.
    #[arg(long, conflicts_with_all = ["measured", "out", "picture"])]
    pub write_preset: bool,
    /// How to print.
    #[arg(long, value_enum, default_value_t = TextFormat::Text)]
    pub format: TextFormat,
}
