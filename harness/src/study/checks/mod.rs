//! The checks, one a file.
//!
//! A check watches every frame of a trace under one condition and then gives its results, one for each
//! part it is about. It never prints, and where data is missing it says so instead of passing.

mod board_supply;
mod carried;
mod cell_continuous;
mod cell_pulse;
mod cell_temperature;
mod contact_current;
mod data_level;
mod flash_rate;
mod frame_time;
mod fuse_hold;
mod pixel_supply;
mod polarity;
mod protection_trip;
mod rail_current;
mod response_time;
mod rise_fall_time;
mod runtime;
mod supply_collapse;
mod thermal_rms;
mod touch_temperature;
mod tube_heat;
mod wire_current;
mod wire_drop;

#[cfg(feature = "proptest")]
pub use flash_rate::worst_flashes;
pub(in crate::study) use flash_rate::FlashRate;

use super::verdict::CheckResult;
use crate::profile::circuit::Subject;
use crate::profile::figures::Figures;
use lampwright_model::Preset;

/// A check under way. See the [module](self).
pub trait Check: Send {
    /// Takes the figures of the next frame.
    fn observe(&mut self, figures: &Figures);
    /// What it found, one result a part.
    fn results(&self) -> Vec<CheckResult>;
}

/// Every check of the design, ready to watch a trace.
pub fn all(subject: Subject<'_>, preset: Option<&Preset>) -> Vec<Box<dyn Check>> {
    vec![
        supply_collapse::check(),
        cell_continuous::check(subject),
        cell_pulse::check(subject),
        protection_trip::check(subject),
        fuse_hold::check(subject),
        wire_current::check(subject),
        wire_drop::check(subject),
        contact_current::check(subject),
        rail_current::check(subject),
        pixel_supply::check(subject),
        board_supply::check(subject),
        data_level::check(subject),
        frame_time::check(subject, preset),
        response_time::check(preset),
        rise_fall_time::check(preset),
        flash_rate::check(subject),
        cell_temperature::check(subject),
        touch_temperature::check(subject),
        runtime::check(subject),
        polarity::check(subject),
    ]
}
