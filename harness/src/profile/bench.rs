//! A prop on the bench: one circuit under one condition, fed frame by frame.

use super::cell::cell_model;
use super::circuit::{Circuit, Subject};
use super::condition::Condition;
use super::data::DataInputs;
use super::figures::{Figures, Light, Moment, StripFigures};
use super::lower::{lower, pixel_law, Lowered};
use crate::build::parts::{Board, Strip};
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Corner;
use crate::electrical::pwm::normal_quantile;
use crate::electrical::regulator::Regulator;
use crate::electrical::solution::RailSolution;
use crate::electrical::{
    CellModel, CellState, Drive, Interpolation, NetworkError, PixelType as PixelLaw, PwmFigures,
    Solution, SolveError, Solver, SourceDrive, StripDrive, Table1, DEFAULT_PEAK_QUANTILE,
};

/// One prop under one condition. Frames go in by [`step`](Self::step), figures come out.
pub struct Bench<'a> {
    prop: &'a Prop,
    lowered: Lowered,
    average: Solver,
    peak: Solver,
    cells: Vec<(CellModel, CellState)>,
    laws: Vec<PixelLaw>,
    frame_channels: usize,
    board: Option<BoardState>,
    data: DataInputs,
    z: f64,
    figures: Figures,
    /// Drive levels of each strip with the channels that its pixels have.
    levels: Vec<Vec<u8>>,
    sources: Vec<SourceDrive>,
    loads: Vec<f64>,
    rails: RailSolution,
}

/// What the board needs at run time.
struct BoardState {
    regulator: Option<Regulator>,
    rail_a: f64,
    logic_amount: f64,
    amplifier: Option<(f64, f64)>,
}

impl std::fmt::Debug for Bench<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Bench")
            .field("prop", &self.prop.name)
            .field("condition", &self.lowered.circuit.condition)
            .finish()
    }
}

impl<'a> Bench<'a> {
    /// Sets a prop up.
    ///
    /// # Errors
    /// What keeps the netlist from being solved.
    pub fn new(prop: &'a Prop, condition: Condition) -> Result<Self, NetworkError> {
        let lowered = lower(prop, condition)?;
        let corner = if condition.cautious {
            Corner::High
        } else {
            Corner::Nominal
        };
        let cells = lowered
            .source_parts
            .iter()
            .filter_map(|i| match prop.parts.get(*i).map(|p| &p.kind) {
                Some(PartKind::Cell(cell)) => Some(cell_model(cell, &condition)),
                _ => None,
            })
            .map(|m| {
                m.map(|m| {
                    (
                        m,
                        CellState::at_rest(condition.soc, condition.temperature_k - 273.15),
                    )
                })
            })
            .collect::<Result<Vec<_>, _>>()?;
        let strips: Vec<&Strip> = lowered
            .circuit
            .strips
            .iter()
            .filter_map(|s| strip_of(prop, s.part))
            .collect();
        let laws = strips
            .iter()
            .map(|s| pixel_law(&s.pixel, corner))
            .collect::<Result<Vec<_>, _>>()?;
        let board = lowered
            .circuit
            .board
            .and_then(|i| prop.parts.get(i))
            .and_then(|p| match &p.kind {
                PartKind::Board(b) => Some(b.as_ref()),
                _ => None,
            });
        let data = DataInputs::new(prop, &lowered.circuit, board);
        let figures = empty_figures(&lowered.circuit);
        Ok(Self {
            average: Solver::new(&lowered.network)?,
            peak: Solver::new(&lowered.network)?,
            levels: strips
                .iter()
                .map(|s| vec![0; s.pixels as usize * s.channels()])
                .collect(),
            sources: vec![
                SourceDrive {
                    emf_v: 0.0,
                    ohm: 0.0
                };
                cells.len()
            ],
            loads: vec![0.0; lowered.load_names.len()],
            board: board.map(|b| board_state(b, corner)).transpose()?,
            z: normal_quantile(DEFAULT_PEAK_QUANTILE),
            frame_channels: prop.frame_channels(),
            rails: RailSolution::default(),
            prop,
            cells,
            laws,
            data,
            figures,
            lowered,
        })
    }

    /// The circuit, for checks and reports.
    pub fn circuit(&self) -> &Circuit {
        &self.lowered.circuit
    }

    /// The prop and the circuit together.
    pub fn subject(&self) -> Subject<'_> {
        Subject {
            prop: self.prop,
            circuit: &self.lowered.circuit,
        }
    }

    /// State of charge and so on of the first cell.
    pub fn cell_state(&self) -> Option<CellState> {
        self.cells.first().map(|(_, s)| *s)
    }

    /// The solution of the last frame at its average currents.
    pub fn solution(&self) -> &Solution {
        self.average.solution()
    }

    /// Plays one frame: solves it at its average and at its coincidence peak, then moves the cell on by
    /// the frame period with the average current.
    ///
    /// `levels` holds the whole frame, pixels times channels of the prop; `sound` the share of the
    /// amplifier's full power, 0..1.
    pub fn step(&mut self, levels: &[u8], moment: Moment, period_s: f64, sound: f64) -> &Figures {
        self.begin(levels, moment, period_s, sound);
        let result = self.solve();
        if let Err(error) = result {
            self.collapse(&error);
        }
        let current = if self.figures.cell_a.is_finite() {
            self.figures.cell_a
        } else {
            0.0
        };
        let many = self.cells.len() > 1;
        for (k, (model, state)) in self.cells.iter_mut().enumerate() {
            let own = if many && self.figures.collapsed.is_none() {
                self.lowered
                    .sources
                    .get(k)
                    .map_or(current, |id| self.average.solution().source_a(*id))
            } else {
                current
            };
            model.step(state, own, period_s);
        }
        &self.figures
    }

    fn begin(&mut self, levels: &[u8], moment: Moment, period_s: f64, sound: f64) {
        let f = &mut self.figures;
        f.moment = moment;
        f.period_s = period_s;
        f.sound = sound;
        f.collapsed = None;
        let mut light = LightSum::default();
        for ((out, info), (law, figures)) in self
            .levels
            .iter_mut()
            .zip(&self.lowered.circuit.strips)
            .zip(self.laws.iter().zip(&mut f.strips))
        {
            let first = info.first as usize * self.frame_channels;
            let frame = levels.get(first..).unwrap_or_default();
            figures.lit = take_levels(frame, self.frame_channels, info.channels, out, &mut light);
            let pwm = PwmFigures::of_levels(law, out);
            figures.average_a = pwm.mean_a;
            figures.peak_a = pwm.peak_at(self.z);
            figures.aligned_a = pwm.aligned_a;
        }
        f.light = light.finish();
        for (drive, (model, state)) in self.sources.iter_mut().zip(&self.cells) {
            let (emf_v, ohm) = model.thevenin(state);
            *drive = SourceDrive { emf_v, ohm };
        }
        if let Some((_, state)) = self.cells.first() {
            f.soc = state.soc;
            f.cell_temperature_k = state.celsius + 273.15;
        }
        if let Some(board) = &self.board {
            if let Some(slot) = self.loads.first_mut() {
                *slot = board.logic_amount;
            }
            if let (Some((full_w, idle_w)), Some(slot)) = (board.amplifier, self.loads.get_mut(1)) {
                *slot = idle_w + full_w * sound.clamp(0.0, 1.0);
            }
        }
    }

    fn solve(&mut self) -> Result<(), SolveError> {
        let averages: Vec<StripDrive<'_>> =
            self.levels.iter().map(|l| StripDrive::Levels(l)).collect();
        let solution = self.average.solve(&Drive {
            strips: &averages,
            loads: &self.loads,
            sources: &self.sources,
        })?;
        let f = &mut self.figures;
        read_average(f, solution, &self.lowered);
        // Each strip at its own coincidence peak at once: exact for one strip, an upper bound in shared leads.
        let peaks: Vec<StripDrive<'_>> = self
            .levels
            .iter()
            .zip(f.strips.iter().zip(&self.laws))
            .map(|(levels, (s, law))| StripDrive::ScaledLevels {
                levels,
                scale: peak_scale(s, law, levels.len()),
            })
            .collect();
        let solution = self.peak.solve(&Drive {
            strips: &peaks,
            loads: &self.loads,
            sources: &self.sources,
        })?;
        read_peak(f, solution, &self.lowered, self.z, &mut self.rails);
        f.rail_v = self
            .board
            .as_ref()
            .map_or(f64::NAN, |b| b.rail(f.board_peak_v));
        self.data.read(f, solution, &self.lowered);
        Ok(())
    }

    fn collapse(&mut self, error: &SolveError) {
        let f = &mut self.figures;
        let name = match error {
            SolveError::Collapse(c) => self
                .lowered
                .load_names
                .get(c.load)
                .cloned()
                .unwrap_or_default(),
            other => other.to_string(),
        };
        f.collapsed = Some(name);
        for v in [
            &mut f.cell_a,
            &mut f.cell_peak_a,
            &mut f.cell_v,
            &mut f.cell_peak_v,
            &mut f.board_v,
            &mut f.board_peak_v,
            &mut f.rail_v,
        ] {
            *v = f64::NAN;
        }
        for list in [&mut f.branch_a, &mut f.branch_peak_a, &mut f.branch_rms_a] {
            list.fill(f64::NAN);
        }
        for strip in &mut f.strips {
            strip.supply_min_v = f64::NAN;
            strip.rail_peak_a = f64::NAN;
        }
    }
}

fn strip_of(prop: &Prop, part: usize) -> Option<&Strip> {
    match prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(s)) => Some(s),
        _ => None,
    }
}

fn empty_figures(circuit: &Circuit) -> Figures {
    let moment = Moment {
        frame: 0,
        time_s: 0.0,
        state: None,
        layers: Default::default(),
        cue: None,
        new_cues: 0,
    };
    let branches = circuit.branches.len();
    Figures {
        moment,
        period_s: 0.0,
        collapsed: None,
        cell_a: f64::NAN,
        cell_peak_a: f64::NAN,
        cell_aligned_a: f64::NAN,
        cell_v: f64::NAN,
        cell_peak_v: f64::NAN,
        soc: circuit.condition.soc,
        cell_temperature_k: circuit.condition.temperature_k,
        board_v: f64::NAN,
        board_peak_v: f64::NAN,
        rail_v: f64::NAN,
        sound: 0.0,
        strips: vec![StripFigures::default(); circuit.strips.len()],
        branch_a: vec![f64::NAN; branches],
        branch_peak_a: vec![f64::NAN; branches],
        branch_rms_a: vec![f64::NAN; branches],
        data: vec![None; circuit.strips.len()],
        light: Light::default(),
    }
}

fn board_state(board: &Board, corner: Corner) -> Result<BoardState, NetworkError> {
    let rail_a = board.logic.at(corner) + board.card.as_ref().map_or(0.0, |c| c.at(corner));
    let r = &board.regulator;
    let own_a = r.quiescent.at(corner);
    let (xs, ys): (Vec<f64>, Vec<f64>) = r.dropout.iter().copied().unzip();
    let dropout_v = if xs.is_empty() {
        Table1::constant(0.0)
    } else {
        Table1::new("dropout", &xs, &ys, Interpolation::Linear)?
    };
    use crate::build::parts::RegulatorKind::{Direct, Linear, Switching};
    let (regulator, logic_amount) = match r.kind {
        Direct => (None, rail_a + own_a),
        Linear => (
            Some(Regulator::Linear {
                output_v: r.output.si(),
                dropout_v,
                own_a,
            }),
            rail_a + own_a,
        ),
        Switching => {
            let efficiency = match corner {
                Corner::High => r.efficiency.low_si(),
                _ => r.efficiency.si(),
            };
            let min_input_v = r
                .input_min
                .as_ref()
                .map_or(super::lower::POWER_LOAD_MIN_V, |v| v.si());
            let regulator = Regulator::Switching {
                output_v: r.output.si(),
                min_input_v,
                efficiency: Table1::constant(efficiency),
                own_a,
            };
            (
                Some(regulator),
                r.output.si() * rail_a / efficiency + r.output.si() * own_a,
            )
        }
    };
    let amplifier = board.amplifier.as_ref().map(|a| {
        let efficiency = if corner == Corner::High {
            a.efficiency.low_si()
        } else {
            a.efficiency.si()
        };
        // The idle current is stated at about the nominal voltage of a lithium cell.
        (a.power.at(corner) / efficiency, a.idle.at(corner) * 3.7)
    });
    Ok(BoardState {
        regulator,
        rail_a,
        logic_amount,
        amplifier,
    })
}

impl BoardState {
    fn rail(&self, input_v: f64) -> f64 {
        match &self.regulator {
            None => input_v,
            Some(_) if input_v.is_nan() => f64::NAN,
            Some(r) => r.at(input_v, self.rail_a).output_v,
        }
    }
}

/// Factor on the set currents that brings a strip from its average to its coincidence peak.
fn peak_scale(s: &StripFigures, law: &PixelLaw, levels: usize) -> f64 {
    use crate::electrical::PixelLaw as _;
    let dark = law.dark_a() * (levels / law.channels()) as f64;
    let set = s.average_a - dark;
    if set > 0.0 {
        (s.peak_a - dark) / set
    } else {
        1.0
    }
}

fn read_average(f: &mut Figures, solution: &Solution, lowered: &Lowered) {
    f.cell_a = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_a(*id));
    f.cell_v = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_terminal_v(*id));
    f.board_v = lowered
        .board_nodes
        .map_or(f64::NAN, |(p, m)| solution.node_v(p) - solution.node_v(m));
    // Current that flows although no strip asks for it: board and sound. It has no pulses.
    let asked: f64 = f.strips.iter().map(|s| s.average_a).sum();
    let aligned: f64 = f.strips.iter().map(|s| s.aligned_a).sum();
    let delivered: f64 = lowered
        .strips
        .iter()
        .map(|id| solution.strip(*id).total_a)
        .sum();
    f.cell_aligned_a = f.cell_a - delivered + aligned.max(asked);
    for (slot, id) in f.branch_a.iter_mut().zip(&lowered.branches) {
        *slot = solution.branch_a(*id);
    }
    for (slot, id) in f.strips.iter_mut().zip(&lowered.strips) {
        slot.average_a = slot.average_a.max(0.0);
        slot.delivered_a = solution.strip(*id).total_a;
    }
}

fn read_peak(
    f: &mut Figures,
    solution: &Solution,
    lowered: &Lowered,
    z: f64,
    rails: &mut RailSolution,
) {
    f.cell_peak_a = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_a(*id));
    f.cell_peak_v = lowered
        .sources
        .first()
        .map_or(f64::NAN, |id| solution.source_terminal_v(*id));
    f.board_peak_v = lowered
        .board_nodes
        .map_or(f64::NAN, |(p, m)| solution.node_v(p) - solution.node_v(m));
    for (i, id) in lowered.branches.iter().enumerate() {
        let peak = solution.branch_a(*id);
        let mean = f.branch_a.get(i).copied().unwrap_or(f64::NAN);
        // The peak lies z standard deviations above the mean; heat goes with mean² + variance.
        let sigma = (peak - mean) / z;
        if let (Some(p), Some(r)) = (f.branch_peak_a.get_mut(i), f.branch_rms_a.get_mut(i)) {
            *p = peak;
            *r = mean.hypot(sigma);
        }
    }
    for (slot, id) in f.strips.iter_mut().zip(&lowered.strips) {
        let strip = solution.strip(*id);
        slot.supply_min_v = strip.min_supply_v;
        slot.supply_min_pixel = u32::try_from(strip.min_supply_pixel).unwrap_or(u32::MAX);
        strip.rails(rails);
        let largest = |list: &[f64]| list.iter().fold(0.0, |m: f64, a| m.max(a.abs()));
        slot.rail_peak_a = largest(&rails.pos_a).max(largest(&rails.neg_a));
    }
}

/// Sums of light over all pixels.
#[derive(Default)]
struct LightSum {
    sums: [u64; 4],
    pixels: u64,
}

impl LightSum {
    fn finish(self) -> Light {
        if self.pixels == 0 {
            return Light::default();
        }
        let full = self.pixels as f64 * 255.0;
        let [r, g, b, w] = self.sums.map(|s| s as f64 / full);
        let rgb = [(r + w).min(1.0), (g + w).min(1.0), (b + w).min(1.0)];
        // Relative luminance of linear sRGB, WCAG 2.2 / IEC 61966-2-1.
        Light {
            rgb,
            luminance: 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2],
        }
    }
}

/// Copies a strip's part of the frame, leaving out the white channel where its pixels have none; gives
/// the channels that are lit anywhere.
fn take_levels(
    frame: &[u8],
    frame_channels: usize,
    channels: usize,
    out: &mut [u8],
    light: &mut LightSum,
) -> u8 {
    let mut any = [0u8; 4];
    for (to, from) in out
        .chunks_exact_mut(channels)
        .zip(frame.chunks_exact(frame_channels))
    {
        for (c, (slot, level)) in to.iter_mut().zip(from).enumerate() {
            *slot = *level;
            any[c & 3] |= *level;
            light.sums[c & 3] += u64::from(*level);
        }
        light.pixels += 1;
    }
    any.iter()
        .enumerate()
        .fold(0, |bits, (c, level)| bits | (u8::from(*level > 0) << c))
}
