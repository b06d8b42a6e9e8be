//! A prop on the bench: one circuit under one condition, fed frame by frame.

use super::batch::{Batch, Slot};
use super::board::{board_state, BoardState};
use super::bulk::{longest_period_s, Bulk};
use super::cell::cell_model;
use super::circuit::{Circuit, Subject};
use super::condition::Condition;
use super::data::DataInputs;
use super::figures::{Figures, Light, Moment, StripFigures, SupplyAlong};
use super::laws::pixel_law;
use super::light::{take_levels, LightSum};
use super::lower::{lower, Lowered};
use super::reading::{peak_scale, read_average, read_peak};
use crate::build::parts::Strip;
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Corner;
use crate::electrical::hull::dimmed_peak_a;
use crate::electrical::pwm::normal_quantile;
use crate::electrical::{
    CellModel, CellState, Drive, LaneSolver, LevelSums, NetworkError, PixelType as PixelLaw,
    PwmFigures, Reading, Solution, SolveError, Solver, SourceDrive, StripDrive,
    DEFAULT_PEAK_QUANTILE,
};

/// How often the capacitors' share of a peak is found anew before it is taken as it is.
pub(super) const MOST_TRIES: u32 = 6;

/// One prop under one condition. Frames go in by [`step`](Self::step), figures come out.
pub struct Bench<'a> {
    prop: &'a Prop,
    pub(super) set: Setting,
    pub(super) average: Solver,
    pub(super) peak: Solver,
    pub(super) cells: Vec<(CellModel, CellState)>,
    pub(super) batch: Batch,
    pub(super) figures: Figures,
    /// Drive levels of each strip with the channels that its pixels have.
    levels: Vec<Vec<u8>>,
    sources: Vec<SourceDrive>,
    loads: Vec<f64>,
}

/// What stays the same from frame to frame.
pub(super) struct Setting {
    pub(super) lowered: Lowered,
    pub(super) laws: Vec<PixelLaw>,
    pub(super) frame_channels: usize,
    pub(super) board: Option<BoardState>,
    pub(super) data: DataInputs,
    pub(super) bulk: Bulk,
    /// Longest PWM period of any strip, seconds.
    dip_s: f64,
    pub(super) z: f64,
    /// Whether each strip's peak is the largest of this and every dimmer setting.
    pub(super) hull: bool,
}

impl std::fmt::Debug for Bench<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Bench")
            .field("prop", &self.prop.name)
            .field("condition", &self.set.lowered.circuit.condition)
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
        let solver = Solver::new(&lowered.network)?;
        let mut peak = solver.clone();
        let sources = source_drives(&cells, &lowered);
        // A prop that cannot be solved dark cannot be solved lit: the frames will say so.
        let bulk = Bulk::new(prop, &lowered, &mut peak, &sources).unwrap_or_default();
        let levels: Vec<Vec<u8>> = strips
            .iter()
            .map(|s| vec![0; s.pixels as usize * s.channels()])
            .collect();
        let loads = vec![0.0; lowered.load_names.len()];
        let lanes = LaneSolver::like(&lowered.network, solver.clone());
        let slot = Slot::new(&figures, &levels, &loads, &sources);
        Ok(Self {
            batch: Batch::new(lanes, slot, cells.len()),
            peak,
            average: solver,
            set: Setting {
                board: board.map(|b| board_state(b, corner)).transpose()?,
                z: normal_quantile(DEFAULT_PEAK_QUANTILE),
                frame_channels: prop.frame_channels(),
                laws,
                data,
                bulk,
                dip_s,
                hull: false,
                lowered,
            },
            levels,
            sources,
            loads,
            prop,
            cells,
            figures,
        })
    }

    /// The same with each strip's peak at the largest of this and every dimmer setting
    /// ([`crate::electrical::hull`]): what it draws bounds what frames that are these ones dimmed draw.
    #[must_use]
    pub fn at_hull(mut self) -> Self {
        self.set.hull = true;
        self
    }

    /// The circuit, for checks and reports.
    pub fn circuit(&self) -> &Circuit {
        &self.set.lowered.circuit
    }

    /// The prop and the circuit together.
    pub fn subject(&self) -> Subject<'_> {
        Subject {
            prop: self.prop,
            circuit: &self.set.lowered.circuit,
        }
    }

    /// State of charge and so on of the first cell.
    pub fn cell_state(&self) -> Option<CellState> {
        self.cells.first().map(|(_, s)| *s)
    }

    /// The solution of the last frame that was played by itself, at its average currents.
    pub fn solution(&self) -> &Solution {
        self.average.solution()
    }

    /// Plays one frame by itself: solves it at its average and at its coincidence peak, then moves the cell on by
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
                self.set
                    .lowered
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
            .zip(&self.set.lowered.circuit.strips)
            .zip(self.set.laws.iter().zip(&mut f.strips))
        {
            let first = info.first as usize * self.set.frame_channels;
            let frame = levels.get(first..).unwrap_or_default();
            take_levels(frame, self.set.frame_channels, info.channels, out);
            let sums = PwmFigures::sums(law, out);
            let pixels = info.pixels as usize;
            figures.lit = light.add(&sums, pixels);
            self.set.take_currents(figures, law, pixels, &sums);
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
        self.set
            .bulk
            .deliver(&self.set.lowered, std::iter::empty(), &mut self.loads);
        if let Some(board) = &self.set.board {
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
        read_average(f, solution, &self.set.lowered);
        // Each strip at its own coincidence peak at once: exact for one strip, an upper bound in shared leads.
        let peaks: Vec<StripDrive<'_>> = self
            .levels
            .iter()
            .zip(f.strips.iter().zip(&self.set.laws))
            .map(|(levels, (s, law))| StripDrive::ScaledLevels {
                levels,
                scale: peak_scale(s, law, levels.len()),
            })
            .collect();
        self.set
            .solve_peak(f, &mut self.peak, &peaks, &mut self.loads, &self.sources)?;
        self.set.read_peak(f, self.peak.solution());
        Ok(())
    }

    fn collapse(&mut self, error: &SolveError) {
        let f = &mut self.figures;
        let name = match error {
            SolveError::Collapse(c) => self
                .set
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
        f.cell_aligned_a = f64::NAN;
        f.data.fill(None);
        for strip in &mut f.strips {
            strip.delivered_a = f64::NAN;
            strip.supply_min_v = f64::NAN;
            strip.rail_peak_a = f64::NAN;
        }
    }
}

impl Setting {
    /// What a strip asks for at ample supply.
    pub(super) fn take_currents(
        &self,
        figures: &mut StripFigures,
        law: &PixelLaw,
        pixels: usize,
        sums: &LevelSums,
    ) {
        let pwm = PwmFigures::of_sums_in_phase(law, pixels, sums);
        figures.average_a = pwm.mean_a;
        figures.peak_a = if self.hull {
            dimmed_peak_a(law, pixels, sums, self.z)
        } else {
            pwm.peak_at(self.z)
        };
        figures.aligned_a = pwm.aligned_a;
    }

    /// Solves a frame at its coincidence peak, with what the capacitors deliver then.
    pub(super) fn solve_peak(
        &self,
        f: &Figures,
        solver: &mut Solver,
        strips: &[StripDrive<'_>],
        loads: &mut [f64],
        sources: &[SourceDrive],
    ) -> Result<(), SolveError> {
        let mut tries = 0;
        loop {
            let helps = self.bulk.helps();
            let mut asked_a = 0.0;
            if helps {
                asked_a = self.deliver(f, (tries > 0).then(|| solver.solution()), loads);
            }
            solver.solve(&Drive {
                strips,
                loads,
                sources,
            })?;
            tries += 1;
            if !helps || tries > MOST_TRIES || !self.exceeds(asked_a, f, solver.solution()) {
                return Ok(());
            }
        }
    }

    /// Writes to the loads what the capacitors deliver, and gives the sum, amperes.
    pub(super) fn deliver(
        &self,
        f: &Figures,
        solved: Option<&impl Reading>,
        loads: &mut [f64],
    ) -> f64 {
        let swings = swings(f, &self.lowered, solved);
        self.bulk.deliver(&self.lowered, swings, loads);
        let capacitors = self.lowered.capacitors.iter();
        capacitors.filter_map(|c| loads.get(c.load.index())).sum()
    }

    /// A starved strip swings by less than its drive asks for, and a capacitor delivers no more than its share of
    /// what swings.
    pub(super) fn exceeds(&self, asked_a: f64, f: &Figures, solved: &impl Reading) -> bool {
        let real = swings(f, &self.lowered, Some(solved));
        self.bulk.exceeds(asked_a, real)
    }

    /// Everything that is read at the coincidence peak.
    pub(super) fn read_peak(&self, f: &mut Figures, solution: &impl Reading) {
        read_peak(f, solution, &self.lowered, self.z);
        f.rail_v = self.board.as_ref().map_or(f64::NAN, |b| {
            b.rail_in_dip(f.board_v, f.board_peak_v, self.dip_s)
        });
        self.data.read(f, solution, &self.lowered);
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
    solved: Option<&'s impl Reading>,
) -> impl Iterator<Item = f64> + 's {
    f.strips.iter().zip(&lowered.strips).map(move |(s, id)| {
        let swing_a = match solved {
            Some(solution) => solution.strip_total_a(*id) - s.delivered_a,
            None if s.average_a > 0.0 => {
                (s.peak_a - s.average_a) * (s.delivered_a / s.average_a).min(1.0)
            }
            None => 0.0,
        };
        swing_a.max(0.0)
    })
}

fn strip_of(prop: &Prop, part: usize) -> Option<&Strip> {
    match prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(s)) => Some(s),
        _ => None,
    }
}

fn empty_figures(circuit: &Circuit) -> Figures {
    let moment = Moment::at(0, 0.0);
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
