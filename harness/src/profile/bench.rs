//! A prop on the bench: one circuit under one condition, fed frame by frame.

use super::board::{board_state, BoardState};
use super::bulk::{longest_period_s, Bulk};
use super::cell::cell_model;
use super::circuit::{Circuit, Subject};
use super::condition::Condition;
use super::data::DataInputs;
use super::figures::{Figures, Light, Moment, StripFigures, SupplyAlong};
use super::light::{take_levels, LightSum};
use super::lower::{lower, pixel_law, Lowered};
use super::reading::{peak_scale, read_average, read_peak};
use crate::build::parts::Strip;
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Corner;
use crate::electrical::pwm::normal_quantile;
use crate::electrical::solution::RailSolution;
use crate::electrical::{
    CellModel, CellState, Drive, NetworkError, PixelType as PixelLaw, PwmFigures, Solution,
    SolveError, Solver, SourceDrive, StripDrive, DEFAULT_PEAK_QUANTILE,
};

/// How often the capacitors' share of a peak is found anew before it is taken as it is.
const MOST_TRIES: u32 = 6;

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
    bulk: Bulk,
    /// Longest PWM period of any strip, seconds.
    dip_s: f64,
    z: f64,
    figures: Figures,
    /// Drive levels of each strip with the channels that its pixels have.
    levels: Vec<Vec<u8>>,
    sources: Vec<SourceDrive>,
    loads: Vec<f64>,
    rails: RailSolution,
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
        let dip_s = longest_period_s(prop, &lowered.circuit);
        let mut peak = Solver::new(&lowered.network)?;
        let at_start = source_drives(&cells, &lowered);
        // A prop that cannot be solved dark cannot be solved lit: the frames will say so.
        let bulk = Bulk::new(prop, &lowered, &mut peak, &at_start).unwrap_or_default();
        Ok(Self {
            average: Solver::new(&lowered.network)?,
            peak,
            levels: strips
                .iter()
                .map(|s| vec![0; s.pixels as usize * s.channels()])
                .collect(),
            // The cells' EMF is set frame by frame, that of a diode stays.
            sources: at_start,
            loads: vec![0.0; lowered.load_names.len()],
            board: board.map(|b| board_state(b, corner)).transpose()?,
            dip_s,
            z: normal_quantile(DEFAULT_PEAK_QUANTILE),
            frame_channels: prop.frame_channels(),
            rails: RailSolution::default(),
            prop,
            cells,
            laws,
            data,
            bulk,
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
        self.figures.cell_heat_w = self
            .cells
            .first()
            .map_or(f64::NAN, |(m, s)| m.heat_w(s, self.figures.cell_rms_a));
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
            let pwm = PwmFigures::of_levels_in_phase(law, out);
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
        self.bulk
            .deliver(&self.lowered, std::iter::empty(), &mut self.loads);
        if let Some(board) = &self.board {
            board.amounts(sound, &mut self.loads);
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
        let mut tries = 0;
        let solution = loop {
            let helps = self.bulk.helps();
            let mut asked_a = 0.0;
            if helps {
                let swings = swings(f, &self.lowered, (tries > 0).then(|| self.peak.solution()));
                self.bulk.deliver(&self.lowered, swings, &mut self.loads);
                asked_a = delivered_a(&self.lowered, &self.loads);
            }
            self.peak.solve(&Drive {
                strips: &peaks,
                loads: &self.loads,
                sources: &self.sources,
            })?;
            // A starved strip swings by less than its drive asks for, and a capacitor delivers no more than its
            // share of what swings.
            tries += 1;
            let real = swings(f, &self.lowered, Some(self.peak.solution()));
            if !helps || tries > MOST_TRIES || !self.bulk.exceeds(asked_a, real) {
                break self.peak.solution();
            }
        };
        read_peak(f, solution, &self.lowered, self.z, &mut self.rails);
        f.rail_v = self.board.as_ref().map_or(f64::NAN, |b| {
            b.rail_in_dip(f.board_v, f.board_peak_v, self.dip_s)
        });
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
            &mut f.cell_rms_a,
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

/// EMF and resistance of each cell as it is, then the voltages of the diodes.
fn source_drives(cells: &[(CellModel, CellState)], lowered: &Lowered) -> Vec<SourceDrive> {
    let cells = cells.iter().map(|(model, state)| {
        let (emf_v, ohm) = model.thevenin(state);
        SourceDrive { emf_v, ohm }
    });
    let drops = lowered.drops.iter();
    let drops = drops.map(|emf_v| SourceDrive {
        emf_v: *emf_v,
        ohm: 0.0,
    });
    cells.chain(drops).collect()
}

/// By how much each strip's peak lies above its average, amperes: as solved, or as its drive asks for in the share
/// that it gets on average.
fn swings<'s>(
    f: &'s Figures,
    lowered: &'s Lowered,
    solved: Option<&'s Solution>,
) -> impl Iterator<Item = f64> + 's {
    f.strips.iter().zip(&lowered.strips).map(move |(s, id)| {
        let swing_a = match solved {
            Some(solution) => solution.strip(*id).total_a - s.delivered_a,
            None if s.average_a > 0.0 => {
                (s.peak_a - s.average_a) * (s.delivered_a / s.average_a).min(1.0)
            }
            None => 0.0,
        };
        swing_a.max(0.0)
    })
}

fn delivered_a(lowered: &Lowered, loads: &[f64]) -> f64 {
    let amounts = lowered.capacitors.iter();
    amounts.filter_map(|c| loads.get(c.load.index())).sum()
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
        cell_rms_a: f64::NAN,
        cell_aligned_a: f64::NAN,
        cell_heat_w: f64::NAN,
        cell_v: f64::NAN,
        cell_peak_v: f64::NAN,
        soc: circuit.condition.soc,
        cell_temperature_k: circuit.condition.temperature_k,
        board_v: f64::NAN,
        board_peak_v: f64::NAN,
        rail_v: f64::NAN,
        sound: 0.0,
        strips: vec![StripFigures::default(); circuit.strips.len()],
        along: (circuit.strips.iter())
            .map(|s| SupplyAlong::new(s.pixels as usize))
            .collect(),
        branch_a: vec![f64::NAN; branches],
        branch_peak_a: vec![f64::NAN; branches],
        branch_rms_a: vec![f64::NAN; branches],
        data: vec![None; circuit.strips.len()],
        light: Light::default(),
    }
}
