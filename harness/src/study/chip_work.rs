//! What rendering, limiting and encoding a frame take of the board's processor, from counts on emulated cores.
//!
//! `chip_costs.csv` is written by `host-tests/firmware/measure`: for each core and each part of a preset the cycles that
//! its dearest setting takes, as so many a frame and so many a pixel. A preset costs at most the sum of its parts with
//! every layer showing at once.

use crate::build::parts::CoreKind;
use lampwright_model::curve::Transfer;
use lampwright_model::preset::{Blend, Layer, Mask, Paint, Transition, TransitionStyle};
use lampwright_model::{Channels, Length, Preset, Share};
use std::collections::HashMap;
use std::sync::OnceLock;

/// The counts: `core,item,cycles_a_frame,cycles_a_pixel`.
const TABLE: &str = include_str!("chip_costs.csv");

/// Cycles of one frame at their most.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Work {
    /// Rendering.
    pub render: f64,
    /// The limiter.
    pub limit: f64,
    /// Encoding for a one-wire line.
    pub encode: f64,
}

impl Work {
    /// All of it, one after the other.
    pub fn total(self) -> f64 {
        self.render + self.limit + self.encode
    }
}

/// The row of the table that a core reads; a Cortex-M0+ takes no more cycles than a Cortex-M0.
fn row(core: CoreKind) -> &'static str {
    match core {
        CoreKind::CortexM0 | CoreKind::CortexM0Plus => "m0",
        CoreKind::CortexM3 => "m3",
        CoreKind::CortexM4 => "m4",
    }
}

/// The counts of one core.
struct Costs(&'static str);

impl Costs {
    fn of(core: CoreKind) -> Self {
        Self(row(core))
    }

    /// Cycles of an item for so many pixels.
    fn cycles(&self, item: &'static str, pixels: f64) -> Option<f64> {
        let (frame, pixel) = table().get(&(self.0, item))?;
        Some(frame + pixel * pixels)
    }
}

/// Cycles a frame and a pixel, by core and item.
type Table = HashMap<(&'static str, &'static str), (f64, f64)>;

/// The counts. Read once: every play under every condition asks.
fn table() -> &'static Table {
    static READ: OnceLock<Table> = OnceLock::new();
    let line = |line: &'static str| {
        let mut cells = line.split(',');
        let of = (cells.next()?, cells.next()?);
        let frame = cells.next()?.parse().ok()?;
        let pixel = cells.next()?.parse().ok()?;
        Some((of, (frame, pixel)))
    };
    READ.get_or_init(|| TABLE.lines().filter_map(line).collect())
}

/// Cycles of a preset's dearest frame on so many strips; `None` if the table lacks a part of it.
pub fn work(core: CoreKind, preset: &Preset, strips: usize) -> Option<Work> {
    let costs = Costs::of(core);
    let pixels = f64::from(preset.pixels);
    // A fourth channel is another third of what three take.
    let channels = preset.channels.count() as f64 / 3.0;
    let mut render = costs.cycles("frame", pixels)?;
    for layer in &preset.layers {
        let lit = preset.zones.get(usize::from(layer.zone))?;
        render += channels * layer_cycles(&costs, layer, f64::from(lit.len()))?;
    }
    if preset.transfer == Transfer::Lightness {
        render += channels * costs.cycles("lightness", pixels)?;
    }
    if preset.dither {
        render += costs.cycles("dither", pixels)?;
    }
    if preset.channels == Channels::Rgbw {
        render += costs.cycles("white", pixels)?;
    }
    let further = strips.saturating_sub(1) as f64;
    // A prop never rises and falls at once.
    let rise = way_cycles(&costs, &preset.rise, preset)?;
    let fall = way_cycles(&costs, &preset.fall, preset)?;
    render += channels * rise.max(fall);
    Some(Work {
        render,
        limit: channels
            * (costs.cycles("limit", pixels)? + further * costs.cycles("limit-strip", 0.0)?),
        encode: channels * costs.cycles("encode", pixels)?,
    })
}

fn layer_cycles(costs: &Costs, layer: &Layer, pixels: f64) -> Option<f64> {
    let cells = |length: Length| pixels * 16.0 / f64::from(length.0.max(16)) + 1.0;
    let mut cycles = match &layer.paint {
        Paint::Solid { .. } | Paint::Breathing { .. } => costs.cycles("solid", pixels)?,
        Paint::Gradient { .. } => costs.cycles("gradient", pixels)?,
        Paint::Wave { .. } => costs.cycles("wave", pixels)?,
        Paint::Noise { grain, octaves, .. } => {
            let (item, cell) = match octaves {
                1 => ("noise-1", "noise-1-cell"),
                _ => ("noise-3", "noise-3-cell"),
            };
            costs.cycles(item, pixels)? + costs.cycles(cell, cells(*grain))?
        }
        Paint::Sparks { .. } => costs.cycles("sparks", pixels)?,
        Paint::Embers { patch, .. } => {
            costs.cycles("embers", pixels)? + costs.cycles("embers-cell", cells(*patch))?
        }
    };
    cycles += match layer.mask {
        Mask::Whole => 0.0,
        Mask::Span { .. } => costs.cycles("mask-span", pixels)?,
        Mask::Front { .. } => costs.cycles("mask-front", pixels)?,
        Mask::Taper { .. } => costs.cycles("mask-taper", pixels)?,
        Mask::Spot { .. } => costs.cycles("mask-spot", pixels)?,
    };
    cycles += match layer.blend {
        // Where it hides what is below there is nothing to blend.
        Blend::Over if hides(layer) => 0.0,
        Blend::Over => costs.cycles("blend-over", pixels)?,
        Blend::Add => costs.cycles("blend-add", pixels)?,
        Blend::Lighten => costs.cycles("blend-lighten", pixels)?,
        Blend::Multiply => costs.cycles("blend-multiply", pixels)?,
    };
    Some(cycles)
}

/// Whether a layer covers its zone fully at all times.
fn hides(layer: &Layer) -> bool {
    layer.mask == Mask::Whole
        && layer.opacity == Share::FULL
        && layer.envelope == lampwright_model::preset::Envelope::Constant
        && !layer.by_strength
}

/// Cycles of a rise or fall for every pixel of every zone.
fn way_cycles(costs: &Costs, way: &Transition, preset: &Preset) -> Option<f64> {
    let zones = preset.zones.iter().map(|zone| f64::from(zone.len()));
    match way.style {
        _ if way.duration_ms == 0 => Some(0.0),
        TransitionStyle::Fade => costs.cycles("fade", f64::from(preset.pixels)),
        TransitionStyle::Sweep { .. } => costs.cycles("sweep", zones.sum()),
    }
}
