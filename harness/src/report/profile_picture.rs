//! Gathering the figures of a trace into its picture.

use super::picture::{
    CueMark, Draw, Limit, ProfilePlot, Series, State as PlotState, StateSpan, StripColumns, Worst,
};
use crate::build::prop::{PartKind, Prop};
use crate::profile::circuit::Circuit;
use crate::profile::figures::Figures;
use lampwright_model::State;

/// Columns of the light image: about one a pixel of the picture.
const COLUMNS: usize = 1000;

/// A strip's place in the frame and its light so far.
#[derive(Debug)]
struct StripLight {
    first: usize,
    pixels: usize,
    columns: StripColumns,
}

/// Gathers frames; [`finish`](Self::finish) gives the picture.
#[derive(Debug)]
pub struct Gatherer {
    duration_s: f64,
    channels: usize,
    strips: Vec<StripLight>,
    currents: [Series; 3],
    voltages: Vec<Series>,
    states: Vec<StateSpan>,
    cues: Vec<CueMark>,
}

impl Gatherer {
    /// For a circuit and a trace of a known length, seconds.
    pub fn new(circuit: &Circuit, channels: usize, duration_s: f64) -> Self {
        let current = |name: &str| Series::new(name, duration_s, Draw::Held, Worst::Highest);
        let voltage = |name: &str| Series::new(name, duration_s, Draw::Held, Worst::Lowest);
        let mut voltages = vec![voltage("cell")];
        if circuit.board.is_some() {
            voltages.push(voltage("board supply"));
        }
        voltages.push(voltage("worst pixel supply"));
        let strips = circuit.strips.iter().map(|s| StripLight {
            first: s.first as usize,
            pixels: s.pixels as usize,
            columns: StripColumns::new(&s.name, s.pixels as usize, duration_s, COLUMNS),
        });
        Self {
            duration_s,
            channels,
            strips: strips.collect(),
            currents: [
                current("average"),
                current("coincidence peak"),
                current("aligned worst case"),
            ],
            voltages,
            states: Vec::new(),
            cues: Vec::new(),
        }
    }

    /// Takes a frame.
    pub fn add(&mut self, levels: &[u8], f: &Figures) {
        let t = f.moment.time_s;
        for strip in &mut self.strips {
            let frame = levels
                .get(strip.first * self.channels..)
                .unwrap_or_default();
            let pixels = frame
                .chunks_exact(self.channels)
                .take(strip.pixels)
                .map(light_of);
            strip.columns.push(t, pixels);
        }
        for (series, value) in
            self.currents
                .iter_mut()
                .zip([f.cell_a, f.cell_peak_a, f.cell_aligned_a])
        {
            series.push(t, value);
        }
        let lowest = f
            .strips
            .iter()
            .map(|s| s.supply_min_v)
            .fold(f64::NAN, f64::min);
        let values = if self.voltages.len() == 3 {
            vec![f.cell_peak_v, f.board_peak_v, lowest]
        } else {
            vec![f.cell_peak_v, lowest]
        };
        for (series, value) in self.voltages.iter_mut().zip(values) {
            series.push(t, value);
        }
        self.state(f);
        if let (true, Some((at, cue))) = (f.moment.new_cues > 0, f.moment.cue) {
            self.cues.push(CueMark {
                t_s: at,
                label: cue.kind().name().to_owned(),
            });
        }
    }

    fn state(&mut self, f: &Figures) {
        let Some(state) = f.moment.state else { return };
        let state = match state {
            State::Dark => PlotState::Dark,
            State::Rising => PlotState::Rising,
            State::Lit => PlotState::Lit,
            State::Falling => PlotState::Falling,
        };
        let end = f.moment.time_s + f.period_s;
        match self.states.last_mut() {
            Some(span) if span.state == state => span.to_s = end,
            _ => self.states.push(StateSpan {
                from_s: f.moment.time_s,
                to_s: end,
                state,
            }),
        }
    }

    /// The picture.
    pub fn finish(
        self,
        prop: &Prop,
        circuit: &Circuit,
        title: String,
        subtitle: String,
    ) -> ProfilePlot {
        let images = self.strips.into_iter().map(|s| s.columns.finish());
        ProfilePlot {
            title,
            subtitle,
            duration_s: self.duration_s,
            strips: images.collect(),
            currents: self.currents.into(),
            current_limits: current_limits(prop),
            voltages: self.voltages,
            voltage_limits: voltage_limits(prop),
            states: self.states,
            cues: self.cues,
            caution: "Computed from data sheets, not measured. Lithium cells, polarity, flashing light: see the cautions of `lampwright check`.".to_owned(),
            conditions: circuit.condition.to_string(),
            tool: concat!("Lampwright ", env!("CARGO_PKG_VERSION")).to_owned(),
        }
    }
}

/// Limits of the current out of the cell, amperes.
pub fn current_limits(prop: &Prop) -> Vec<Limit> {
    let fuse = prop.parts.iter().filter_map(|p| match &p.kind {
        PartKind::Fuse(f) => Some(Limit::new("fuse holds", f.hold.si())),
        _ => None,
    });
    let trip = prop.parts.iter().filter_map(|p| match &p.kind {
        PartKind::Protection(t) => Some(Limit::new("protection trips", t.trip.low_si())),
        _ => None,
    });
    fuse.chain(trip).collect()
}

/// Limits of cell, board and pixel supply, volts.
pub fn voltage_limits(prop: &Prop) -> Vec<Limit> {
    let mut limits = Vec::new();
    if let Some((_, cell)) = prop.cell() {
        limits.push(Limit::new("cell cut-off", cell.cut_off.si()));
    }
    if let Some((_, board)) = prop.board() {
        // The supply below which the rail reaches the reset level: the dropout comes on top.
        if let Some(reset) = &board.reset_level {
            limits.push(Limit::new("brown-out", reset.high_si()));
        }
    }
    let full = prop
        .strips()
        .flat_map(|(_, s)| s.pixel.channels.iter().map(|c| c.full.si()))
        .fold(f64::NAN, f64::max);
    if full.is_finite() {
        limits.push(Limit::new("pixel full colour", full));
    }
    limits
}

/// Drive levels of a pixel as shares, colour and white.
fn light_of(pixel: &[u8]) -> ([f64; 3], f64) {
    let share = |i: usize| pixel.get(i).map_or(0.0, |level| f64::from(*level) / 255.0);
    ([share(0), share(1), share(2)], share(3))
}
