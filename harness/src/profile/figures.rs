//! What one frame does to the prop: the figures that tables, plots and checks are made of.

use super::stream::FrameMeta;
use lampwright_model::{Cue, LayerSet, State};

/// Which moment of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Frame index, counted from 0.
    pub frame: u64,
    /// Time since the start, seconds.
    pub time_s: f64,
    /// State of the prop; `None` where the frames do not tell.
    pub state: Option<State>,
    /// Layers active then.
    pub layers: LayerSet,
    /// The last cue and when it came, seconds.
    pub cue: Option<(f64, Cue)>,
    /// How many cues came with this frame.
    pub new_cues: u32,
}

impl From<&FrameMeta> for Moment {
    fn from(meta: &FrameMeta) -> Self {
        Self {
            frame: meta.index,
            time_s: meta.time_s,
            state: meta.state,
            layers: meta.layers,
            cue: meta.cue.map(|c| (c.time_s, c.cue)),
            new_cues: meta.new_cues,
        }
    }
}

impl Moment {
    /// A moment of which only frame and time are known.
    pub fn at(frame: u64, time_s: f64) -> Self {
        Self {
            frame,
            time_s,
            state: None,
            layers: LayerSet::default(),
            cue: None,
            new_cues: 0,
        }
    }

    /// The last cue in words.
    pub fn cue_text(&self) -> Option<String> {
        let (time_s, cue) = self.cue?;
        Some(format!("{} at {time_s:.2} s", cue.kind().name()))
    }

    /// The active layers in words, counted from 1 as in the preset file.
    pub fn layers_text(&self) -> Option<String> {
        let layers: Vec<String> = self.layers.iter().map(|l| (l + 1).to_string()).collect();
        (!layers.is_empty()).then(|| layers.join(", "))
    }
}

/// Figures of a strip in a frame.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct StripFigures {
    /// Average current at ample supply, amperes.
    pub average_a: f64,
    /// Average current at the supply it really gets, amperes.
    pub delivered_a: f64,
    /// Current at the coincidence peak, amperes, at ample supply.
    pub peak_a: f64,
    /// Current if every lit channel is on at once, amperes, at ample supply.
    pub aligned_a: f64,
    /// Lowest supply of a pixel at the coincidence peak, volts.
    pub supply_min_v: f64,
    /// Which pixel has it, counted from 0 within the strip.
    pub supply_min_pixel: u32,
    /// Largest rail current at the coincidence peak, amperes.
    pub rail_peak_a: f64,
    /// Channels lit anywhere in the strip: bit 0 red, 1 green, 2 blue, 3 white.
    pub lit: u8,
}

/// Supply of every pixel of a strip in one frame, at the coincidence peak.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyAlong {
    /// Which frame.
    pub frame: u64,
    /// Supply of each pixel, volts.
    pub supply_v: Vec<f64>,
    /// Least supply so far for each set of lit channels, volts.
    pub(super) least_v: [f64; 16],
}

impl SupplyAlong {
    /// Of a strip of which nothing is known yet.
    pub(super) fn new(pixels: usize) -> Self {
        Self {
            frame: 0,
            supply_v: vec![f64::NAN; pixels],
            least_v: [f64::INFINITY; 16],
        }
    }

    /// Keeps a frame's supplies where their least is a new least for the channels that are lit; `copy` writes them.
    pub(super) fn keep(&mut self, frame: u64, strip: &StripFigures, copy: impl FnOnce(&mut [f64])) {
        let Some(least_v) = self.least_v.get_mut(usize::from(strip.lit & 15)) else {
            return;
        };
        if strip.supply_min_v < *least_v {
            *least_v = strip.supply_min_v;
            self.frame = frame;
            copy(&mut self.supply_v);
        }
    }
}

/// Voltage margins of one data line in a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DataFigures {
    /// High level at the input less the threshold it must pass, volts.
    pub high_margin_v: f64,
    /// The threshold for high, volts.
    pub high_threshold_v: f64,
    /// The high level at the input, volts.
    pub high_v: f64,
    /// Threshold for low less the low level at the input, volts.
    pub low_margin_v: f64,
    /// The threshold for low, volts.
    pub low_threshold_v: f64,
    /// The low level at the input, volts.
    pub low_v: f64,
}

/// All figures of a frame. Vectors run parallel to those of the circuit they came from.
#[derive(Debug, Clone)]
pub struct Figures {
    /// When.
    pub moment: Moment,
    /// Length of the frame, seconds.
    pub period_s: f64,
    /// Whether an operating point exists; where not, voltages and currents are not numbers.
    pub collapsed: Option<String>,
    /// Average current out of the cell, amperes.
    pub cell_a: f64,
    /// Cell current at the coincidence peak, amperes.
    pub cell_peak_a: f64,
    /// Root mean square of the cell current, amperes.
    pub cell_rms_a: f64,
    /// Cell current if every lit channel of every pixel is on at once, amperes, at ample supply.
    pub cell_aligned_a: f64,
    /// Heat given off inside the first cell, watts.
    pub cell_heat_w: f64,
    /// Cell terminal voltage at the average current, volts.
    pub cell_v: f64,
    /// Cell terminal voltage at the coincidence peak, volts.
    pub cell_peak_v: f64,
    /// State of charge at the start of the frame, 0..1.
    pub soc: f64,
    /// Cell temperature, kelvin.
    pub cell_temperature_k: f64,
    /// Voltage at the board's supply terminals, average; not a number without a board.
    pub board_v: f64,
    /// The same at the coincidence peak.
    pub board_peak_v: f64,
    /// The board's logic rail at the coincidence peak, volts.
    pub rail_v: f64,
    /// Sound level, 0..1.
    pub sound: f64,
    /// Each strip.
    pub strips: Vec<StripFigures>,
    /// Supply along each strip in the last frame that set a new least supply for the channels it lights.
    pub along: Vec<SupplyAlong>,
    /// Average current of each wire and contact, amperes, signed.
    pub branch_a: Vec<f64>,
    /// Current of each wire and contact at the coincidence peak, amperes, signed.
    pub branch_peak_a: Vec<f64>,
    /// Root mean square current of each wire and contact, amperes.
    pub branch_rms_a: Vec<f64>,
    /// Each data line; `None` where thresholds or connections are missing.
    pub data: Vec<Option<DataFigures>>,
    /// Relative luminance of the whole prop's average pixel, red share and change figures for flash analysis.
    pub light: Light,
}

/// Light of a frame averaged over every pixel, as shares of full drive.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Light {
    /// Linear red, green and blue with white added to each, 0..1.
    pub rgb: [f64; 3],
    /// Relative luminance after WCAG 2.2, 0..1.
    pub luminance: f64,
}
